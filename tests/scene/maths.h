/*
 * maths: the few small functions that every formula here is made of; short names, and inline
 * because a pixel takes hundreds of them.
 */
#ifndef SCENE_MATHS_H
#define SCENE_MATHS_H

#include "colour/lab.h"

#include <math.h>

static inline double limit(double v, double low, double high)
{
    return v < low ? low : v > high ? high : v;
}

/* 0 up to from, 1 beyond to, a smooth step between. */
static inline double smooth(double from, double to, double v)
{
    double t = limit((v - from) / (to - from), 0, 1);
    return t * t * (3 - 2 * t);
}

/* 1 where d is 0, falling to both sides over about width. */
static inline double bell(double d, double width)
{
    double t = d / width;
    return t * t > 20 ? 0 : exp(-0.5 * t * t);
}

/* Coverage of a shape whose edge is d inside (positive) for edges about soft wide. */
static inline double cover(double d, double soft)
{
    return limit(0.5 + d / soft, 0, 1);
}

/* Matrices are row by row. */
static inline void multiply(const double m[9], const double v[3], double to[3])
{
    for (int i = 0; i < 3; i++)
        to[i] = m[3 * i] * v[0] + m[3 * i + 1] * v[1] + m[3 * i + 2] * v[2];
}

static inline struct carn_lab lab_of(const double xyz[3])
{
    return carn_xyz_to_lab((struct carn_xyz){xyz[0], xyz[1], xyz[2]}, carn_d50);
}

#endif
