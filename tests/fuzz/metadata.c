/* What files say beside their pixels, as blocks of bytes. */
#include "fuzz.h"

#include "codec/exif.h"
#include "codec/facts.h"
#include "codec/ifd.h"
#include "codec/png_chunks.h"
#include "codec/resources.h"
#include "codec/xmp.h"
#include "frame/keys.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- Exif: into a file of each kind and out again ---- */

static void facts_of(const struct carn_frame *frame, struct carn_facts *facts)
{
    struct carn_error err = {0};
    size_t size = 0;
    unsigned char *block = carn_frame_blob(frame, "exif", &size, &err);
    (void)carn_facts_read(block, size, facts, &err);
    free(block);
}

static void carry(const struct carn_frame *frame, const char *suffix, bool whole)
{
    struct carn_frame back = {0};
    struct carn_facts before, after;
    const char *path = fuzz_write(frame, NULL, suffix);
    if (path == NULL)
        return;
    uint16_t *rows = fuzz_read(path, &back);
    fuzz_must(rows != NULL, "a file that was written is read");
    fuzz_must(carn_frame_orientation(&back) == carn_frame_orientation(frame),
              "the orientation is carried");
    facts_of(frame, &before);
    facts_of(&back, &after);
    for (int i = 0; whole && i < CARN_FACTS; i++)
        fuzz_must(strcmp(before.text[i], after.text[i]) == 0, "a fact of sound Exif is carried");
    carn_frame_clear(&back);
    free(rows);
}

/* Has every entry of the directory at `at`, and of those it points to, values? */
static bool directory_has_values(const unsigned char *block, size_t size, bool big, size_t at,
                                 int depth)
{
    if (at > size || size - at < 2)
        return false;
    size_t count = (size_t)carn_ifd_number(block + at, 2, big);
    for (at += 2; count > 0 && at + 12 <= size; at += 12, count--) {
        unsigned tag = (unsigned)carn_ifd_number(block + at, 2, big);
        bool points = tag == CARN_TAG_EXIF || tag == CARN_TAG_GPS || tag == CARN_TAG_INTEROP;
        size_t value = (size_t)carn_ifd_number(block + at + 8, 4, big);
        if (carn_ifd_number(block + at + 4, 4, big) == 0 ||
            (points && depth > 0 && !directory_has_values(block, size, big, value, depth - 1)))
            return false;
    }
    return true;
}

/* An entry of no values is no loss, but libexif follows a pointer of none and may read no further;
 * a file that leaves it out then says more than the block did. */
static bool all_have_values(const unsigned char *block, size_t size)
{
    struct carn_error err = {0};
    struct carn_exif_bytes from = {.memory = block, .size = size};
    struct carn_ifd_form form;
    return carn_ifd_form(&from, &form, &err) == 0 && !form.wide &&
           directory_has_values(block, size, form.big, (size_t)form.first, 2);
}

void fuzz_exif(const uint8_t *data, size_t size)
{
    struct carn_error err = {0};
    struct carn_exif_says says;
    struct carn_facts facts;
    struct carn_frame frame = fuzz_small_frame();
    size_t damaged = 0, length = size;
    bool oprgb = false;
    (void)carn_facts_read(data, size, &facts, &err);
    for (int i = 0; i < CARN_FACTS; i++)
        fuzz_must(facts.text[i][0] != '\0' && strpbrk(facts.text[i], "\t\r\n") == NULL,
                  "a fact is one line, or -");
    unsigned char *block = malloc(size + 1);
    fuzz_must(block != NULL, "memory");
    memcpy(block, data, size);
    int taken = carn_exif_take(block, &length, &says, &err);
    fuzz_must(taken >= 0 && length <= size, "an Exif block is taken or not");
    int whole = carn_exif_whole(block, length, &damaged, &err);
    (void)carn_exif_oprgb(block, length, &oprgb, &err);
    fuzz_must(taken == 0 || oprgb == says.oprgb, "the index R03 is told once");
    if (taken == 1 && carn_frame_set_blob(&frame, "exif", block, length, &err) == 0) {
        (void)carn_frame_set_orientation(&frame, says.orientation, &err);
        (void)carn_frame_set_resolution(&frame, &says.resolution, &err);
        static const char *const kinds[] = {"tif", "png", "jpg"};
        carry(&frame, kinds[size % 3],
              whole == 1 && damaged == 0 && all_have_values(block, length));
    }
    free(block);
    carn_frame_clear(&frame);
}

/* ---- directories: what is read is written and read again ---- */

static void rewrite(struct carn_ifd *ifd, const struct carn_ifd_form *form)
{
    struct carn_error err = {0};
    struct carn_ifd again = {0};
    struct carn_ifd_out out = {.form = *form};
    uint64_t at = 0;
    if (carn_ifd_append(&out, NULL, 16, &err) == 0 && carn_ifd_write(&out, ifd, &at, &err) == 0) {
        struct carn_ifd_in in = {
            .from = {.memory = out.bytes, .size = out.size}, .form = *form, .budget = 1 << 24};
        static const struct carn_ifd_want all = {0};
        fuzz_must(carn_ifd_read(&in, at, &all, &again, &err) == 0 && again.count == ifd->count &&
                      again.damaged == 0,
                  "a directory written is read with all its fields");
        for (size_t i = 0; i < again.count; i++)
            fuzz_must(again.fields[i].tag == ifd->fields[i].tag &&
                          again.fields[i].count == ifd->fields[i].count &&
                          again.fields[i].size == ifd->fields[i].size &&
                          memcmp(again.fields[i].data, ifd->fields[i].data, ifd->fields[i].size) ==
                              0,
                      "a field is read as it was written");
    }
    carn_ifd_clear(&again);
    free(out.bytes);
}

void fuzz_ifd(const uint8_t *data, size_t size)
{
    struct carn_error err = {0};
    struct carn_ifd_in in = {.from = {.memory = data, .size = size}, .budget = 1 << 20};
    if (carn_ifd_form(&in.from, &in.form, &err) != 0)
        return;
    uint64_t at = in.form.first;
    for (int i = 0; i < 8 && at != 0; i++) {
        static const struct carn_ifd_want all = {0}, entries = {.in_place = true};
        struct carn_ifd ifd = {0}, placed = {0};
        struct carn_error why = {0};
        bool read = carn_ifd_read(&in, at, &all, &ifd, &why) == 0;
        (void)carn_ifd_read(&in, at, &entries, &placed, &why);
        if (read && ifd.count > 0) {
            (void)carn_field_number(&ifd.fields[0], in.form.big);
            (void)carn_ifd_find(&ifd, 274);
            rewrite(&ifd, &in.form);
        }
        at = read ? ifd.next : 0;
        carn_ifd_clear(&ifd);
        carn_ifd_clear(&placed);
    }
}

/* ---- XMP: split and joined; what stands before a zero byte with what stands after it ---- */

void fuzz_xmp(const uint8_t *data, size_t size)
{
    const char *text = (const char *)data, *extended = NULL;
    char standard[600], name[CARN_XMP_NAME + 1];
    size_t extended_size = 0, joined = 0;
    struct carn_error err = {0};
    if (carn_xmp_split(text, size, standard, &extended, &extended_size, name) == 0) {
        fuzz_must(extended >= text && extended_size <= size &&
                      (size_t)(extended - text) <= size - extended_size,
                  "the extended part lies in the packet");
        char *whole =
            carn_xmp_join(standard, strlen(standard), extended, extended_size, name, &joined, &err);
        fuzz_must(whole != NULL && joined >= extended_size, "what was split is joined");
        free(whole);
    }
    const char *zero = size > 0 ? memchr(text, 0, size) : NULL;
    size_t first = zero != NULL ? (size_t)(zero - text) : size;
    /* The name that the packet itself gives, so that it fits. */
    static const char before[] = "HasExtendedXMP";
    memset(name, 'A', CARN_XMP_NAME);
    for (size_t i = 0; i + sizeof before + 1 + CARN_XMP_NAME <= first; i++)
        if (memcmp(text + i, before, sizeof before - 1) == 0) {
            bool element = text[i + sizeof before - 1] == '>';
            memcpy(name, text + i + sizeof before + (element ? 0 : 1), CARN_XMP_NAME);
            break;
        }
    if (zero != NULL) {
        char *whole = carn_xmp_join(text, first, zero + 1, size - first - 1, name, &joined, &err);
        fuzz_must(whole == NULL || joined <= size + 600, "a joined packet is no longer than both");
        free(whole);
    }
}

/* ---- image resources, IPTC and PNG's raw text of them ---- */

void fuzz_resources(const uint8_t *data, size_t size)
{
    struct carn_error err = {0};
    size_t iptc_size = 0, block_size = 0, again_size = 0, raw_size = 0;
    const unsigned char *iptc = carn_resources_iptc(data, size, &iptc_size);
    fuzz_must(iptc == NULL ||
                  (iptc >= data && iptc_size <= size && (size_t)(iptc - data) <= size - iptc_size),
              "IPTC lies in its resources");
    fuzz_must(carn_iptc_length(data, size) <= size, "IPTC is no longer than it is");
    unsigned char *block = carn_resources_block(data, size, &block_size, &err);
    fuzz_must(block != NULL, "IPTC is made a block");
    const unsigned char *again = carn_resources_iptc(block, block_size, &again_size);
    fuzz_must(size == 0 || (again != NULL && again_size == size && memcmp(again, data, size) == 0),
              "a block holds the IPTC that it was made of");
    free(block);
    free(carn_png_raw_profile((const char *)data, size, &raw_size, &err));
}
