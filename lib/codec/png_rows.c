#include "codec/png_rows.h"

#include "base/io.h"
#include "codec/deflate.h"

#include <png.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { SIGNATURE = 8, HEAD = 8, SUM = 4 };

struct carn_png_rows {
    const struct carn_source *source;
    struct carn_in *in;
    struct carn_inflate *inflate;
    uint32_t left; /* bytes of this IDAT chunk that were not read yet */
    bool ended;    /* the IDAT chunks */
    size_t size, pixel;
    unsigned char *row, *above; /* without their filter types */
};

/* The head of the next IDAT chunk; past the sum of the one before. The IDAT chunks follow one
 * another (PNG specification, third edition, 5.6). */
static int next_chunk(struct carn_png_rows *rows, bool first, struct carn_error *err)
{
    unsigned char head[SUM + HEAD];
    size_t sum = first ? 0 : SUM;
    long got = carn_in_read(rows->in, head, sum + HEAD, err);
    if (got < 0)
        return -1;
    rows->ended = (size_t)got < sum + HEAD || memcmp(head + sum + 4, "IDAT", 4) != 0;
    rows->left = rows->ended ? 0 : carn_big_endian(head + sum);
    return 0;
}

/* Packed bytes, for carn_inflate. */
static long get_packed(void *from, void *to, size_t room, struct carn_error *err)
{
    struct carn_png_rows *rows = from;
    size_t done = 0;
    while (done < room && !rows->ended) {
        size_t part = room - done < rows->left ? room - done : rows->left;
        long got = carn_in_read(rows->in, (unsigned char *)to + done, part, err);
        if (got < 0)
            return -1;
        done += (size_t)got;
        rows->left -= (uint32_t)got;
        rows->ended = (size_t)got < part;
        if (rows->left == 0 && !rows->ended && next_chunk(rows, false, err) != 0)
            return -1;
    }
    return (long)done;
}

/* Moves to the data of the first IDAT chunk; every chunk before it is whole. */
static int find_data(struct carn_png_rows *rows, struct carn_error *err)
{
    uint64_t at = SIGNATURE;
    unsigned char head[HEAD];
    for (;;) {
        if (carn_source_at(rows->source, at, head, HEAD, "a PNG chunk", err) != 0)
            return -1;
        if (memcmp(head + 4, "IDAT", 4) == 0)
            break;
        at += HEAD + (uint64_t)carn_big_endian(head) + SUM;
    }
    if (lseek(rows->source->fd, (off_t)at, SEEK_SET) < 0)
        return carn_fail_at(err, CARN_SYSTEM, rows->source->label, "cannot seek");
    rows->in = carn_in_open(rows->source->fd, rows->source->label, err);
    return rows->in == NULL ? -1 : next_chunk(rows, true, err);
}

struct carn_png_rows *carn_png_rows_open(const struct carn_source *source, size_t size,
                                         size_t pixel, struct carn_error *err)
{
    struct carn_png_rows *rows = carn_alloc(1, sizeof *rows, err);
    if (rows == NULL)
        return NULL;
    rows->source = source;
    rows->size = size;
    rows->pixel = pixel;
    rows->inflate = carn_inflate_open(get_packed, rows, err);
    if (rows->inflate != NULL) {
        rows->row = carn_alloc(size, 1, err);
        rows->above = carn_alloc(size, 1, err);
    }
    if (rows->row == NULL || rows->above == NULL || find_data(rows, err) != 0) {
        carn_png_rows_close(rows);
        return NULL;
    }
    return rows;
}

void carn_png_rows_close(struct carn_png_rows *rows)
{
    if (rows == NULL)
        return;
    carn_inflate_close(rows->inflate);
    if (rows->in != NULL)
        carn_in_close(rows->in);
    free(rows->row);
    free(rows->above);
    free(rows);
}

/* Of the left, the one above, and the one above the left, the nearest to a + b - c (9.4). */
static unsigned char paeth(int a, int b, int c)
{
    int pa = abs(b - c), pb = abs(a - c), pc = abs(a + b - 2 * c);
    int near = pa <= pb ? a : b;
    return (unsigned char)(pc < (pa <= pb ? pa : pb) ? c : near);
}

/* PNG specification, 9.2: each byte was stored less what its neighbours foretell, byte by byte at
 * the distance of a pixel; beyond the picture's edge they are 0. */
static bool unfilter(const struct carn_png_rows *rows, unsigned char type)
{
    unsigned char *restrict row = rows->row;
    const unsigned char *restrict above = rows->above;
    size_t size = rows->size, pixel = rows->pixel;
    switch (type) {
    case PNG_FILTER_VALUE_NONE:
        break;
    case PNG_FILTER_VALUE_SUB:
        for (size_t i = pixel; i < size; i++)
            row[i] = (unsigned char)(row[i] + row[i - pixel]);
        break;
    case PNG_FILTER_VALUE_UP:
        for (size_t i = 0; i < size; i++)
            row[i] = (unsigned char)(row[i] + above[i]);
        break;
    case PNG_FILTER_VALUE_AVG:
        for (size_t i = 0; i < pixel; i++)
            row[i] = (unsigned char)(row[i] + above[i] / 2);
        for (size_t i = pixel; i < size; i++)
            row[i] = (unsigned char)(row[i] + (row[i - pixel] + above[i]) / 2);
        break;
    case PNG_FILTER_VALUE_PAETH:
        for (size_t i = 0; i < pixel; i++)
            row[i] = (unsigned char)(row[i] + above[i]);
        for (size_t i = pixel; i < size; i++)
            row[i] = (unsigned char)(row[i] + paeth(row[i - pixel], above[i], above[i - pixel]));
        break;
    default:
        return false;
    }
    return true;
}

const unsigned char *carn_png_rows_next(struct carn_png_rows *rows, size_t y, size_t height,
                                        struct carn_error *err)
{
    unsigned char type;
    unsigned char *above = rows->row;
    rows->row = rows->above;
    rows->above = above;
    long got = carn_inflate_read(rows->inflate, &type, 1, err);
    if (got == 1)
        got = carn_inflate_read(rows->inflate, rows->row, rows->size, err);
    if (got < 0)
        return NULL;
    const char *fault = (size_t)got < rows->size ? "its data end or cannot be unpacked"
                        : !unfilter(rows, type)  ? "no such filter"
                                                 : NULL;
    if (fault == NULL)
        return rows->row;
    carn_fail_at(err, CARN_INPUT, rows->source->label, "PNG damaged at row %zu of %zu: %s", y,
                 height, fault);
    return NULL;
}
