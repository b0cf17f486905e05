/*
 * PNG out, through libpng: level 1, filter up, run-length matching: a photograph is within 1 % of
 * the size of libpng's defaults at a sixth of the time (docs/speed.md). Samples of 16 bits are
 * filtered here and packed by carn_deflate where the build has it.
 */
#include "codec/png_out.h"

#include "base/io.h"
#include "codec/deflate.h"
#include "codec/exif.h"
#include "codec/resources.h"
#include "frame/keys.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <png.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>

struct writer {
    struct carn_sink *sink;
    struct carn_error *err; /* of the call that is running */
    struct carn_out *out;   /* on a descriptor of its own, which it closes when all is written */
    int fd;                 /* that descriptor, -1 when it is closed */
    png_structp png;
    png_infop info;
    struct carn_deflate *deflate; /* NULL: libpng filters and packs */
    bool begun;                   /* a row was written */
    unsigned char *above;         /* the row above, big-endian as PNG has it */
    unsigned char *filtered;      /* the type of the filter, and the row less the one above */
};

static void on_error(png_structp png, png_const_charp text)
{
    struct writer *writer = png_get_error_ptr(png);
    carn_fail_at(writer->err, CARN_SYSTEM, writer->sink->label, "PNG cannot be written: %s", text);
    longjmp(png_jmpbuf(png), 1);
}

static void on_warning(png_structp png, png_const_charp text)
{
    (void)png;
    (void)text;
}

static void on_write(png_structp png, png_bytep from, size_t size)
{
    struct writer *writer = png_get_io_ptr(png);
    if (carn_out_write(writer->out, from, size, writer->err) != 0)
        longjmp(png_jmpbuf(png), 1);
}

static void on_flush(png_structp png)
{
    (void)png;
}

static int write_chunk(struct writer *writer, const char *name, const unsigned char *data,
                       size_t size)
{
    if (setjmp(png_jmpbuf(writer->png)) != 0)
        return -1;
    png_write_chunk(writer->png, (png_const_bytep)name, data, size);
    return 0;
}

/* A chunk of a head (keyword and what follows it) and data, packed or as it is. */
static int write_packed(struct writer *writer, const char *name, const void *head, size_t head_size,
                        const void *data, size_t size, bool pack)
{
    uLong room = pack ? compressBound(size) : size;
    unsigned char *chunk = carn_alloc(head_size + room, 1, writer->err);
    if (chunk == NULL)
        return -1;
    memcpy(chunk, head, head_size);
    int result = 0;
    if (!pack)
        memcpy(chunk + head_size, data, size);
    else if (compress2(chunk + head_size, &room, data, size, Z_BEST_COMPRESSION) != Z_OK)
        result = carn_fail_at(writer->err, CARN_SYSTEM, writer->sink->label,
                              "PNG chunk %s cannot be packed", name);
    if (result == 0)
        result = write_chunk(writer, name, chunk, head_size + room);
    free(chunk);
    return result;
}

/* Written by hand: libpng leaves out profiles that it does not like. */
static int write_icc(struct writer *writer)
{
    static const char head[] = "ICC profile\0"; /* keyword, its zero, method 0 */
    size_t size;
    void *icc = carn_sink_blob(writer->sink, "icc", &size, writer->err);
    if (icc == NULL)
        return writer->err->kind == CARN_NONE ? 0 : -1;
    int result = write_packed(writer, "iCCP", head, sizeof head, icc, size, true);
    free(icc);
    return result;
}

static int write_exif(struct writer *writer)
{
    size_t size;
    unsigned char *block = carn_exif_of_sink(writer->sink, &size, writer->err);
    if (block == NULL)
        return writer->err->kind == CARN_NONE ? 0 : -1;
    int result = write_chunk(writer, "eXIf", block, size);
    free(block);
    return result;
}

static int write_xmp(struct writer *writer)
{
    /* The keyword; then, each with its zero: not packed, no language, no translation. */
    static const char head[] = "XML:com.adobe.xmp\0\0\0\0";
    size_t size;
    void *xmp = carn_sink_blob(writer->sink, "xmp", &size, writer->err);
    if (xmp == NULL)
        return writer->err->kind == CARN_NONE ? 0 : -1;
    int result = write_packed(writer, "iTXt", head, sizeof head, xmp, size, false);
    free(xmp);
    return result;
}

/* In hexadecimal, 72 digits a line: the form that exiftool and others write and look for. */
static char *raw_profile(const unsigned char *bytes, size_t size, size_t *length,
                         struct carn_error *err)
{
    static const char digits[] = "0123456789abcdef";
    char *text = carn_alloc(size * 2 + size / 36 + 64, 1, err);
    if (text == NULL)
        return NULL;
    size_t used = (size_t)snprintf(text, 64, "\niptc\n%8zu\n", size);
    for (size_t i = 0; i < size; i++) {
        text[used++] = digits[bytes[i] >> 4];
        text[used++] = digits[bytes[i] & 15];
        if (i % 36 == 35)
            text[used++] = '\n';
    }
    text[used++] = '\n';
    *length = used;
    return text;
}

static int write_iptc(struct writer *writer)
{
    static const char head[] = "Raw profile type iptc\0";
    size_t size;
    size_t length = 0;
    void *iptc = carn_sink_blob(writer->sink, "iptc", &size, writer->err);
    if (iptc == NULL)
        return writer->err->kind == CARN_NONE ? 0 : -1;
    unsigned char *block = carn_resources_block(iptc, size, &size, writer->err);
    char *text = block == NULL ? NULL : raw_profile(block, size, &length, writer->err);
    int result = -1;
    if (text != NULL)
        result = write_packed(writer, "zTXt", head, sizeof head, text, length, true);
    free(text);
    free(block);
    free(iptc);
    return result;
}

static void put_number(unsigned char *to, double v)
{
    uint32_t n = v < 1 ? 1 : v > PNG_UINT_31_MAX ? PNG_UINT_31_MAX : (uint32_t)lround(v);
    for (int i = 0; i < 4; i++)
        to[i] = (unsigned char)(n >> (24 - 8 * i));
}

/* Whole pixels a metre is all PNG has; where only the ratio is known, so is only the ratio. */
static int write_resolution(struct writer *writer)
{
    static const double per_metre[] = {1, 1 / 0.0254, 100};
    struct carn_resolution resolution;
    unsigned char chunk[9] = {0};
    if (!carn_frame_resolution(writer->sink->frame, &resolution))
        return 0;
    put_number(chunk, resolution.x * per_metre[resolution.unit]);
    put_number(chunk + 4, resolution.y * per_metre[resolution.unit]);
    chunk[8] = resolution.unit != CARN_UNIT_NONE;
    return write_chunk(writer, "pHYs", chunk, sizeof chunk);
}

static int write_header(struct writer *writer)
{
    const struct carn_sink *sink = writer->sink;
    int type = sink->colours == 3 ? PNG_COLOR_TYPE_RGB : PNG_COLOR_TYPE_GRAY;
    if (setjmp(png_jmpbuf(writer->png)) != 0)
        return -1;
    if (sink->frame->width > PNG_UINT_31_MAX || sink->frame->height > PNG_UINT_31_MAX)
        png_error(writer->png, "too many pixels a side");
    png_set_write_fn(writer->png, writer, on_write, on_flush);
    png_set_user_limits(writer->png, PNG_UINT_31_MAX, PNG_UINT_31_MAX);
    png_set_compression_level(writer->png, 1);
    png_set_compression_strategy(writer->png, Z_RLE);
    png_set_compression_buffer_size(writer->png, (size_t)64 * 1024);
    png_set_filter(writer->png, PNG_FILTER_TYPE_BASE, PNG_FILTER_UP);
    png_set_IHDR(writer->png, writer->info, (png_uint_32)sink->frame->width,
                 (png_uint_32)sink->frame->height, sink->depth,
                 sink->alpha ? type | PNG_COLOR_MASK_ALPHA : type, PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_info_before_PLTE(writer->png, writer->info);
    return 0;
}

/* Of 8 bits zlib's runs make less. */
static int prepare_deflate(struct writer *writer)
{
    const struct carn_sink *sink = writer->sink;
    if (sink->depth != 16)
        return 0;
    writer->deflate = carn_deflate_open(writer->err);
    if (writer->deflate == NULL)
        return writer->err->kind == CARN_NONE ? 0 : -1;
    writer->above = carn_alloc(carn_sink_row_size(sink), 1, writer->err);
    writer->filtered = carn_alloc(1 + carn_sink_row_size(sink), 1, writer->err);
    return writer->above == NULL || writer->filtered == NULL ? -1 : 0;
}

static int start_rows(struct writer *writer)
{
    if (setjmp(png_jmpbuf(writer->png)) != 0)
        return -1;
    png_write_info(writer->png, writer->info);
    if (writer->sink->depth == 16 && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__)
        png_set_swap(writer->png);
    return 0;
}

void *carn_png_write_open(struct carn_sink *sink, struct carn_error *err)
{
    struct writer *writer = carn_alloc(1, sizeof *writer, err);
    if (writer == NULL)
        return NULL;
    writer->sink = sink;
    writer->err = err;
    writer->fd = fcntl(sink->fd, F_DUPFD_CLOEXEC, 3);
    if (writer->fd < 0)
        carn_fail_at(err, CARN_SYSTEM, sink->label, "cannot be opened: %s", strerror(errno));
    writer->out = writer->fd < 0 ? NULL : carn_out_open(writer->fd, sink->label, err);
    writer->png = png_create_write_struct(PNG_LIBPNG_VER_STRING, writer, on_error, on_warning);
    writer->info = writer->png == NULL ? NULL : png_create_info_struct(writer->png);
    if (writer->info == NULL)
        carn_fail_at(err, CARN_MEMORY, sink->label, "out of memory");
    if (writer->out == NULL || writer->info == NULL || write_header(writer) != 0 ||
        write_icc(writer) != 0 || write_resolution(writer) != 0 || write_exif(writer) != 0 ||
        write_xmp(writer) != 0 || write_iptc(writer) != 0 || prepare_deflate(writer) != 0 ||
        start_rows(writer) != 0) {
        carn_png_write_close(writer);
        return NULL;
    }
    return writer;
}

/* Samples that were 8 bits: of such pictures zlib's runs make up to 9 % less (photographs). The
 * first row tells: it is all that can be seen before one of both has begun the stream. */
static bool widened(const uint16_t *row, size_t count)
{
    size_t i = 0;
    while (i < count && row[i] >> 8 == (row[i] & 0xff))
        i++;
    return i == count;
}

/* PNG, 9.2: filter 2, up. Of 16 bits, high byte first. */
static void filter(const struct writer *writer, const uint16_t *restrict row)
{
    size_t size = carn_sink_row_size(writer->sink);
    writer->filtered[0] = PNG_FILTER_VALUE_UP;
    unsigned char *restrict to = writer->filtered + 1, *restrict above = writer->above;
    for (size_t i = 0; i < size; i += 2) {
        unsigned char high = (unsigned char)(row[i / 2] >> 8);
        unsigned char low = (unsigned char)row[i / 2];
        to[i] = (unsigned char)(high - above[i]);
        to[i + 1] = (unsigned char)(low - above[i + 1]);
        above[i] = high;
        above[i + 1] = low;
    }
}

/* A chunk by hand: libpng's sum of it takes longer. */
static void put_data(void *to, const unsigned char *packed, size_t size)
{
    struct writer *writer = to;
    unsigned char head[] = {0, 0, 0, 0, 'I', 'D', 'A', 'T'}, sum[4];
    png_save_uint_32(head, (png_uint_32)size);
    png_save_uint_32(sum, carn_crc32(carn_crc32(0, head + 4, 4), packed, size));
    if (carn_out_write(writer->out, head, sizeof head, writer->err) != 0 ||
        carn_out_write(writer->out, packed, size, writer->err) != 0 ||
        carn_out_write(writer->out, sum, sizeof sum, writer->err) != 0)
        longjmp(png_jmpbuf(writer->png), 1);
}

int carn_png_write_row(void *state, const void *row, struct carn_error *err)
{
    struct writer *writer = state;
    writer->err = err;
    if (setjmp(png_jmpbuf(writer->png)) != 0)
        return -1;
    if (!writer->begun && writer->deflate != NULL &&
        widened(row, carn_sink_row_size(writer->sink) / 2)) {
        carn_deflate_close(writer->deflate);
        writer->deflate = NULL;
    }
    writer->begun = true;
    if (writer->deflate == NULL) {
        png_write_row(writer->png, row);
        return 0;
    }
    filter(writer, row);
    carn_deflate_part(writer->deflate, writer->filtered, 1 + carn_sink_row_size(writer->sink),
                      false, put_data, writer);
    return 0;
}

static int finish(struct writer *writer)
{
    if (setjmp(png_jmpbuf(writer->png)) != 0)
        return -1;
    if (writer->deflate == NULL) {
        png_write_end(writer->png, NULL);
        return 0;
    }
    carn_deflate_part(writer->deflate, NULL, 0, true, put_data, writer);
    png_write_chunk(writer->png, (png_const_bytep) "IEND", NULL, 0);
    return 0;
}

int carn_png_write_end(void *state, struct carn_error *err)
{
    struct writer *writer = state;
    writer->err = err;
    if (finish(writer) != 0 || carn_out_finish(writer->out, err) != 0)
        return -1;
    writer->fd = -1;
    return 0;
}

void carn_png_write_close(void *state)
{
    struct writer *writer = state;
    png_destroy_write_struct(&writer->png, &writer->info);
    carn_deflate_close(writer->deflate);
    free(writer->above);
    free(writer->filtered);
    carn_out_close(writer->out);
    if (writer->fd >= 0)
        close(writer->fd);
    free(writer);
}
