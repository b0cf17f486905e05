#include "codec/ifd.h"

#include <stdlib.h>
#include <string.h>

enum {
    TYPES = 19,
    FIELDS_MOST = 4096 /* of one directory: the fullest seen have 200, hostile ones 65,355 */
};

/* Bytes a value of each TIFF type; 0 for an unknown type. */
static const unsigned char type_size[TYPES] = {0, 1, 1, 2, 4, 8, 1, 1, 2, 4,
                                               8, 4, 8, 4, 0, 0, 8, 8, 8};

uint64_t carn_ifd_number(const unsigned char *p, size_t size, bool big)
{
    uint64_t v = 0;
    for (size_t i = 0; i < size; i++)
        v = v << 8 | p[big ? i : size - 1 - i];
    return v;
}

void carn_ifd_put(unsigned char *p, uint64_t v, size_t size, bool big)
{
    for (size_t i = 0; i < size; i++, v >>= 8)
        p[big ? size - 1 - i : i] = (unsigned char)v;
}

static int bytes_at(const struct carn_exif_bytes *from, uint64_t offset, void *to, size_t size,
                    struct carn_error *err)
{
    if (from->memory == NULL)
        return carn_source_at(from->file, offset, to, size, "a directory", err);
    if (offset > from->size || size > from->size - offset)
        return carn_fail(err, CARN_INPUT, "a directory or value lies outside its block");
    memcpy(to, from->memory + offset, size);
    return 0;
}

int carn_ifd_form(const struct carn_exif_bytes *from, struct carn_ifd_form *form,
                  struct carn_error *err)
{
    unsigned char head[16] = {0};
    if (bytes_at(from, 0, head, 8, err) != 0)
        return -1;
    form->big = head[0] == 'M';
    uint64_t version = carn_ifd_number(head + 2, 2, form->big);
    if (head[0] != head[1] || (head[0] != 'I' && head[0] != 'M') || version < 42 || version > 43)
        return carn_fail(err, CARN_INPUT, "no TIFF header");
    form->wide = version == 43;
    form->first = carn_ifd_number(head + 4, 4, form->big);
    if (form->wide) {
        if (bytes_at(from, 0, head, 16, err) != 0)
            return -1;
        form->first = carn_ifd_number(head + 8, 8, form->big);
    }
    return 0;
}

/* One entry of a directory into field, its value after it where it does not fit: 0; 1 when there is
 * no value to be had; -1 with a message. */
static int read_field(struct carn_ifd_in *in, const unsigned char *entry, bool in_place,
                      struct carn_field *field, struct carn_error *err)
{
    bool big = in->form.big;
    size_t word = in->form.wide ? 8 : 4;
    field->count = carn_ifd_number(entry + 4, word, big);
    memcpy(field->place, entry + 4 + word, word);
    if (in_place)
        return 0;
    uint64_t unit = field->type < TYPES ? type_size[field->type] : 0;
    if (unit == 0 || field->count == 0 || field->count > in->from.size / unit)
        return 1;
    if (field->count > in->budget / unit)
        return carn_fail(err, CARN_LIMIT, "over the limit of metadata (--max-metadata)");
    field->size = (size_t)(field->count * unit);
    in->budget -= field->size;
    field->data = carn_alloc(field->size, 1, err);
    if (field->data == NULL)
        return -1;
    if (field->size <= word) {
        memcpy(field->data, field->place, field->size);
        return 0;
    }
    struct carn_error cause = {0};
    if (bytes_at(&in->from, carn_ifd_number(field->place, word, big), field->data, field->size,
                 &cause) == 0)
        return 0;
    return carn_is_machine(&cause) ? carn_fail_from(err, &cause, NULL) : 1;
}

/* count entries into ifd; those without a value are left out and counted as damaged. */
static int read_fields(struct carn_ifd_in *in, const unsigned char *entries, size_t count,
                       const struct carn_ifd_want *want, struct carn_ifd *ifd,
                       struct carn_error *err)
{
    size_t size = in->form.wide ? 20 : 12;
    for (size_t i = 0; i < count; i++) {
        const unsigned char *at = entries + i * size;
        struct carn_field *field = &ifd->fields[ifd->count];
        field->tag = (uint16_t)carn_ifd_number(at, 2, in->form.big);
        field->type = (uint16_t)carn_ifd_number(at + 2, 2, in->form.big);
        if (want->keep != NULL && !want->keep(field->tag, want->only))
            continue;
        int result = read_field(in, at, want->in_place, field, err);
        if (result == 0) {
            ifd->count++;
            continue;
        }
        ifd->damaged += field->count > 0;
        free(field->data);
        *field = (struct carn_field){0};
        if (result < 0)
            return -1;
    }
    return 0;
}

int carn_ifd_read(struct carn_ifd_in *in, uint64_t offset, const struct carn_ifd_want *want,
                  struct carn_ifd *ifd, struct carn_error *err)
{
    const struct carn_exif_bytes *from = &in->from;
    size_t word = in->form.wide ? 8 : 4;
    size_t head = in->form.wide ? 8 : 2;
    size_t entry = 4 + 2 * word;
    unsigned char number[8];
    *ifd = (struct carn_ifd){0};
    if (bytes_at(from, offset, number, head, err) != 0)
        return -1;
    uint64_t count = carn_ifd_number(number, head, in->form.big);
    if (count > FIELDS_MOST)
        return carn_fail(err, CARN_INPUT, "a directory of %ju entries", (uintmax_t)count);
    unsigned char *raw = carn_alloc((size_t)count * entry + word, 1, err);
    ifd->fields = carn_alloc((size_t)count, sizeof *ifd->fields, err);
    int result = raw == NULL || ifd->fields == NULL ? -1 : 0;
    if (result == 0)
        result = bytes_at(from, offset + head, raw, (size_t)count * entry, err);
    if (result == 0)
        result = read_fields(in, raw, (size_t)count, want, ifd, err);
    /* Some writers leave out the offset of the next directory at the very end of a block. */
    struct carn_error cause = {0};
    if (result == 0 && bytes_at(from, offset + head + count * entry, number, word, &cause) == 0)
        ifd->next = carn_ifd_number(number, word, in->form.big);
    if (carn_is_machine(&cause))
        result = carn_fail_from(err, &cause, NULL);
    free(raw);
    if (result != 0)
        carn_ifd_clear(ifd);
    return result;
}

void carn_ifd_clear(struct carn_ifd *ifd)
{
    for (size_t i = 0; i < ifd->count; i++)
        free(ifd->fields[i].data);
    free(ifd->fields);
    *ifd = (struct carn_ifd){0};
}

struct carn_field *carn_ifd_find(const struct carn_ifd *ifd, unsigned tag)
{
    for (size_t i = 0; i < ifd->count; i++)
        if (ifd->fields[i].tag == tag)
            return &ifd->fields[i];
    return NULL;
}

uint64_t carn_field_number(const struct carn_field *field, bool big)
{
    size_t unit = field->type < TYPES ? type_size[field->type] : 0;
    bool whole = field->type == 3 || field->type == 4 || field->type == 13 || field->type == 16 ||
                 field->type == 18;
    const unsigned char *at = field->data != NULL ? field->data : field->place;
    return whole && field->count >= 1 ? carn_ifd_number(at, unit, big) : 0;
}

int carn_ifd_add(struct carn_ifd *ifd, unsigned tag, unsigned type, uint64_t count,
                 const void *data, size_t size, struct carn_error *err)
{
    unsigned char *copy = carn_alloc(size, 1, err);
    struct carn_field *field = carn_ifd_find(ifd, tag);
    if (copy != NULL && field == NULL) {
        struct carn_field *more = carn_grow(ifd->fields, ifd->count + 1, sizeof *more, err);
        if (more != NULL) {
            ifd->fields = more;
            field = &more[ifd->count++];
            *field = (struct carn_field){.tag = (uint16_t)tag};
        }
    }
    if (copy == NULL || field == NULL) {
        free(copy);
        return -1;
    }
    memcpy(copy, data, size);
    free(field->data);
    field->data = copy;
    field->size = size;
    field->type = (uint16_t)type;
    field->count = count;
    return 0;
}

int carn_ifd_append(struct carn_ifd_out *out, const void *bytes, size_t size,
                    struct carn_error *err)
{
    if (size > out->room - out->size) {
        size_t room = (out->size + size) * 2;
        unsigned char *more = carn_grow(out->bytes, room, 1, err);
        if (more == NULL)
            return -1;
        out->bytes = more;
        out->room = room;
    }
    if (bytes != NULL)
        memcpy(out->bytes + out->size, bytes, size);
    else
        memset(out->bytes + out->size, 0, size);
    out->size += size;
    return 0;
}

static int by_tag(const void *a, const void *b)
{
    const struct carn_field *left = a;
    const struct carn_field *right = b;
    return left->tag - right->tag;
}

/* Fills in entry number i of the directory at start, the value after everything where it is long.
 * Values begin at even offsets, as TIFF asks. */
static int write_field(struct carn_ifd_out *out, const struct carn_field *field, size_t entry,
                       struct carn_error *err)
{
    size_t word = out->form.wide ? 8 : 4;
    unsigned char place[8] = {0};
    if (field->data == NULL) {
        memcpy(place, field->place, word);
    } else if (field->size <= word) {
        memcpy(place, field->data, field->size);
    } else {
        if ((out->base + out->size) % 2 != 0 && carn_ifd_append(out, NULL, 1, err) != 0)
            return -1;
        carn_ifd_put(place, out->base + out->size, word, out->form.big);
        if (carn_ifd_append(out, field->data, field->size, err) != 0)
            return -1;
    }
    unsigned char *at = out->bytes + entry;
    carn_ifd_put(at, field->tag, 2, out->form.big);
    carn_ifd_put(at + 2, field->type, 2, out->form.big);
    carn_ifd_put(at + 4, field->count, word, out->form.big);
    memcpy(at + 4 + word, place, word);
    return 0;
}

int carn_ifd_write(struct carn_ifd_out *out, struct carn_ifd *ifd, uint64_t *at,
                   struct carn_error *err)
{
    size_t word = out->form.wide ? 8 : 4;
    size_t head = out->form.wide ? 8 : 2;
    size_t entry = 4 + 2 * word;
    if ((out->base + out->size) % 2 != 0 && carn_ifd_append(out, NULL, 1, err) != 0)
        return -1;
    size_t start = out->size;
    if (carn_ifd_append(out, NULL, head + ifd->count * entry + word, err) != 0)
        return -1;
    if (ifd->count > 1)
        qsort(ifd->fields, ifd->count, sizeof *ifd->fields, by_tag);
    carn_ifd_put(out->bytes + start, ifd->count, head, out->form.big);
    for (size_t i = 0; i < ifd->count; i++)
        if (write_field(out, &ifd->fields[i], start + head + i * entry, err) != 0)
            return -1;
    *at = out->base + start;
    return 0;
}

void carn_ifd_point(struct carn_ifd_out *out, uint64_t at, unsigned tag, uint64_t offset)
{
    size_t word = out->form.wide ? 8 : 4;
    size_t head = out->form.wide ? 8 : 2;
    unsigned char *dir = out->bytes + (at - out->base);
    uint64_t count = carn_ifd_number(dir, head, out->form.big);
    for (uint64_t i = 0; i < count; i++) {
        unsigned char *entry = dir + head + i * (4 + 2 * word);
        if (carn_ifd_number(entry, 2, out->form.big) == tag)
            carn_ifd_put(entry + 4 + word, offset, word, out->form.big);
    }
}
