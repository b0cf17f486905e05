/*
 * spline: a monotone piecewise cubic through (0,0), knots, (1,1). Pure numbers.
 *
 * Three-point derivatives, one-sided at the ends, kept 2 % within the slope bounds, then brought
 * into the circle alpha^2 + beta^2 <= 9 (F. N. Fritsch, R. E. Carlson, SIAM J. Numer. Anal. 17:238,
 * 1980).
 */
#ifndef CARN_SPLINE_H
#define CARN_SPLINE_H

#include <stddef.h>

enum { CARN_KNOTS = 64 }; /* with both ends */

#define CARN_SLOPE_LOW (1.0 / 3.0)
#define CARN_SLOPE_HIGH 3.0

struct carn_spline {
    size_t count;
    double x[CARN_KNOTS], y[CARN_KNOTS], slope[CARN_KNOTS];
};

/* From count knots inside, sorted by x, 0 < x < 1, no two x equal; count <= CARN_KNOTS - 2. */
void carn_spline_build(struct carn_spline *spline, const double *x, const double *y, size_t count);

/* *piece is a hint that speeds up rising arguments; it starts as 0. */
double carn_spline_at(const struct carn_spline *spline, double x, size_t *piece);

/* In place for count arguments, quicker, the same bits. */
void carn_spline_row(const struct carn_spline *spline, double *x, size_t count);

/* The least and greatest slope anywhere, and the x where the one is that leaves the bounds most. */
void carn_spline_slopes(const struct carn_spline *spline, double *low, double *high, double *worst);

#endif
