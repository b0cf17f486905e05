#include "exif.h"

#include "ifd.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* Tags this file has to know by number (TIFF 6.0, CIPA DC-008). */
enum {
    ORIENTATION = 274,
    X_RESOLUTION = 282,
    Y_RESOLUTION = 283,
    RESOLUTION_UNIT = 296,
    THUMBNAIL = 513,
    THUMBNAIL_SIZE = 514,
    IPTC = 33723,
    EXIF_IFD = 34665,
    GPS_IFD = 34853,
    INTEROP_IFD = 40965
};
enum { SHORT = 3, LONG = 4, RATIONAL = 5, UNDEFINED = 7, LONG8 = 16 };

/* The directories that make up an Exif block. */
struct tree {
    struct carn_ifd main, exif, gps, interop;
};

/* Tags that lay out a file's own pixels, are carried by keys of their own, or point elsewhere in
 * the file: they must not move to another file. */
static bool is_layout(unsigned tag)
{
    static const uint16_t tags[] = {
        254,   255,   256,   257,   258,   259,   262,   263,   264,   265,  266, 273, 277,
        278,   279,   280,   281,   284,   288,   289,   290,   291,   292,  293, 301, 317,
        318,   319,   320,   321,   322,   323,   324,   325,   330,   332,  333, 334, 336,
        337,   338,   339,   340,   341,   342,   343,   344,   345,   346,  347, 512, 513,
        514,   515,   517,   518,   519,   520,   521,   529,   530,   531,  532, 559, 700,
        32997, 32998, 33723, 34377, 34675, 34665, 34853, 37724, 40965, 50784};
    for (size_t i = 0; i < sizeof tags / sizeof tags[0]; i++)
        if (tags[i] == tag)
            return true;
    /* The colour layout of digital negatives, which is about pixels that are not carried. */
    return tag >= 50706 && tag <= 51200;
}

static bool keep_from_main(unsigned tag, unsigned only)
{
    (void)only;
    return !is_layout(tag) || tag == EXIF_IFD || tag == GPS_IFD;
}

static void tree_clear(struct tree *tree)
{
    carn_ifd_clear(&tree->main);
    carn_ifd_clear(&tree->exif);
    carn_ifd_clear(&tree->gps);
    carn_ifd_clear(&tree->interop);
}

/* Removes the pointer tag from ifd and reads where it points, if it is there. */
static int read_below(const struct carn_exif_bytes *from, const struct carn_ifd_form *form,
                      struct carn_ifd *ifd, unsigned tag, uint64_t *budget, struct carn_ifd *below,
                      struct carn_error *err)
{
    struct carn_field *pointer = carn_ifd_find(ifd, tag);
    if (pointer == NULL)
        return 0;
    uint64_t offset = carn_field_number(pointer, form->big);
    free(pointer->data);
    size_t after = (size_t)(ifd->fields + ifd->count - (pointer + 1));
    memmove(pointer, pointer + 1, after * sizeof *pointer);
    ifd->count--;
    return carn_ifd_read(from, form, offset, NULL, 0, false, budget, below, err);
}

static int tree_read(const struct carn_exif_bytes *from, const struct carn_ifd_form *form,
                     uint64_t offset, uint64_t budget, struct tree *tree, struct carn_error *err)
{
    *tree = (struct tree){0};
    int result =
        carn_ifd_read(from, form, offset, keep_from_main, 0, false, &budget, &tree->main, err);
    if (result == 0)
        result = read_below(from, form, &tree->main, EXIF_IFD, &budget, &tree->exif, err);
    if (result == 0)
        result = read_below(from, form, &tree->main, GPS_IFD, &budget, &tree->gps, err);
    if (result == 0)
        result = read_below(from, form, &tree->exif, INTEROP_IFD, &budget, &tree->interop, err);
    if (result != 0)
        tree_clear(tree);
    return result;
}

static int add_pointer(const struct carn_ifd_out *out, struct carn_ifd *ifd, unsigned tag,
                       const struct carn_ifd *below, struct carn_error *err)
{
    static const unsigned char nowhere[8];
    if (below->count == 0)
        return 0;
    return carn_ifd_add(ifd, tag, out->form.wide ? LONG8 : LONG, 1, nowhere, out->form.wide ? 8 : 4,
                        err);
}

static int write_below(struct carn_ifd_out *out, uint64_t above, unsigned tag,
                       struct carn_ifd *below, uint64_t *at, struct carn_error *err)
{
    if (below->count == 0)
        return 0;
    if (carn_ifd_write(out, below, at, err) != 0)
        return -1;
    carn_ifd_point(out, above, tag, *at);
    return 0;
}

/* Appends the tree; at is the offset of its first directory. */
static int tree_write(struct carn_ifd_out *out, struct tree *tree, uint64_t *at,
                      struct carn_error *err)
{
    uint64_t exif = 0;
    uint64_t other = 0;
    if (add_pointer(out, &tree->exif, INTEROP_IFD, &tree->interop, err) != 0 ||
        add_pointer(out, &tree->main, EXIF_IFD, &tree->exif, err) != 0 ||
        add_pointer(out, &tree->main, GPS_IFD, &tree->gps, err) != 0 ||
        carn_ifd_write(out, &tree->main, at, err) != 0 ||
        write_below(out, *at, EXIF_IFD, &tree->exif, &exif, err) != 0 ||
        write_below(out, *at, GPS_IFD, &tree->gps, &other, err) != 0)
        return -1;
    return tree->exif.count == 0 ? 0
                                 : write_below(out, exif, INTEROP_IFD, &tree->interop, &other, err);
}

/* The tree as a block of its own. */
static unsigned char *tree_block(struct tree *tree, bool big, size_t *size, struct carn_error *err)
{
    struct carn_ifd_out out = {.form = {.big = big}};
    uint64_t at;
    if (carn_ifd_append(&out, big ? "MM\0*\0\0\0" : "II*\0\0\0\0", 8, err) != 0 ||
        tree_write(&out, tree, &at, err) != 0) {
        free(out.bytes);
        return NULL;
    }
    carn_ifd_put(out.bytes + 4, at, 4, big);
    *size = out.size;
    return out.bytes;
}

/* The first directory of a block, entries only. */
static int block_main(const unsigned char *block, size_t size, struct carn_ifd_form *form,
                      struct carn_ifd *ifd, struct carn_error *err)
{
    struct carn_exif_bytes from = {.memory = block, .size = size};
    uint64_t budget = 0;
    *ifd = (struct carn_ifd){0};
    if (carn_ifd_form(&from, form, err) != 0)
        return -1;
    if (form->wide)
        return carn_fail(err, "an Exif block in BigTIFF form");
    return carn_ifd_read(&from, form, form->first, NULL, 0, true, &budget, ifd, err);
}

bool carn_exif_sound(const unsigned char *block, size_t size)
{
    struct carn_error unused = {0};
    struct carn_ifd_form form;
    struct carn_ifd ifd;
    bool sound = block_main(block, size, &form, &ifd, &unused) == 0;
    carn_ifd_clear(&ifd);
    return sound;
}

bool carn_exif_big_endian(const unsigned char *block)
{
    return block[0] == 'M';
}

unsigned carn_exif_orientation(const unsigned char *block, size_t size)
{
    struct carn_error unused = {0};
    struct carn_ifd_form form;
    struct carn_ifd ifd;
    uint64_t value = 0;
    if (block_main(block, size, &form, &ifd, &unused) == 0) {
        const struct carn_field *field = carn_ifd_find(&ifd, ORIENTATION);
        value = field != NULL ? carn_field_number(field, form.big) : 0;
    }
    carn_ifd_clear(&ifd);
    return value <= 8 ? (unsigned)value : 0;
}

/* A RATIONAL of a directory that was read as it stands; 0 when there is none. */
static double rational(const unsigned char *block, size_t size, const struct carn_ifd_form *form,
                       const struct carn_ifd *ifd, unsigned tag)
{
    const struct carn_field *field = carn_ifd_find(ifd, tag);
    uint64_t at = field != NULL ? carn_ifd_number(field->place, 4, form->big) : size;
    if (field == NULL || field->type != RATIONAL || field->count < 1 || size < 8 || at > size - 8)
        return 0;
    uint64_t below = carn_ifd_number(block + at + 4, 4, form->big);
    return below == 0 ? 0 : (double)carn_ifd_number(block + at, 4, form->big) / (double)below;
}

bool carn_exif_resolution(const unsigned char *block, size_t size,
                          struct carn_resolution *resolution)
{
    struct carn_error unused = {0};
    struct carn_ifd_form form;
    struct carn_ifd ifd;
    if (block_main(block, size, &form, &ifd, &unused) == 0) {
        const struct carn_field *field = carn_ifd_find(&ifd, RESOLUTION_UNIT);
        uint64_t unit = field != NULL ? carn_field_number(field, form.big) : 2;
        resolution->x = rational(block, size, &form, &ifd, X_RESOLUTION);
        resolution->y = rational(block, size, &form, &ifd, Y_RESOLUTION);
        resolution->unit = unit == 3 ? CARN_UNIT_CM : unit == 2 ? CARN_UNIT_INCH : CARN_UNIT_NONE;
    } else {
        resolution->x = 0;
    }
    carn_ifd_clear(&ifd);
    return resolution->x > 0 && resolution->y > 0;
}

/* Where a directory's count of entries and its pointer to the next one stand in a block. */
static size_t next_pointer(const unsigned char *block, const struct carn_ifd_form *form)
{
    size_t count = (size_t)carn_ifd_number(block + form->first, 2, form->big);
    return (size_t)form->first + 2 + 12 * count;
}

size_t carn_exif_drop_thumbnail(unsigned char *block, size_t size)
{
    struct carn_error unused = {0};
    struct carn_ifd_form form;
    struct carn_ifd main;
    struct carn_ifd small = {0};
    struct carn_exif_bytes from = {.memory = block, .size = size};
    uint64_t budget = 0;
    if (block_main(block, size, &form, &main, &unused) != 0 || main.next == 0) {
        carn_ifd_clear(&main);
        return size;
    }
    if (carn_ifd_read(&from, &form, main.next, NULL, 0, true, &budget, &small, &unused) == 0) {
        const struct carn_field *at = carn_ifd_find(&small, THUMBNAIL);
        const struct carn_field *length = carn_ifd_find(&small, THUMBNAIL_SIZE);
        uint64_t start = at != NULL ? carn_field_number(at, form.big) : size;
        uint64_t count = length != NULL ? carn_field_number(length, form.big) : 0;
        /* Behind its own directory, where writers put it: never over other values. */
        if (start > main.next && start < size && count <= size - start) {
            memset(block + start, 0, (size_t)count);
            if (start + count + 2 > size)
                size = (size_t)start;
        }
    }
    carn_ifd_put(block + next_pointer(block, &form), 0, 4, form.big);
    carn_ifd_clear(&main);
    carn_ifd_clear(&small);
    return size;
}

/* A block of nothing but an orientation. */
static unsigned char *orientation_block(unsigned orientation, size_t *size, struct carn_error *err)
{
    unsigned char value[2] = {(unsigned char)orientation, 0};
    struct tree tree = {0};
    unsigned char *block = NULL;
    if (carn_ifd_add(&tree.main, ORIENTATION, SHORT, 1, value, sizeof value, err) == 0)
        block = tree_block(&tree, false, size, err);
    tree_clear(&tree);
    return block;
}

/* A new first directory at the end of the block, with an orientation among the entries: everything
 * else keeps its place. Takes over block. */
static unsigned char *insert_orientation(unsigned char *block, size_t *size, unsigned orientation,
                                         struct carn_error *err)
{
    struct carn_ifd_out out = {.bytes = block, .size = *size, .room = *size};
    struct carn_ifd main;
    unsigned char value[2];
    uint64_t at = 0;
    int result = block_main(block, *size, &out.form, &main, err);
    carn_ifd_put(value, orientation, 2, out.form.big);
    if (result == 0)
        result = carn_ifd_add(&main, ORIENTATION, SHORT, 1, value, sizeof value, err);
    if (result == 0)
        result = carn_ifd_write(&out, &main, &at, err);
    carn_ifd_clear(&main);
    if (result != 0) {
        free(out.bytes);
        return NULL;
    }
    carn_ifd_put(out.bytes + 4, at, 4, out.form.big);
    *size = out.size;
    return out.bytes;
}

/* Writes over the orientation that the block has; false when it has none of the usual form. */
static bool replace_orientation(unsigned char *block, const struct carn_ifd_form *form,
                                unsigned orientation)
{
    size_t end = next_pointer(block, form);
    for (size_t at = (size_t)form->first + 2; at < end; at += 12)
        if (carn_ifd_number(block + at, 2, form->big) == ORIENTATION &&
            carn_ifd_number(block + at + 2, 2, form->big) == SHORT) {
            carn_ifd_put(block + at + 8, orientation, 2, form->big);
            return true;
        }
    return false;
}

unsigned char *carn_exif_of_sink(struct carn_sink *sink, size_t *size, struct carn_error *err)
{
    unsigned orientation = carn_get_orientation(sink->frame);
    unsigned char *block = carn_frame_blob(sink->frame, "exif", size, err);
    struct carn_error broken = {0};
    struct carn_ifd_form form;
    struct carn_ifd main;
    if (block != NULL && block_main(block, *size, &form, &main, &broken) != 0) {
        carn_note(&sink->notes, "exif", "%s: the frame's Exif is damaged (%s), it is left out",
                  sink->label, broken.text);
        free(block);
        block = NULL;
    } else if (block != NULL) {
        carn_ifd_clear(&main);
    }
    if (block == NULL)
        return err->text[0] == '\0' && orientation != 1 ? orientation_block(orientation, size, err)
                                                        : NULL;
    if (replace_orientation(block, &form, orientation) || orientation == 1)
        return block;
    return insert_orientation(block, size, orientation, err);
}

/* A TIFF file's first directory always says more than Exif would: only what a camera or a person
 * put there makes a block. */
unsigned char *carn_exif_from_tiff(const struct carn_source *file, uint64_t offset, size_t *size,
                                   struct carn_error *err)
{
    struct carn_exif_bytes from = {.size = file->size, .file = file};
    struct carn_ifd_form form;
    struct tree tree = {0};
    unsigned char *block = NULL;
    if (carn_ifd_form(&from, &form, err) != 0 ||
        tree_read(&from, &form, offset, file->limits.metadata, &tree, err) != 0)
        return NULL;
    size_t plain = 0;
    for (size_t i = 0; i < tree.main.count; i++) {
        unsigned tag = tree.main.fields[i].tag;
        plain += tag == ORIENTATION || tag == X_RESOLUTION || tag == Y_RESOLUTION ||
                 tag == RESOLUTION_UNIT;
    }
    if (tree.main.count > plain || tree.exif.count > 0 || tree.gps.count > 0)
        block = tree_block(&tree, form.big, size, err);
    tree_clear(&tree);
    return block;
}

static bool keep_one(unsigned tag, unsigned only)
{
    return tag == only;
}

unsigned char *carn_exif_tiff_value(const struct carn_source *file, uint64_t offset, unsigned tag,
                                    size_t *size, struct carn_error *err)
{
    struct carn_exif_bytes from = {.size = file->size, .file = file};
    uint64_t budget = file->limits.metadata;
    struct carn_ifd_form form;
    struct carn_ifd ifd = {0};
    unsigned char *value = NULL;
    if (carn_ifd_form(&from, &form, err) == 0 &&
        carn_ifd_read(&from, &form, offset, keep_one, tag, false, &budget, &ifd, err) == 0 &&
        ifd.count > 0) {
        value = ifd.fields[0].data;
        *size = ifd.fields[0].size;
        ifd.fields[0].data = NULL;
    }
    carn_ifd_clear(&ifd);
    return value;
}

/* A RATIONAL of a TIFF file, without the float that libtiff would make of it; 0 for none. */
static double tiff_rational(const struct carn_source *file, uint64_t offset, unsigned tag)
{
    struct carn_error unused = {0};
    struct carn_exif_bytes from = {.size = file->size, .file = file};
    struct carn_ifd_form form;
    size_t size = 0;
    unsigned char *bytes = carn_exif_tiff_value(file, offset, tag, &size, &unused);
    double value = 0;
    if (bytes != NULL && size == 8 && carn_ifd_form(&from, &form, &unused) == 0) {
        uint64_t below = carn_ifd_number(bytes + 4, 4, form.big);
        value = below == 0 ? 0 : (double)carn_ifd_number(bytes, 4, form.big) / (double)below;
    }
    free(bytes);
    return value;
}

bool carn_exif_tiff_resolution(const struct carn_source *file, uint64_t offset,
                               struct carn_resolution *resolution)
{
    resolution->x = tiff_rational(file, offset, X_RESOLUTION);
    resolution->y = tiff_rational(file, offset, Y_RESOLUTION);
    return resolution->x > 0 && resolution->y > 0;
}

/* Moves the fields of from that a TIFF file may take over into the file's own directory. */
static int merge(struct carn_ifd *file, const struct carn_ifd *from, struct carn_error *err)
{
    for (size_t i = 0; i < from->count; i++) {
        const struct carn_field *field = &from->fields[i];
        if (carn_ifd_find(file, field->tag) != NULL || is_layout(field->tag))
            continue;
        if (carn_ifd_add(file, field->tag, field->type, field->count, field->data, field->size,
                         err) != 0)
            return -1;
    }
    return 0;
}

/* The tree of a block, its main directory replaced by the file's own with the block's beside it. */
static int join(const struct carn_exif_bytes *file, const struct carn_ifd_form *form,
                const unsigned char *block, size_t size, struct tree *tree, struct carn_error *err)
{
    struct carn_exif_bytes from = {.memory = block, .size = size};
    struct carn_ifd_form inner;
    struct carn_ifd own = {0};
    uint64_t none = 0;
    if (block != NULL && (carn_ifd_form(&from, &inner, err) != 0 ||
                          tree_read(&from, &inner, inner.first, size * 4, tree, err) != 0))
        return -1;
    int result = carn_ifd_read(file, form, form->first, NULL, 0, true, &none, &own, err);
    if (result == 0)
        result = merge(&own, &tree->main, err);
    carn_ifd_clear(&tree->main);
    tree->main = own;
    return result;
}

int carn_exif_into_tiff(int fd, const char *label, const unsigned char *block, size_t size,
                        const void *iptc, size_t iptc_size, struct carn_error *err)
{
    struct carn_source source = {.label = label, .fd = fd};
    struct carn_exif_bytes file = {.file = &source};
    struct carn_ifd_out out = {0};
    struct tree tree = {0};
    unsigned char pointer[8];
    uint64_t at = 0;
    off_t end = lseek(fd, 0, SEEK_END);
    if (end < 0)
        return carn_fail(err, "%s: cannot seek: %s", label, strerror(errno));
    file.size = out.base = source.size = (uint64_t)end;
    int result = carn_ifd_form(&file, &out.form, err);
    if (result == 0)
        result = join(&file, &out.form, block, size, &tree, err);
    if (result == 0 && iptc != NULL)
        result = carn_ifd_add(&tree.main, IPTC, UNDEFINED, iptc_size, iptc, iptc_size, err);
    if (result == 0)
        result = tree_write(&out, &tree, &at, err);
    if (result == 0)
        result = carn_write_all(fd, out.bytes, out.size, label, err);
    size_t word = out.form.wide ? 8 : 4;
    carn_ifd_put(pointer, at, word, out.form.big);
    if (result == 0 && pwrite(fd, pointer, word, (off_t)word) != (ssize_t)word)
        result = carn_fail(err, "%s: cannot write: %s", label, strerror(errno));
    tree_clear(&tree);
    free(out.bytes);
    return result;
}
