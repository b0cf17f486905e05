/*
 * blur: Gaussian blur of a picture given and taken a row at a time.
 *
 * Every channel by itself, in encoded values; beyond an edge the picture goes on with its outermost
 * pixels. Against a convolution with the sampled Gaussian in double precision, a full step comes
 * out within 2 codes of 65535 (1 of them rounding), a photograph within 1.5; a flat picture keeps
 * its code exactly. Time a pixel does not depend on sigma while the picture is several sigma wide
 * and high.
 *
 * Held in memory: the rows under the Gaussian, 9 sigma + 18 of them or the picture's height,
 * whichever is less, and some 170 bytes a sample of one row.
 */
#ifndef CARN_BLUR_H
#define CARN_BLUR_H

#include "base/error.h"

#include <stddef.h>
#include <stdint.h>

/* The largest sigma, pixels. Only here to bound the rows held and the run into the first row. */
#define CARN_BLUR_LIMIT 10000.0

struct carn_blur;

/* sigma in pixels, above 0 up to CARN_BLUR_LIMIT. NULL with a message for another sigma or when
 * memory is out. */
struct carn_blur *carn_blur_open(double sigma, size_t width, size_t height, size_t channels,
                                 struct carn_error *err);
void carn_blur_close(struct carn_blur *blur);

/* Takes the next row, width * channels samples; exactly height rows in all. Between two rows,
 * carn_blur_pull has to be called until it gives NULL. */
void carn_blur_push(struct carn_blur *blur, const uint16_t *row);

/* The next finished row, good until the next call; NULL when more rows have to be pushed first, or
 * when all height rows were given. */
const uint16_t *carn_blur_pull(struct carn_blur *blur);

#endif
