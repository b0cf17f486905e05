/*
 * JPEG out, through libjpeg-turbo: colour at full resolution and the usual Huffman tables. Tables
 * of the picture's own would save some 5 %, but for them the library holds it all.
 */
#include "codec/jpeg.h"

#include "codec/exif.h"
#include "codec/resources.h"
#include "codec/xmp.h"
#include "frame/keys.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct writer {
    struct carn_jpeg_errors errors;
    struct jpeg_compress_struct jpeg;
    struct carn_sink *sink;
    FILE *file;
    bool created;
};

void carn_jpeg_write_close(void *state)
{
    struct writer *writer = state;
    if (writer->created)
        jpeg_destroy_compress(&writer->jpeg);
    if (writer->file != NULL)
        (void)fclose(writer->file);
    free(writer);
}

/* JFIF holds whole numbers: the unit, inch or cm, is the one that rounds less. */
static void set_resolution(struct writer *writer)
{
    struct carn_resolution r;
    struct jpeg_compress_struct *jpeg = &writer->jpeg;
    if (!carn_frame_resolution(writer->sink->frame, &r))
        return;
    if (r.unit != CARN_UNIT_NONE) {
        double cm = r.unit == CARN_UNIT_CM ? 1 : 1 / 2.54;
        double inch = r.unit == CARN_UNIT_INCH ? 1 : 2.54;
        bool by_cm = fabs(r.x * cm - round(r.x * cm)) < fabs(r.x * inch - round(r.x * inch)) / 2.54;
        r.x *= by_cm ? cm : inch;
        r.y *= by_cm ? cm : inch;
        r.unit = by_cm ? CARN_UNIT_CM : CARN_UNIT_INCH;
    }
    if (r.x < 0.5 || r.y < 0.5 || r.x > 65535 || r.y > 65535)
        return;
    jpeg->density_unit = (UINT8)r.unit; /* 0 none, 1 inch, 2 cm: as ours */
    jpeg->X_density = (UINT16)lround(r.x);
    jpeg->Y_density = (UINT16)lround(r.y);
}

static int start(struct writer *writer)
{
    const struct carn_sink *sink = writer->sink;
    struct jpeg_compress_struct *jpeg = &writer->jpeg;
    if (setjmp(writer->errors.back) != 0)
        return -1;
    jpeg_create_compress(jpeg);
    writer->created = true;
    jpeg_stdio_dest(jpeg, writer->file);
    jpeg->image_width = (JDIMENSION)sink->frame->width;
    jpeg->image_height = (JDIMENSION)sink->frame->height;
    jpeg->input_components = (int)sink->colours;
    jpeg->in_color_space = sink->colours == 3 ? JCS_RGB : JCS_GRAYSCALE;
    jpeg_set_defaults(jpeg);
    jpeg_set_quality(jpeg, sink->quality, TRUE);
    jpeg->comp_info[0].h_samp_factor = 1;
    jpeg->comp_info[0].v_samp_factor = 1;
    jpeg->dct_method = JDCT_ISLOW;
    set_resolution(writer);
    jpeg_start_compress(jpeg, TRUE);
    return 0;
}

static int put_marker(struct writer *writer, int marker, const unsigned char *data, size_t size)
{
    if (setjmp(writer->errors.back) != 0)
        return -1;
    jpeg_write_marker(&writer->jpeg, marker, data, (unsigned)size);
    return 0;
}

/* One segment of a head and data; what does not fit in one is left out with a note. */
static int put_segment(struct writer *writer, int marker, const char *key, const void *head,
                       size_t head_size, const unsigned char *data, size_t size)
{
    struct carn_sink *sink = writer->sink;
    if (size > CARN_JPEG_SEGMENT - head_size) {
        carn_note(&sink->notes, key, "%s: %zu bytes of %s do not fit in a JPEG segment, left out",
                  sink->label, size, key);
        return 0;
    }
    unsigned char *segment = carn_alloc(head_size + size, 1, writer->errors.err);
    if (segment == NULL)
        return -1;
    memcpy(segment, head, head_size);
    memcpy(segment + head_size, data, size);
    int result = put_marker(writer, marker, segment, head_size + size);
    free(segment);
    return result;
}

static int put_exif(struct writer *writer)
{
    size_t size;
    unsigned char *block = carn_exif_of_sink(writer->sink, &size, writer->errors.err);
    if (block == NULL)
        return writer->errors.err->kind == CARN_NONE ? 0 : -1;
    int result = put_segment(writer, JPEG_APP0 + 1, "Exif", CARN_JPEG_EXIF, sizeof CARN_JPEG_EXIF,
                             block, size);
    free(block);
    return result;
}

static void put_number(unsigned char *to, size_t v)
{
    for (size_t i = 0; i < 4; i++)
        to[i] = (unsigned char)(v >> (24 - 8 * i));
}

static int put_standard_xmp(struct writer *writer, const void *xmp, size_t size)
{
    return put_segment(writer, JPEG_APP0 + 1, "XMP", CARN_JPEG_XMP, sizeof CARN_JPEG_XMP, xmp,
                       size);
}

/* A packet too long for one segment: a standard packet that names it, then its pieces. */
static int put_long_xmp(struct writer *writer, const char *xmp, size_t size)
{
    enum { HEAD = CARN_JPEG_MORE_XMP_HEAD, MOST = CARN_JPEG_SEGMENT - HEAD };
    char standard[600];
    char name[CARN_XMP_NAME + 1];
    const char *more = NULL;
    size_t left = 0;
    if (size > UINT32_MAX || carn_xmp_split(xmp, size, standard, &more, &left, name) != 0)
        return put_standard_xmp(writer, xmp, size); /* which says that it does not fit */
    int result = put_standard_xmp(writer, standard, strlen(standard));
    char head[HEAD] = CARN_JPEG_MORE_XMP;
    unsigned char *at = (unsigned char *)head + sizeof CARN_JPEG_MORE_XMP;
    memcpy(at, name, CARN_XMP_NAME);
    put_number(at + CARN_XMP_NAME, left);
    for (size_t done = 0; result == 0 && left > 0;) {
        size_t part = left < MOST ? left : MOST;
        put_number(at + CARN_XMP_NAME + 4, done);
        result = put_segment(writer, JPEG_APP0 + 1, "XMP", head, HEAD,
                             (const unsigned char *)more + done, part);
        done += part;
        left -= part;
    }
    return result;
}

static int put_xmp(struct writer *writer)
{
    size_t size;
    void *xmp = carn_sink_blob(writer->sink, "xmp", &size, writer->errors.err);
    if (xmp == NULL)
        return writer->errors.err->kind == CARN_NONE ? 0 : -1;
    bool fits = size <= CARN_JPEG_SEGMENT - sizeof CARN_JPEG_XMP;
    int result = fits ? put_standard_xmp(writer, xmp, size) : put_long_xmp(writer, xmp, size);
    free(xmp);
    return result;
}

static int put_iptc(struct writer *writer)
{
    size_t size;
    struct carn_error *err = writer->errors.err;
    unsigned char *iptc = carn_sink_blob(writer->sink, "iptc", &size, err);
    unsigned char *block = iptc == NULL ? NULL : carn_resources_block(iptc, size, &size, err);
    free(iptc);
    if (block == NULL)
        return err->kind == CARN_NONE ? 0 : -1;
    int result = put_segment(writer, JPEG_APP0 + 13, "IPTC", carn_jpeg_resources,
                             sizeof carn_jpeg_resources, block, size);
    free(block);
    return result;
}

static int put_pieces(struct writer *writer, const unsigned char *icc, size_t size)
{
    if (setjmp(writer->errors.back) != 0)
        return -1;
    jpeg_write_icc_profile(&writer->jpeg, icc, (unsigned)size);
    return 0;
}

static int put_icc(struct writer *writer)
{
    size_t size;
    struct carn_error *err = writer->errors.err;
    unsigned char *icc = carn_sink_blob(writer->sink, "icc", &size, err);
    if (icc == NULL)
        return err->kind == CARN_NONE ? 0 : -1;
    int result;
    if (size == 0 || size > 255 * (size_t)(CARN_JPEG_SEGMENT - 14))
        result = carn_fail_at(err, CARN_LIMIT, writer->sink->label,
                              "an ICC profile of %zu bytes does not fit in JPEG", size);
    else
        result = put_pieces(writer, icc, size);
    free(icc);
    return result;
}

static int begin(struct writer *writer, struct carn_error *err)
{
    const struct carn_sink *sink = writer->sink;
    carn_jpeg_errors_set(&writer->errors, sink->label, false);
    writer->errors.err = err;
    writer->jpeg.err = &writer->errors.manager;
    if (sink->frame->width > JPEG_MAX_DIMENSION || sink->frame->height > JPEG_MAX_DIMENSION)
        return carn_fail_at(err, CARN_LIMIT, sink->label,
                            "%zu x %zu pixels are more than JPEG holds (%ld a side)",
                            sink->frame->width, sink->frame->height, JPEG_MAX_DIMENSION);
    int fd = fcntl(sink->fd, F_DUPFD_CLOEXEC, 3);
    writer->file = fd < 0 ? NULL : fdopen(fd, "wb");
    if (writer->file == NULL) {
        carn_fail_at(err, CARN_SYSTEM, sink->label, "cannot be opened: %s", strerror(errno));
        if (fd >= 0)
            close(fd);
        return -1;
    }
    if (start(writer) != 0 || put_exif(writer) != 0 || put_xmp(writer) != 0)
        return -1;
    return put_icc(writer) != 0 ? -1 : put_iptc(writer);
}

void *carn_jpeg_write_open(struct carn_sink *sink, struct carn_error *err)
{
    struct writer *writer = carn_alloc(1, sizeof *writer, err);
    if (writer == NULL)
        return NULL;
    writer->sink = sink;
    if (begin(writer, err) != 0) {
        carn_jpeg_write_close(writer);
        return NULL;
    }
    return writer;
}

int carn_jpeg_write_row(void *state, const void *row, struct carn_error *err)
{
    struct writer *writer = state;
    JSAMPROW rows[1] = {(JSAMPROW)(uintptr_t)row}; /* libjpeg does not write to it */
    writer->errors.err = err;
    if (setjmp(writer->errors.back) != 0)
        return -1;
    (void)jpeg_write_scanlines(&writer->jpeg, rows, 1);
    return 0;
}

static int finish(struct writer *writer)
{
    if (setjmp(writer->errors.back) != 0)
        return -1;
    jpeg_finish_compress(&writer->jpeg);
    return 0;
}

int carn_jpeg_write_end(void *state, struct carn_error *err)
{
    struct writer *writer = state;
    writer->errors.err = err;
    if (finish(writer) != 0)
        return -1;
    int closed = fclose(writer->file);
    writer->file = NULL;
    if (closed != 0)
        return carn_fail_at(err, CARN_SYSTEM, writer->sink->label, "cannot write: %s",
                            strerror(errno));
    return 0;
}
