/*
 * lut: a look-up table of 65,536 entries for each of three channels, and its use on a row.
 */
#ifndef CARN_LUT_H
#define CARN_LUT_H

#include "frame/frame.h"

#include <stdint.h>

struct carn_lut {
    uint16_t entry[3][65536];
};

/*
 * Looks up one RGB row of the frame in place. Alpha and weight pass on. Where there is a weight w
 * of 0..1, the result is in + w (table(in) - in). Samples multiplied with alpha (key alpha
 * associated) are looked up as the colours that they stand for.
 */
void carn_lut_row(const struct carn_lut *lut, const struct carn_frame *frame, uint16_t *row);

#endif
