/*
 * upright: where a stored pixel lies in the picture as it is seen, by its orientation: 1 to 8
 * (Exif, tag 274; carn_frame_orientation).
 */
#ifndef CARN_UPRIGHT_H
#define CARN_UPRIGHT_H

#include <stdbool.h>
#include <stddef.h>

/* Are the stored rows columns of the upright picture, its width its height? 5 to 8. */
bool carn_upright_lies(unsigned orientation);

/* The orientation that turns the upright picture back into the stored one. */
unsigned carn_upright_back(unsigned orientation);

/* A stored place in the upright picture: x' = m[0][0] x + m[0][1] y + m[0][2], and y' by m[1].
 * right, bottom: the greatest x and y of the stored picture: 1 when places are shares of it, its
 * width and height when they are edges of pixels, one less when they are pixels. */
struct carn_upright {
    double m[2][3];
};
struct carn_upright carn_upright(unsigned orientation, double right, double bottom);
static inline void carn_upright_place(const struct carn_upright *upright, double x, double y,
                                      double *u, double *v)
{
    *u = upright->m[0][0] * x + upright->m[0][1] * y + upright->m[0][2];
    *v = upright->m[1][0] * x + upright->m[1][1] * y + upright->m[1][2];
}

/* Whole pixels: x0 <= x < x1 and y0 <= y < y1. */
struct carn_area {
    size_t x0, y0, x1, y1;
};

/* An area of a stored picture of wide by high pixels in the upright one, without rounding; with
 * carn_upright_back of an upright picture in the stored one. */
struct carn_area carn_upright_area(unsigned orientation, size_t wide, size_t high,
                                   struct carn_area area);

#endif
