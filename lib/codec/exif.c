#include "codec/exif.h"

#include "codec/ifd.h"
#include "frame/keys.h"

#include <stdlib.h>
#include <string.h>

/* The first directory of a block, entries only. */
static int block_main(const unsigned char *block, size_t size, struct carn_ifd_form *form,
                      struct carn_ifd *ifd, struct carn_error *err)
{
    static const struct carn_ifd_want entries = {.in_place = true};
    struct carn_ifd_in in = {.from = {.memory = block, .size = size}};
    *ifd = (struct carn_ifd){0};
    if (carn_ifd_form(&in.from, form, err) != 0)
        return -1;
    in.form = *form;
    if (form->wide)
        return carn_fail(err, CARN_INPUT, "an Exif block in BigTIFF form");
    return carn_ifd_read(&in, form->first, &entries, ifd, err);
}

bool carn_exif_big_endian(const unsigned char *block)
{
    return block[0] == 'M';
}

/* A RATIONAL of a directory that was read as it stands; 0 when there is none. */
static double rational(const unsigned char *block, size_t size, const struct carn_ifd_form *form,
                       const struct carn_ifd *ifd, unsigned tag)
{
    const struct carn_field *field = carn_ifd_find(ifd, tag);
    uint64_t at = field != NULL ? carn_ifd_number(field->place, 4, form->big) : size;
    if (field == NULL || field->type != CARN_FIELD_RATIONAL || field->count < 1 || size < 8 ||
        at > size - 8)
        return 0;
    uint64_t below = carn_ifd_number(block + at + 4, 4, form->big);
    return below == 0 ? 0 : (double)carn_ifd_number(block + at, 4, form->big) / (double)below;
}

static void look(const unsigned char *block, size_t size, const struct carn_ifd_form *form,
                 const struct carn_ifd *main, struct carn_exif_says *says)
{
    const struct carn_field *orientation = carn_ifd_find(main, CARN_TAG_ORIENTATION);
    const struct carn_field *unit = carn_ifd_find(main, CARN_TAG_RESOLUTION_UNIT);
    uint64_t way = orientation != NULL ? carn_field_number(orientation, form->big) : 0;
    uint64_t code = unit != NULL ? carn_field_number(unit, form->big) : 2;
    *says = (struct carn_exif_says){
        .orientation = way <= 8 ? (unsigned)way : 0,
        .resolution = {.x = rational(block, size, form, main, CARN_TAG_X_RESOLUTION),
                       .y = rational(block, size, form, main, CARN_TAG_Y_RESOLUTION),
                       .unit = code == 3   ? CARN_UNIT_CM
                               : code == 2 ? CARN_UNIT_INCH
                                           : CARN_UNIT_NONE},
    };
    if (!(says->resolution.x > 0 && says->resolution.y > 0))
        says->resolution = (struct carn_resolution){0};
}

/* Where a directory's count of entries and its pointer to the next one stand in a block. */
static size_t next_pointer(const unsigned char *block, const struct carn_ifd_form *form)
{
    size_t count = (size_t)carn_ifd_number(block + form->first, 2, form->big);
    return (size_t)form->first + 2 + 12 * count;
}

/* Takes the thumbnail out of the directory at next. A directory that cannot be read is left as it
 * is: no reader finds a thumbnail there. */
static int drop_thumbnail(unsigned char *block, size_t *size, const struct carn_ifd_form *form,
                          uint64_t next, struct carn_error *err)
{
    struct carn_error cause = {0};
    struct carn_ifd small = {0};
    static const struct carn_ifd_want entries = {.in_place = true};
    struct carn_ifd_in in = {.from = {.memory = block, .size = *size}, .form = *form};
    if (next == 0)
        return 0;
    if (carn_ifd_read(&in, next, &entries, &small, &cause) == 0) {
        const struct carn_field *at = carn_ifd_find(&small, CARN_TAG_THUMBNAIL);
        const struct carn_field *length = carn_ifd_find(&small, CARN_TAG_THUMBNAIL_SIZE);
        uint64_t start = at != NULL ? carn_field_number(at, form->big) : *size;
        uint64_t count = length != NULL ? carn_field_number(length, form->big) : 0;
        /* Only behind its own directory, where writers put it, so that no other value is lost. */
        if (start > next && start < *size && count <= *size - start) {
            memset(block + start, 0, (size_t)count);
            if (start + count + 2 > *size)
                *size = (size_t)start;
        }
    }
    carn_ifd_clear(&small);
    if (carn_is_machine(&cause))
        return carn_fail_from(err, &cause, NULL);
    carn_ifd_put(block + next_pointer(block, form), 0, 4, form->big);
    return 0;
}

int carn_exif_take(unsigned char *block, size_t *size, struct carn_exif_says *says,
                   struct carn_error *err)
{
    struct carn_error cause = {0};
    struct carn_ifd_form form;
    struct carn_ifd main;
    *says = (struct carn_exif_says){0};
    bool sound = block_main(block, *size, &form, &main, &cause) == 0;
    if (sound)
        look(block, *size, &form, &main, says);
    uint64_t next = sound ? main.next : 0;
    carn_ifd_clear(&main);
    if (!sound)
        return carn_is_machine(&cause) ? carn_fail_from(err, &cause, NULL) : 0;
    if (carn_exif_oprgb(block, *size, &says->oprgb, err) != 0)
        return -1;
    return drop_thumbnail(block, size, &form, next, err) == 0 ? 1 : -1;
}

/* Adds the orientation to main, appends main as the first directory, and clears it. The bytes of
 * out, or NULL with a message. */
static unsigned char *end_block(struct carn_ifd_out *out, struct carn_ifd *main,
                                unsigned orientation, size_t *size, struct carn_error *err)
{
    unsigned char value[2];
    uint64_t at = 0;
    carn_ifd_put(value, orientation, 2, out->form.big);
    int result =
        carn_ifd_add(main, CARN_TAG_ORIENTATION, CARN_FIELD_SHORT, 1, value, sizeof value, err);
    if (result == 0)
        result = carn_ifd_write(out, main, &at, err);
    carn_ifd_clear(main);
    if (result != 0) {
        free(out->bytes);
        return NULL;
    }
    carn_ifd_put(out->bytes + 4, at, 4, out->form.big);
    *size = out->size;
    return out->bytes;
}

/* A block of nothing but an orientation. */
static unsigned char *orientation_block(unsigned orientation, size_t *size, struct carn_error *err)
{
    struct carn_ifd main = {0};
    struct carn_ifd_out out = {0};
    if (carn_ifd_append(&out, "II*\0\0\0\0", 8, err) != 0)
        return NULL;
    return end_block(&out, &main, orientation, size, err);
}

/* A new first directory at the end of the block, with an orientation among the entries: everything
 * else keeps its place. Takes over block. */
static unsigned char *insert_orientation(unsigned char *block, size_t *size, unsigned orientation,
                                         struct carn_error *err)
{
    struct carn_ifd_out out = {.bytes = block, .size = *size, .room = *size};
    struct carn_ifd main;
    if (block_main(block, *size, &out.form, &main, err) != 0) {
        carn_ifd_clear(&main);
        free(block);
        return NULL;
    }
    return end_block(&out, &main, orientation, size, err);
}

/* Replaces the block's orientation in place; false when it has none of the usual form. */
static bool replace_orientation(unsigned char *block, const struct carn_ifd_form *form,
                                unsigned orientation)
{
    size_t end = next_pointer(block, form);
    for (size_t at = (size_t)form->first + 2; at < end; at += 12)
        if (carn_ifd_number(block + at, 2, form->big) == CARN_TAG_ORIENTATION &&
            carn_ifd_number(block + at + 2, 2, form->big) == CARN_FIELD_SHORT) {
            carn_ifd_put(block + at + 8, orientation, 2, form->big);
            return true;
        }
    return false;
}

unsigned char *carn_exif_of_sink(struct carn_sink *sink, size_t *size, struct carn_error *err)
{
    unsigned orientation = carn_frame_orientation(sink->frame);
    unsigned char *block = carn_sink_blob(sink, "exif", size, err);
    struct carn_error broken = {0};
    struct carn_ifd_form form;
    struct carn_ifd main;
    if (block != NULL && block_main(block, *size, &form, &main, &broken) != 0) {
        if (carn_is_machine(&broken))
            carn_fail_from(err, &broken, NULL);
        carn_note(&sink->notes, "exif", "%s: the frame's Exif is damaged (%s), it is left out",
                  sink->label, broken.text);
        free(block);
        block = NULL;
    } else if (block != NULL) {
        carn_ifd_clear(&main);
    }
    if (block == NULL)
        return err->kind == CARN_NONE && orientation != 1
                   ? orientation_block(orientation, size, err)
                   : NULL;
    if (replace_orientation(block, &form, orientation) || orientation == 1)
        return block;
    return insert_orientation(block, size, orientation, err);
}
