#include "frame/dither.h"

/* A mixing of 32 bits in which every bit of the result depends on every bit of v (the multipliers
 * are the low-bias ones found by search and published by C. Wellons, "Prospecting for hash
 * functions", 2018). */
static uint32_t mix(uint32_t v)
{
    v ^= v >> 16;
    v *= 0x7feb352dU;
    v ^= v >> 15;
    v *= 0x846ca68bU;
    return v ^ (v >> 16);
}

/* floor(v / 257 + t / 65536) in whole numbers: v / 257 is q with a rest of r / 257. */
static unsigned char step(uint32_t v, uint32_t t)
{
    uint32_t q = v / 257;
    uint32_t r = v % 257;
    return (unsigned char)(q + (r * 65536 + t * 257 >= 257U * 65536));
}

void carn_dither_row(const uint16_t *from, unsigned char *to, size_t width, size_t channels,
                     bool alpha, size_t y)
{
    uint32_t row = mix((uint32_t)y);
    size_t count = width * channels;
    for (size_t i = 0; i < count; i++)
        to[i] = step(from[i], mix(row + (uint32_t)i) >> 16);
    if (alpha)
        for (size_t i = channels - 1; i < count; i += channels)
            to[i] = (unsigned char)((from[i] + 128U) / 257);
}
