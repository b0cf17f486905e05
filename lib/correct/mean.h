/*
 * mean: the robust mean of a patch's pixels.
 */
#ifndef CARN_MEAN_H
#define CARN_MEAN_H

#include "base/error.h"

#include <stddef.h>
#include <stdint.h>

/* By rank of the sum of channels without the lightest and the darkest tenth; of all pixels; the
 * median of each channel. */
enum carn_mean { CARN_TRIMMED, CARN_PLAIN, CARN_MEDIAN };

/* Of count pixels, one or more, of `colours` 16-bit samples (1 or 3): mean is encoded, 0..1, what
 * is over `colours` is 0 or left as it was. The order of pixels does not matter. -1 with a message
 * when memory is out. */
int carn_mean_of(const uint16_t *samples, size_t count, size_t colours, enum carn_mean kind,
                 double mean[3], struct carn_error *err);

#endif
