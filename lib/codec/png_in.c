/* PNG in, through libpng: every colour type and depth to 8 or 16 bit grey or RGB, with alpha where
 * the file has it. An interlaced picture is held whole. The rows of a plain picture are read by
 * carn_png_rows where the build has libisal. */
#include "codec/format.h"
#include "codec/png_chunks.h"
#include "codec/png_out.h"
#include "codec/png_rows.h"
#include "frame/keys.h"

#include <png.h>
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct reader {
    const struct carn_source *source;
    struct carn_error *err; /* of the call that is running */
    struct carn_in *in;
    png_structp png;
    png_infop info;
    size_t width, height, channels, y;
    int depth;
    struct carn_png_rows *rows; /* of a plain picture; NULL: libpng reads them */
    unsigned char *row;         /* one row as libpng gives it */
    unsigned char *held;        /* all of them, when interlaced */
};

/* libpng ends a call that failed through here; text says why, without the file. */
static void on_error(png_structp png, png_const_charp text)
{
    struct reader *reader = png_get_error_ptr(png);
    carn_fail_at(reader->err, CARN_INPUT, reader->source->label,
                 "PNG damaged at row %zu of %zu: %s", reader->y, reader->height, text);
    longjmp(png_jmpbuf(png), 1);
}

/* libpng's warnings do not concern pixels; the chunks that make pixels are checked in png_chunks.c.
 */
static void on_warning(png_structp png, png_const_charp text)
{
    (void)png;
    (void)text;
}

static void on_read(png_structp png, png_bytep to, size_t size)
{
    struct reader *reader = png_get_io_ptr(png);
    long got = carn_in_read(reader->in, to, size, reader->err);
    if (got < 0)
        longjmp(png_jmpbuf(png), 1);
    if ((size_t)got < size) {
        carn_fail_at(reader->err, CARN_INPUT, reader->source->label,
                     "PNG cut short at row %zu of %zu", reader->y, reader->height);
        longjmp(png_jmpbuf(png), 1);
    }
}

static void read_close(void *state)
{
    struct reader *reader = state;
    png_destroy_read_struct(&reader->png, &reader->info, NULL);
    carn_in_close(reader->in);
    carn_png_rows_close(reader->rows);
    free(reader->row);
    free(reader->held);
    free(reader);
}

/* libpng reads only the chunks that make up pixels. It would change or drop profiles and text, and
 * let a broken one pass with a warning. */
static void ignore_chunks(png_structp png)
{
    static const png_byte names[] = "bKGD\0cHRM\0eXIf\0gAMA\0hIST\0iCCP\0iTXt\0oFFs\0pCAL\0pHYs\0"
                                    "sBIT\0sCAL\0sPLT\0sRGB\0sTER\0tEXt\0tIME\0zTXt";
    png_set_keep_unknown_chunks(png, PNG_HANDLE_CHUNK_NEVER, names, sizeof names / 5);
    png_set_option(png, PNG_SKIP_sRGB_CHECK_PROFILE, PNG_OPTION_ON);
}

/* Header up to the first pixel, and what libpng shall make of the rows. No local variable lives
 * across the setjmp. */
static int read_header(struct reader *reader)
{
    if (setjmp(png_jmpbuf(reader->png)) != 0)
        return -1;
    png_set_read_fn(reader->png, reader, on_read);
    ignore_chunks(reader->png);
    png_set_user_limits(reader->png, PNG_UINT_31_MAX, PNG_UINT_31_MAX);
    /* The sums are checked already. */
    png_set_crc_action(reader->png, PNG_CRC_QUIET_USE, PNG_CRC_QUIET_USE);
    png_read_info(reader->png, reader->info);
    reader->width = png_get_image_width(reader->png, reader->info);
    reader->height = png_get_image_height(reader->png, reader->info);
    return 0;
}

static int set_up_rows(struct reader *reader)
{
    if (setjmp(png_jmpbuf(reader->png)) != 0)
        return -1;
    png_set_expand(reader->png);
    if (__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__)
        png_set_swap(reader->png);
    (void)png_set_interlace_handling(reader->png);
    png_read_update_info(reader->png, reader->info);
    reader->channels = png_get_channels(reader->png, reader->info);
    reader->depth = png_get_bit_depth(reader->png, reader->info);
    return 0;
}

/* Whether libpng has nothing to do for a row but to unpack it, and swap its bytes. */
static bool is_plain(const struct reader *reader)
{
    return png_get_interlace_type(reader->png, reader->info) == PNG_INTERLACE_NONE &&
           png_get_color_type(reader->png, reader->info) != PNG_COLOR_TYPE_PALETTE &&
           png_get_bit_depth(reader->png, reader->info) >= 8 &&
           png_get_valid(reader->png, reader->info, PNG_INFO_tRNS) == 0;
}

/* Opens rows for a plain picture. Called before libpng is told what to make of it. */
static int open_rows(struct reader *reader, struct carn_error *err)
{
    if (!is_plain(reader))
        return 0;
    size_t pixel = (size_t)png_get_channels(reader->png, reader->info) *
                   png_get_bit_depth(reader->png, reader->info) / 8;
    reader->rows = carn_png_rows_open(reader->source, reader->width * pixel, pixel, err);
    return reader->rows == NULL && err->kind != CARN_NONE ? -1 : 0;
}

static int hold(struct reader *reader, struct carn_error *err)
{
    size_t row = reader->width * reader->channels * (size_t)(reader->depth / 8);
    if (reader->rows != NULL)
        return 0;
    if (png_get_interlace_type(reader->png, reader->info) == PNG_INTERLACE_NONE) {
        reader->row = carn_alloc(row, 1, err);
        return reader->row == NULL ? -1 : 0;
    }
    if (carn_source_hold(reader->source, (uint64_t)row * reader->height, "an interlaced picture",
                         err) != 0)
        return -1;
    reader->held = carn_alloc(reader->height, row, err);
    return reader->held == NULL ? -1 : 0;
}

static int begin(struct reader *reader, struct carn_source *source, struct carn_frame *frame,
                 struct carn_error *err)
{
    reader->source = source;
    reader->err = err;
    if (lseek(source->fd, 0, SEEK_SET) < 0)
        return carn_fail_at(err, CARN_SYSTEM, source->label, "cannot seek");
    reader->in = carn_in_open(source->fd, source->label, err);
    if (reader->in == NULL)
        return -1;
    reader->png = png_create_read_struct(PNG_LIBPNG_VER_STRING, reader, on_error, on_warning);
    reader->info = reader->png == NULL ? NULL : png_create_info_struct(reader->png);
    if (reader->info == NULL)
        return carn_fail_at(err, CARN_MEMORY, source->label, "out of memory");
    if (carn_frame_set_orientation(frame, 1, err) != 0 ||
        carn_png_chunks(source, frame, err) != 0 || read_header(reader) != 0 ||
        carn_source_pixels(source, reader->width, reader->height, err) != 0 ||
        open_rows(reader, err) != 0 || set_up_rows(reader) != 0 || hold(reader, err) != 0)
        return -1;
    frame->width = reader->width;
    frame->height = reader->height;
    frame->colours = reader->channels >= 3 ? 3 : 1;
    frame->alpha = reader->channels % 2 == 0;
    if (frame->alpha && carn_frame_set_alpha(frame, false, err) != 0)
        return -1;
    return carn_frame_set_depth(frame, reader->depth, err);
}

static void *read_open(struct carn_source *source, struct carn_frame *frame, struct carn_error *err)
{
    struct reader *reader = carn_alloc(1, sizeof *reader, err);
    if (reader != NULL && begin(reader, source, frame, err) != 0) {
        read_close(reader);
        return NULL;
    }
    return reader;
}

/* All passes of an interlaced picture. */
static int read_held(struct reader *reader)
{
    size_t size = reader->width * reader->channels * (size_t)(reader->depth / 8);
    if (setjmp(png_jmpbuf(reader->png)) != 0)
        return -1;
    for (int pass = 0; pass < PNG_INTERLACE_ADAM7_PASSES; pass++)
        for (size_t y = 0; y < reader->height; y++)
            png_read_row(reader->png, reader->held + y * size, NULL);
    png_read_end(reader->png, NULL);
    return 0;
}

/* The next row. After the last one the rest of the file is read too: a picture counts as whole only
 * when its file is. */
static int read_one(struct reader *reader)
{
    if (setjmp(png_jmpbuf(reader->png)) != 0)
        return -1;
    png_read_row(reader->png, reader->row, NULL);
    if (reader->y + 1 == reader->height)
        png_read_end(reader->png, NULL);
    return 0;
}

/* The next row in samples of depth bits; those of 16 are the host's but from carn_png_rows. */
static const unsigned char *next_row(struct reader *reader, size_t size, struct carn_error *err)
{
    if (reader->rows != NULL)
        return carn_png_rows_next(reader->rows, reader->y, reader->height, err);
    if (reader->held == NULL)
        return read_one(reader) == 0 ? reader->row : NULL;
    if (reader->y == 0 && read_held(reader) != 0)
        return NULL;
    return reader->held + reader->y * size;
}

static int read_row(void *state, uint16_t *row, struct carn_error *err)
{
    struct reader *reader = state;
    size_t count = reader->width * reader->channels;
    reader->err = err;
    const unsigned char *from = next_row(reader, count * (size_t)(reader->depth / 8), err);
    if (from == NULL)
        return -1;
    if (reader->depth == 8)
        carn_widen_row(from, row, count);
    else if (reader->rows == NULL)
        memcpy(row, from, count * 2);
    else
        for (size_t i = 0; i < count; i++)
            row[i] = (uint16_t)(from[2 * i] << 8 | from[2 * i + 1]);
    reader->y++;
    return 0;
}

const struct carn_format carn_format_png = {
    .name = "PNG",
    .suffixes = "png",
    .magic = {"\x89PNG"},
    .magic_size = 4,
    .alpha = CARN_ALPHA_STRAIGHT,
    .depths = 16,
    .read_open = read_open,
    .read_row = read_row,
    .read_close = read_close,
    .write_open = carn_png_write_open,
    .write_row = carn_png_write_row,
    .write_end = carn_png_write_end,
    .write_close = carn_png_write_close,
};
