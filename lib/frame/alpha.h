/*
 * alpha: samples multiplied with alpha (key alpha associated), and the colours that they stand for.
 *
 * Codes 0..65535 stand for 0..1. Both ways round to the nearest code. Dividing, what lies halfway
 * goes up; multiplying, nothing lies halfway.
 */
#ifndef CARN_ALPHA_H
#define CARN_ALPHA_H

#include <stdint.h>

/* The colour of a sample. More than alpha is white; where nothing is opaque there is no colour to
 * find: 0. */
static inline uint16_t carn_alpha_divide(uint32_t sample, uint32_t alpha)
{
    if (alpha == 0)
        return 0;
    return (uint16_t)(sample >= alpha ? 65535 : (sample * 65535 + alpha / 2) / alpha);
}

static inline uint16_t carn_alpha_multiply(uint32_t colour, uint32_t alpha)
{
    return (uint16_t)((colour * alpha + 32767) / 65535);
}

#endif
