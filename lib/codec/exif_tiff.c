/* Exif between its block and a TIFF file, where the same directories stand among the file's own. */
#include "codec/exif.h"
#include "codec/ifd.h"
#include "frame/keys.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The directories that make up an Exif block. */
struct tree {
    struct carn_ifd main, exif, gps, interop;
};

/* Tags that lay out a file's own pixels, are carried by keys of their own, or point elsewhere in
 * the file: they must not move to another file. */
static bool is_layout(unsigned tag)
{
    static const uint16_t tags[] = {
        254,   255,   256,   257,   258,   259,   262,   263,  264, 265, 266, 273,   277,
        278,   279,   280,   281,   284,   288,   289,   290,  291, 292, 293, 301,   317,
        320,   321,   322,   323,   324,   325,   330,   332,  333, 334, 336, 337,   338,
        339,   340,   341,   342,   343,   344,   345,   346,  347, 512, 513, 514,   515,
        517,   518,   519,   520,   521,   529,   530,   531,  532, 559, 700, 32997, 32998,
        33723, 34377, 34675, 34665, 34853, 37724, 40965, 50784};
    for (size_t i = 0; i < sizeof tags / sizeof tags[0]; i++)
        if (tags[i] == tag)
            return true;
    /* The colour layout of digital negatives, which is about pixels that are not carried. */
    return tag >= 50706 && tag <= 51200;
}

static bool keep_from_main(unsigned tag, unsigned only)
{
    (void)only;
    return !is_layout(tag) || tag == CARN_TAG_EXIF || tag == CARN_TAG_GPS;
}

static void tree_clear(struct tree *tree)
{
    carn_ifd_clear(&tree->main);
    carn_ifd_clear(&tree->exif);
    carn_ifd_clear(&tree->gps);
    carn_ifd_clear(&tree->interop);
}

/* Removes the pointer tag from ifd and reads where it points, if it is there. */
static int read_below(struct carn_ifd_in *in, struct carn_ifd *ifd, unsigned tag,
                      struct carn_ifd *below, struct carn_error *err)
{
    static const struct carn_ifd_want all = {0};
    struct carn_field *pointer = carn_ifd_find(ifd, tag);
    if (pointer == NULL)
        return 0;
    uint64_t offset = carn_field_number(pointer, in->form.big);
    free(pointer->data);
    size_t after = (size_t)(ifd->fields + ifd->count - (pointer + 1));
    memmove(pointer, pointer + 1, after * sizeof *pointer);
    ifd->count--;
    return carn_ifd_read(in, offset, &all, below, err);
}

static int tree_read(struct carn_ifd_in *in, uint64_t offset, struct tree *tree,
                     struct carn_error *err)
{
    static const struct carn_ifd_want shared = {.keep = keep_from_main};
    *tree = (struct tree){0};
    int result = carn_ifd_read(in, offset, &shared, &tree->main, err);
    if (result == 0)
        result = read_below(in, &tree->main, CARN_TAG_EXIF, &tree->exif, err);
    if (result == 0)
        result = read_below(in, &tree->main, CARN_TAG_GPS, &tree->gps, err);
    if (result == 0)
        result = read_below(in, &tree->exif, CARN_TAG_INTEROP, &tree->interop, err);
    if (result != 0)
        tree_clear(tree);
    return result;
}

static size_t tree_damaged(const struct tree *tree)
{
    return tree->main.damaged + tree->exif.damaged + tree->gps.damaged + tree->interop.damaged;
}

static int add_pointer(const struct carn_ifd_out *out, struct carn_ifd *ifd, unsigned tag,
                       const struct carn_ifd *below, struct carn_error *err)
{
    static const unsigned char nowhere[8];
    if (below->count == 0)
        return 0;
    return carn_ifd_add(ifd, tag, out->form.wide ? CARN_FIELD_LONG8 : CARN_FIELD_LONG, 1, nowhere,
                        out->form.wide ? 8 : 4, err);
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
    if (add_pointer(out, &tree->exif, CARN_TAG_INTEROP, &tree->interop, err) != 0 ||
        add_pointer(out, &tree->main, CARN_TAG_EXIF, &tree->exif, err) != 0 ||
        add_pointer(out, &tree->main, CARN_TAG_GPS, &tree->gps, err) != 0 ||
        carn_ifd_write(out, &tree->main, at, err) != 0 ||
        write_below(out, *at, CARN_TAG_EXIF, &tree->exif, &exif, err) != 0 ||
        write_below(out, *at, CARN_TAG_GPS, &tree->gps, &other, err) != 0)
        return -1;
    return tree->exif.count == 0
               ? 0
               : write_below(out, exif, CARN_TAG_INTEROP, &tree->interop, &other, err);
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

/* The first directory of a TIFF file always has fields. Only those that a camera or a person writes
 * are a reason to make an Exif block. */
unsigned char *carn_exif_from_tiff(const struct carn_source *file, uint64_t offset, size_t *size,
                                   size_t *damaged, struct carn_error *err)
{
    struct carn_ifd_in in = {.from = {.size = file->size, .file = file},
                             .budget = file->limits.metadata};
    struct tree tree = {0};
    unsigned char *block = NULL;
    if (carn_ifd_form(&in.from, &in.form, err) != 0 || tree_read(&in, offset, &tree, err) != 0)
        return NULL;
    size_t plain = 0;
    for (size_t i = 0; i < tree.main.count; i++) {
        unsigned tag = tree.main.fields[i].tag;
        plain += tag == CARN_TAG_ORIENTATION || tag == CARN_TAG_X_RESOLUTION ||
                 tag == CARN_TAG_Y_RESOLUTION || tag == CARN_TAG_RESOLUTION_UNIT;
    }
    if (tree.main.count > plain || tree.exif.count > 0 || tree.gps.count > 0)
        block = tree_block(&tree, in.form.big, size, err);
    *damaged = tree_damaged(&tree);
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
    const struct carn_ifd_want want = {.keep = keep_one, .only = tag};
    struct carn_ifd_in in = {.from = {.size = file->size, .file = file},
                             .budget = file->limits.metadata};
    struct carn_ifd ifd = {0};
    unsigned char *value = NULL;
    if (carn_ifd_form(&in.from, &in.form, err) == 0 &&
        carn_ifd_read(&in, offset, &want, &ifd, err) == 0 && ifd.count > 0) {
        value = ifd.fields[0].data;
        *size = ifd.fields[0].size;
        ifd.fields[0].data = NULL;
    } else if (ifd.damaged > 0) {
        carn_fail_at(err, CARN_INPUT, file->label,
                     "TIFF cut short or damaged: the value of tag %u is not in the file", tag);
    }
    carn_ifd_clear(&ifd);
    return value;
}

/* A RATIONAL of a TIFF file, without the float that libtiff would make of it; 0 for none. */
static int tiff_rational(const struct carn_source *file, uint64_t offset, unsigned tag,
                         double *value, struct carn_error *err)
{
    struct carn_error cause = {0};
    struct carn_exif_bytes from = {.size = file->size, .file = file};
    struct carn_ifd_form form;
    size_t size = 0;
    unsigned char *bytes = carn_exif_tiff_value(file, offset, tag, &size, &cause);
    *value = 0;
    if (bytes != NULL && size == 8 && carn_ifd_form(&from, &form, &cause) == 0) {
        uint64_t below = carn_ifd_number(bytes + 4, 4, form.big);
        *value = below == 0 ? 0 : (double)carn_ifd_number(bytes, 4, form.big) / (double)below;
    }
    free(bytes);
    return carn_is_machine(&cause) ? carn_fail_from(err, &cause, NULL) : 0;
}

int carn_exif_tiff_resolution(const struct carn_source *file, uint64_t offset,
                              struct carn_resolution *resolution, struct carn_error *err)
{
    if (tiff_rational(file, offset, CARN_TAG_X_RESOLUTION, &resolution->x, err) != 0)
        return -1;
    return tiff_rational(file, offset, CARN_TAG_Y_RESOLUTION, &resolution->y, err);
}

/* Moves those fields of from that may stand in another TIFF file into the file's own directory. */
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

/* In a damaged block values may overlap, so what is copied is bounded. */
static int block_tree(const unsigned char *block, size_t size, struct tree *tree,
                      struct carn_error *err)
{
    struct carn_ifd_in in = {.from = {.memory = block, .size = size}, .budget = size * 4};
    if (carn_ifd_form(&in.from, &in.form, err) != 0)
        return -1;
    return tree_read(&in, in.form.first, tree, err);
}

int carn_exif_oprgb(const unsigned char *block, size_t size, bool *oprgb, struct carn_error *err)
{
    struct carn_error cause = {0};
    struct tree tree = {0};
    *oprgb = false;
    if (block_tree(block, size, &tree, &cause) == 0) {
        const struct carn_field *index = carn_ifd_find(&tree.interop, CARN_TAG_INTEROP_INDEX);
        *oprgb = index != NULL && index->size >= 3 && memcmp(index->data, "R03", 3) == 0;
    }
    tree_clear(&tree);
    return carn_is_machine(&cause) ? carn_fail_from(err, &cause, NULL) : 0;
}

int carn_exif_whole(const unsigned char *block, size_t size, size_t *damaged,
                    struct carn_error *err)
{
    struct carn_error cause = {0};
    struct tree tree = {0};
    bool whole = block_tree(block, size, &tree, &cause) == 0;
    *damaged = tree_damaged(&tree);
    tree_clear(&tree);
    return carn_is_machine(&cause) ? carn_fail_from(err, &cause, NULL) : whole;
}

/* The tree of a block, its main directory replaced by the file's own with the block's beside it. */
static int join(const struct carn_exif_bytes *file, const struct carn_ifd_form *form,
                const unsigned char *block, size_t size, struct tree *tree, struct carn_error *err)
{
    static const struct carn_ifd_want entries = {.in_place = true};
    struct carn_ifd_in in = {.from = *file, .form = *form};
    struct carn_ifd own = {0};
    if (block != NULL && block_tree(block, size, tree, err) != 0)
        return -1;
    int result = carn_ifd_read(&in, form->first, &entries, &own, err);
    if (result == 0)
        result = merge(&own, &tree->main, err);
    carn_ifd_clear(&tree->main);
    tree->main = own;
    return result;
}

/* As LONG, the type that libtiff and others look for, filled up with zeroes. */
static int add_iptc(struct carn_ifd *ifd, const void *iptc, size_t size, struct carn_error *err)
{
    size_t count = size / 4 + (size % 4 != 0);
    unsigned char *padded = carn_alloc(count, 4, err);
    if (padded == NULL)
        return -1;
    memcpy(padded, iptc, size);
    int result = carn_ifd_add(ifd, CARN_TAG_IPTC, CARN_FIELD_LONG, count, padded, count * 4, err);
    free(padded);
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
        return carn_fail_at(err, CARN_SYSTEM, label, "cannot seek: %s", strerror(errno));
    file.size = out.base = source.size = (uint64_t)end;
    int result = carn_ifd_form(&file, &out.form, err);
    if (result == 0)
        result = join(&file, &out.form, block, size, &tree, err);
    if (result == 0 && iptc != NULL)
        result = add_iptc(&tree.main, iptc, iptc_size, err);
    if (result == 0)
        result = tree_write(&out, &tree, &at, err);
    if (result == 0)
        result = carn_write_all(fd, out.bytes, out.size, label, err);
    size_t word = out.form.wide ? 8 : 4;
    carn_ifd_put(pointer, at, word, out.form.big);
    if (result == 0 && pwrite(fd, pointer, word, (off_t)word) != (ssize_t)word)
        result = carn_fail_at(err, CARN_SYSTEM, label, "cannot write: %s", strerror(errno));
    tree_clear(&tree);
    free(out.bytes);
    return result;
}
