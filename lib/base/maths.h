/*
 * maths: what several rooms compute alike.
 */
#ifndef CARN_MATHS_H
#define CARN_MATHS_H

#define CARN_PI 3.14159265358979323846

/* 0 up to from, 1 from to on, a line between; from may be over to. */
static inline double carn_ramp(double v, double from, double to)
{
    double t = (v - from) / (to - from);
    t = t < 0 ? 0 : t;
    return t > 1 ? 1 : t;
}

/* The same with a smooth curve between, level at both ends. */
static inline double carn_rise(double v, double from, double to)
{
    double t = carn_ramp(v, from, to);
    return t * t * (3 - 2 * t);
}

/* For loops over pixels. */
static inline float carn_risef(float v, float from, float to)
{
    float t = (v - from) / (to - from);
    t = t < 0 ? 0 : t;
    t = t > 1 ? 1 : t;
    return t * t * (3 - 2 * t);
}

#endif
