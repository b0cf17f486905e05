/*
 * paint: laying a colour over a pixel, and the shapes whose edges say how much of it.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

static void blend(struct paint *p, const double xyz[3], double light, double alpha, double skin)
{
    for (int i = 0; i < 3; i++)
        p->xyz[i] += alpha * (xyz[i] * light - p->xyz[i]);
    p->skin += alpha * (skin - p->skin);
}

void scene_lay(struct paint *p, const double xyz[3], double light, double alpha)
{
    blend(p, xyz, light, alpha, 0);
}

void scene_lay_skin(struct paint *p, const struct shades *table, struct light light, double alpha)
{
    const double white[3] = {carn_d50.X, carn_d50.Y, carn_d50.Z};
    double xyz[3];
    scene_shade(table, light.diffuse, xyz);
    for (int i = 0; i < 3; i++)
        xyz[i] += light.shine * white[i];
    blend(p, xyz, 1, alpha, 1);
}

double scene_rectangle(double x, double y, double w, double h)
{
    return fmin(w - fabs(x), h - fabs(y));
}

double scene_ellipse(double x, double y, double w, double h)
{
    return (1 - hypot(x / w, y / h)) * fmin(w, h);
}
