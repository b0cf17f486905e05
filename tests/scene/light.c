/*
 * light: the shape of a head, and how the studio's lamps fall on it.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

/* 0 in the middle, 1 on the outline: the square of how far out u, v is. */
double scene_head_edge(double u, double v)
{
    double half = 0.75 - 0.16 * smooth(0.05, 1.0, v);
    return (u / half) * (u / half) + (v < 0 ? v * v : pow(v, 2.6));
}

/* Nose, sockets, cheeks, lips and chin as heights over the plain head. */
static double features(double u, double v)
{
    double w = fabs(u);
    double ridge = bell(u, 0.085) * smooth(-0.2, 0.34, v) * (1 - smooth(0.36, 0.47, v));
    return 0.17 * ridge + 0.05 * bell(u, 0.09) * bell(v - 0.35, 0.07) +
           0.045 * bell(w - 0.125, 0.05) * bell(v - 0.375, 0.055) -
           0.075 * bell(w - 0.29, 0.14) * bell(v + 0.05, 0.085) +
           0.030 * bell(w - 0.28, 0.18) * bell(v + 0.2, 0.06) +
           0.030 * bell(w - 0.42, 0.17) * bell(v - 0.22, 0.15) +
           0.030 * bell(u, 0.17) * bell(v - 0.59, 0.045) +
           0.034 * bell(u, 0.14) * bell(v - 0.685, 0.045) -
           0.012 * bell(u, 0.13) * bell(v - 0.635, 0.018) -
           0.030 * bell(u, 0.15) * bell(v - 0.77, 0.04) +
           0.045 * bell(u, 0.15) * bell(v - 0.88, 0.07) -
           0.012 * bell(w - 0.24 - 0.35 * (v - 0.42), 0.03) * bell(v - 0.5, 0.1);
}

static double head_depth(double u, double v)
{
    return 0.78 * sqrt(fmax(1 - scene_head_edge(u, v), 0) + 0.004) + features(u, v);
}

/* A large soft box from the upper left beside the camera, and a reflector opposite; x right, y
 * down, z to the viewer. A soft box wraps around, hence the offset. */
struct light scene_lit(double x, double y, double z)
{
    double n = sqrt(x * x + y * y + z * z);
    x /= n;
    y /= n;
    z /= n;
    double key = fmax((-0.60 * x - 0.32 * y + 0.733 * z + 0.42) / 1.42, 0);
    double fill = 0.5 + 0.5 * (0.35 * x - 0.15 * y + 0.925 * z);
    double shine = fmax(-0.27 * x - 0.22 * y + 0.937 * z, 0);
    return (struct light){0.80 * pow(key, 1.25) + 0.24 * fill, 0.055 * pow(shine, 90)};
}

struct light scene_head_light(double u, double v)
{
    const double d = 0.004, rim = 0.97;
    /* the outermost ring takes the light just inside it */
    double out = sqrt(scene_head_edge(u, v)) / rim;
    if (out > 1) {
        u /= out;
        v /= out;
    }
    double z = head_depth(u, v);
    return scene_lit((z - head_depth(u + d, v)) / d, (z - head_depth(u, v + d)) / d, 1);
}
