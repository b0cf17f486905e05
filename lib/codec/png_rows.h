/*
 * png_rows: the rows of a plain PNG picture (not interlaced, samples of 8 or 16 bits, no palette),
 * unpacked by carn_inflate: half the time of libpng with zlib, which reads all others. Only
 * png_in.c needs it.
 */
#ifndef CARN_PNG_ROWS_H
#define CARN_PNG_ROWS_H

#include "codec/format.h"

struct carn_png_rows;

/* size: bytes of a row; pixel: bytes of a pixel, 1 to 8. The chunks are whole already
 * (carn_png_chunks), and the source's descriptor is moved. NULL with kind CARN_NONE where the build
 * has no libisal. */
struct carn_png_rows *carn_png_rows_open(const struct carn_source *source, size_t size,
                                         size_t pixel, struct carn_error *err);
void carn_png_rows_close(struct carn_png_rows *rows);

/* The next row, samples of 16 bits high byte first; it stays the reader's. NULL with a message,
 * which names y and height, when it is damaged. */
const unsigned char *carn_png_rows_next(struct carn_png_rows *rows, size_t y, size_t height,
                                        struct carn_error *err);

#endif
