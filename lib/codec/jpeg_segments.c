/* What a JPEG file says beside its pixels, segment by segment, up to the first scan. */
#include "codec/jpeg.h"

#include "codec/exif.h"
#include "codec/resources.h"
#include "codec/xmp.h"
#include "frame/keys.h"

#include <stdlib.h>
#include <string.h>

enum {
    SOI = 0xd8,
    EOI = 0xd9,
    SOS = 0xda,
    APP0 = 0xe0,
    APP1 = 0xe1,
    APP2 = 0xe2,
    APP13 = 0xed,
    TEM = 0x01,
    SEGMENTS_MOST = 1 << 16,
    STRAY_MOST = 1 << 20 /* bytes between segments */
};

/* Pieces of a profile, numbered from 1 as they stand in the file. */
struct pieces {
    unsigned char *bytes[256];
    size_t sizes[256];
    unsigned count;
};

/* An extended XMP packet, as far as it has come. */
struct extended {
    char name[CARN_XMP_NAME];
    char *bytes;
    size_t size, got;
    bool damaged;
};

struct walk {
    struct carn_source *source;
    struct carn_frame *frame;
    struct carn_error *err;
    struct pieces icc;
    struct extended xmp;
    struct carn_resolution jfif;
    bool exif_resolution, oprgb;
    unsigned char *data; /* of the segment looked at */
    size_t size;
};

static bool begins(const struct walk *walk, const void *with, size_t length)
{
    return walk->size > length && memcmp(walk->data, with, length) == 0;
}

#define BEGINS(walk, with) begins(walk, with, sizeof(with))

static void take_jfif(struct walk *walk)
{
    static const enum carn_unit units[] = {CARN_UNIT_NONE, CARN_UNIT_INCH, CARN_UNIT_CM};
    const unsigned char *d = walk->data;
    if (!BEGINS(walk, "JFIF") || walk->size < 12 || d[7] > 2)
        return;
    walk->jfif.unit = units[d[7]];
    walk->jfif.x = d[8] << 8 | d[9];
    walk->jfif.y = d[10] << 8 | d[11];
}

static int take_exif(struct walk *walk)
{
    struct carn_source *source = walk->source;
    unsigned char *block = walk->data + 6;
    size_t size = walk->size - 6;
    if (carn_frame_get(walk->frame, "exif") != NULL)
        return 0; /* readers take the first */
    struct carn_exif_says says;
    int sound = carn_exif_take(block, &size, &says, walk->err);
    if (sound == 0)
        carn_note(&source->notes, "exif", "%s: its Exif is damaged, it is left out", source->label);
    if (sound != 1)
        return sound;
    walk->exif_resolution = says.resolution.x > 0;
    walk->oprgb = says.oprgb;
    if (says.orientation != 0 &&
        carn_frame_set_orientation(walk->frame, says.orientation, walk->err) != 0)
        return -1;
    if (walk->exif_resolution &&
        carn_frame_set_resolution(walk->frame, &says.resolution, walk->err) != 0)
        return -1;
    return carn_source_blob(source, walk->frame, "exif", block, size, walk->err);
}

/* Room for the packet that the first piece belongs to. Packets with depth maps and the like may be
 * longer than the limit of metadata. */
static int begin_more_xmp(struct walk *walk, const unsigned char *name, size_t size)
{
    struct extended *xmp = &walk->xmp;
    uint64_t room = walk->source->limits.metadata - walk->source->metadata;
    if (size > room) {
        xmp->damaged = true;
        return 0;
    }
    memcpy(xmp->name, name, CARN_XMP_NAME);
    xmp->size = size;
    xmp->bytes = carn_alloc(size + 1, 1, walk->err);
    walk->source->metadata += size;
    return xmp->bytes == NULL ? -1 : 0;
}

/* A piece of the extended packet: its name, the size of all, where in it, and the bytes, which come
 * in order as all writers have them. */
static int take_more_xmp(struct walk *walk)
{
    struct extended *xmp = &walk->xmp;
    size_t head = CARN_JPEG_MORE_XMP_HEAD;
    const unsigned char *name = walk->data + sizeof CARN_JPEG_MORE_XMP;
    const unsigned char *size = name + CARN_XMP_NAME;
    xmp->damaged = xmp->damaged || walk->size < head;
    if (!xmp->damaged && xmp->bytes == NULL &&
        begin_more_xmp(walk, name, carn_big_endian(size)) != 0)
        return -1;
    size_t part = walk->size < head ? 0 : walk->size - head;
    xmp->damaged = xmp->damaged || memcmp(xmp->name, name, CARN_XMP_NAME) != 0 ||
                   carn_big_endian(size + 4) != xmp->got || part > xmp->size - xmp->got;
    if (xmp->damaged)
        return 0;
    memcpy(xmp->bytes + xmp->got, walk->data + head, part);
    xmp->got += part;
    return 0;
}

static int join_xmp(struct walk *walk)
{
    const struct extended *more = &walk->xmp;
    size_t size = 0;
    char *whole = NULL;
    if (more->bytes == NULL && !more->damaged)
        return 0;
    char *standard = carn_frame_blob(walk->frame, "xmp", &size, walk->err);
    if (standard != NULL && !more->damaged && more->got == more->size)
        whole =
            carn_xmp_join(standard, size, more->bytes, more->size, more->name, &size, walk->err);
    free(standard);
    int result = walk->err->kind != CARN_NONE ? -1 : 0;
    if (result == 0 && whole == NULL)
        carn_note(&walk->source->notes, "more xmp",
                  "%s: the part of its XMP beyond the first segment is too long, damaged or of an "
                  "unusual form, it is left out",
                  walk->source->label);
    if (whole != NULL)
        result = carn_frame_set_blob(walk->frame, "xmp", whole, size, walk->err);
    free(whole);
    return result;
}

static int take_app1(struct walk *walk)
{
    struct carn_source *source = walk->source;
    if (BEGINS(walk, CARN_JPEG_EXIF))
        return take_exif(walk);
    if (BEGINS(walk, CARN_JPEG_MORE_XMP))
        return take_more_xmp(walk);
    if (!BEGINS(walk, CARN_JPEG_XMP))
        return 0;
    size_t head = sizeof CARN_JPEG_XMP;
    return carn_source_blob(source, walk->frame, "xmp", walk->data + head, walk->size - head,
                            walk->err);
}

static int take_app2(struct walk *walk)
{
    size_t head = sizeof CARN_JPEG_ICC + 2;
    struct carn_source *source = walk->source;
    if (BEGINS(walk, CARN_JPEG_PICTURES))
        carn_note(&source->notes, "left out", "%s: left out of this JPEG: its further pictures",
                  source->label);
    if (!BEGINS(walk, CARN_JPEG_ICC) || walk->size < head)
        return 0;
    unsigned number = walk->data[head - 2];
    unsigned count = walk->data[head - 1];
    struct pieces *icc = &walk->icc;
    if (number == 0 || number > count || icc->bytes[number] != NULL ||
        (icc->count != 0 && icc->count != count))
        return carn_fail_at(walk->err, CARN_INPUT, source->label,
                            "the pieces of its ICC profile contradict each other");
    if (carn_source_metadata(source, walk->size - head, walk->err) != 0)
        return -1;
    icc->count = count;
    icc->sizes[number] = walk->size - head;
    icc->bytes[number] = carn_alloc(icc->sizes[number], 1, walk->err);
    if (icc->bytes[number] == NULL)
        return -1;
    memcpy(icc->bytes[number], walk->data + head, icc->sizes[number]);
    return 0;
}

static int take_app13(struct walk *walk)
{
    size_t head = sizeof carn_jpeg_resources;
    if (!BEGINS(walk, carn_jpeg_resources))
        return 0;
    size_t size = 0;
    const unsigned char *iptc = carn_resources_iptc(walk->data + head, walk->size - head, &size);
    return iptc == NULL
               ? 0
               : carn_source_blob(walk->source, walk->frame, "iptc", iptc, size, walk->err);
}

/* Joins the pieces of the profile, which have been counted as metadata already. */
static int join_icc(struct walk *walk)
{
    struct pieces *icc = &walk->icc;
    size_t size = 0;
    for (unsigned i = 1; i <= icc->count; i++) {
        if (icc->bytes[i] == NULL)
            return carn_fail_at(walk->err, CARN_INPUT, walk->source->label,
                                "piece %u of %u of its ICC profile is missing", i, icc->count);
        size += icc->sizes[i];
    }
    unsigned char *whole = size == 0 ? NULL : carn_alloc(size, 1, walk->err);
    if (whole == NULL)
        return size == 0 ? 0 : -1;
    size_t used = 0;
    for (unsigned i = 1; i <= icc->count; i++) {
        memcpy(whole + used, icc->bytes[i], icc->sizes[i]);
        used += icc->sizes[i];
    }
    int result = carn_frame_set_blob(walk->frame, "icc", whole, size, walk->err);
    free(whole);
    return result;
}

/* The marker at `at`, which moves behind it; fill bytes and stray ones before it are skipped, as
 * libjpeg does. -1 with a message at the end of the file. */
static int next_marker(const struct walk *walk, uint64_t *at)
{
    unsigned char two[2] = {0, 0};
    for (size_t stray = 0; stray < STRAY_MOST; stray++) {
        if (carn_source_at(walk->source, *at, two, 2, "a JPEG segment", walk->err) != 0)
            return -1;
        if (two[0] == 0xff && two[1] != 0xff && two[1] != 0) {
            *at += 2;
            return two[1];
        }
        ++*at;
    }
    return carn_fail_at(walk->err, CARN_INPUT, walk->source->label,
                        "JPEG with %d stray bytes between its segments", STRAY_MOST);
}

static int take(struct walk *walk, int marker)
{
    switch (marker) {
    case APP0:
        take_jfif(walk);
        return 0;
    case APP1:
        return take_app1(walk);
    case APP2:
        return take_app2(walk);
    case APP13:
        return take_app13(walk);
    default:
        return 0;
    }
}

static int walk_segments(struct walk *walk)
{
    uint64_t at = 0;
    for (size_t i = 0; i < SEGMENTS_MOST; i++) {
        unsigned char length[2];
        int marker = next_marker(walk, &at);
        if (marker < 0)
            return -1;
        if (marker == SOS || marker == EOI)
            return 0;
        if (marker == SOI || marker == TEM || (marker >= 0xd0 && marker <= 0xd7))
            continue;
        if (carn_source_at(walk->source, at, length, 2, "a JPEG segment", walk->err) != 0)
            return -1;
        size_t size = (size_t)length[0] << 8 | length[1];
        if (size < 2)
            return carn_fail_at(walk->err, CARN_INPUT, walk->source->label,
                                "a JPEG segment of impossible size");
        walk->size = size - 2;
        bool wanted = marker == APP0 || marker == APP1 || marker == APP2 || marker == APP13;
        if (wanted && (carn_source_at(walk->source, at + 2, walk->data, walk->size,
                                      "a JPEG segment", walk->err) != 0 ||
                       take(walk, marker) != 0))
            return -1;
        at += size;
    }
    return carn_fail_at(walk->err, CARN_LIMIT, walk->source->label, "JPEG of more than %d segments",
                        SEGMENTS_MOST);
}

/* opRGB without a profile, as cameras write it. */
static void say_oprgb(struct carn_source *source)
{
    source->colour = (struct carn_colour){
        .kind = CARN_COLOUR_PRIMARIES,
        .xy = CARN_XY_OPRGB,
        .gamma = CARN_GAMMA_OPRGB,
    };
    carn_note(&source->notes, "oprgb", "%s: has no profile; its Exif says R03, taken as opRGB",
              source->label);
}

int carn_jpeg_segments(struct carn_source *source, struct carn_frame *frame, struct carn_error *err)
{
    struct walk *walk = carn_alloc(1, sizeof *walk, err);
    if (walk == NULL)
        return -1;
    *walk = (struct walk){.source = source, .frame = frame, .err = err};
    walk->data = carn_alloc(CARN_JPEG_SEGMENT, 1, err);
    int result = walk->data == NULL ? -1 : walk_segments(walk);
    if (result == 0)
        result = join_icc(walk);
    if (result == 0)
        result = join_xmp(walk);
    /* The resolution in Exif is the camera's; that in JFIF is often a program's default. */
    if (result == 0 && !walk->exif_resolution && walk->jfif.x > 0 &&
        (walk->jfif.unit != CARN_UNIT_NONE || walk->jfif.x != walk->jfif.y))
        result = carn_frame_set_resolution(frame, &walk->jfif, err);
    if (result == 0 && walk->oprgb && walk->icc.count == 0 && frame->colours == 3)
        say_oprgb(source);
    for (size_t i = 0; i < sizeof walk->icc.bytes / sizeof walk->icc.bytes[0]; i++)
        free(walk->icc.bytes[i]);
    free(walk->xmp.bytes);
    free(walk->data);
    free(walk);
    return result;
}
