/*
 * surface: fine detail, mottle and highlights of one patch, from single pixels, by spatial band. It
 * tells cameras apart by what they do to skin. Bands are in periods over the patch's width, so that
 * pictures of different sizes compare.
 *
 * The bank of filters is the discrete cosine transform of the whole patch (type II, orthonormal,
 * in both directions), cut into octaves by distance from the origin: by Parseval the parts sum to
 * the mean square of the patch about its plane. Coefficients past the last band are left out in
 * patches wider than 256 pixels, so that time grows with pixels only. Rows are added to the
 * coefficients as they come; held are those, cosines of the sides, and 64 rows of wide patches.
 */
#ifndef CARN_SURFACE_H
#define CARN_SURFACE_H

#include "base/error.h"
#include "colour/profile.h"
#include "frame/frame.h"
#include "frame/patch.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Band i: from 2^(i+1) up to 2^(i+2) periods over the patch's width. */
enum { CARN_BANDS = 6 };

/* Mean squares of one plane about its own least-squares plane; low + bands + rest is all of it up
 * to a width of 256. white: the variance of white noise, read beyond half a period a pixel, where
 * only diagonal waves are; for wide patches in squares of 64 pixels. */
struct carn_bands {
    double low, band[CARN_BANDS], rest, white;
    size_t count[CARN_BANDS]; /* coefficients in the band */
    size_t corner_count;      /* and those that white is the mean of */
};

/* width * height values, row by row. A band counts up to half a period a pixel only. */
int carn_bands_measure(const float *plane, size_t width, size_t height, struct carn_bands *bands,
                       struct carn_error *err);

/* Roots of mean squares, NAN where the patch is too small to tell. */
struct carn_surface_row {
    double band[3][CARN_BANDS]; /* L*, a*, b*, grain taken off */
    double grain[3];            /* a pixel */
    double detail;              /* L*, bands from 8 periods on */
    double mottle[2];           /* a*, b*, bands from 2 to 8 periods */
    double highlight;           /* L* that 2 % of squares of a 64th of the width exceed */
    double shoulder;            /* from the median to there, by as far below the median */
    double chroma_slope;        /* chroma per L* from the middle of L* to its top twentieth */
};

struct carn_surface;

/* box is copied; profile is for the frame and has to stay. Refuses less than 16 by 16 pixels. */
struct carn_surface *carn_surface_open(const struct carn_box *box, const struct carn_frame *frame,
                                       const struct carn_profile *profile, struct carn_error *err);
void carn_surface_close(struct carn_surface *surface);

/* Takes row y of the frame, from the first to the last. */
void carn_surface_take(struct carn_surface *surface, size_t y, const uint16_t *row);

/* Once. -1 with a message when a pixel was not opaque. */
int carn_surface_finish(struct carn_surface *surface, struct carn_surface_row *row,
                        struct carn_error *err);

#endif
