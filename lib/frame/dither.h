/*
 * dither: 16 bit samples to 8 so that means survive (colour.md 11).
 *
 * floor(v / 257 + t) with t in [0, 1) a fixed hash of column, row and channel: the same picture
 * gives the same bytes, and what came from 8 bit (v = 257 n) comes back as n.
 */
#ifndef CARN_DITHER_H
#define CARN_DITHER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* One row of width pixels of channels samples. alpha: the last channel is alpha; it is rounded, not
 * dithered. */
void carn_dither_row(const uint16_t *from, unsigned char *to, size_t width, size_t channels,
                     bool alpha, size_t y);

#endif
