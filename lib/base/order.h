/*
 * order: what stands in the middle of numbers, or at another rank.
 */
#ifndef CARN_ORDER_H
#define CARN_ORDER_H

#include <stddef.h>

/* The median of count numbers, the mean of the middle two of an even count. It and those below move
 * the numbers about; count is over 0. */
double carn_median(double *v, size_t count);

/* The middle number, the upper one of an even count; no mean, so that it is one of them. */
double carn_upper_median(float *v, size_t count);

/* The number below which a share (0..1) of the others lies; 0.5: the lower middle one. */
double carn_quantile(float *v, size_t count, double share);

#endif
