/*
 * average: a picture averaged down to a smaller one, given and taken a row at a time.
 *
 * Each new pixel is the mean of the area it covers, in encoded values, every channel by itself; a
 * pixel that lies partly in it counts by the part. Whole numbers throughout, rounded once: the mean
 * is exact to half a code and a flat picture keeps its code. Holds one row of sums.
 */
#ifndef CARN_AVERAGE_H
#define CARN_AVERAGE_H

#include "base/error.h"

#include <stddef.h>
#include <stdint.h>

struct carn_average;

/* The height that goes with a new width, in proportion and rounded, 1 at least; new_width is at
 * most width. */
size_t carn_average_height(size_t width, size_t height, size_t new_width);

/* From width x height to new_width and its height; new_width is 1 up to width. NULL with a message
 * when it is not, when the picture has over 2^48 pixels (the sums hold 64 bits), or when memory is
 * out. */
struct carn_average *carn_average_open(size_t width, size_t height, size_t channels,
                                       size_t new_width, struct carn_error *err);
void carn_average_close(struct carn_average *average);

/* Takes the next row, width * channels samples; exactly height rows in all. Gives the row of the
 * new picture that this one completed, good until the next call and as long as the row taken, or
 * NULL when it completed none. */
const uint16_t *carn_average_push(struct carn_average *average, const uint16_t *row);

#endif
