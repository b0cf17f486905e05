/*
 * hair: behind the head and in front of it, strand by strand.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

static double strands(const struct scene *s, double u, double v, bool curly)
{
    if (curly)
        return scene_cloud(s->seed + 8, u * 17, v * 17) +
               0.6 * scene_cloud(s->seed + 9, u * 41, v * 41);
    double turn = atan2(u, v + 1.6);
    return scene_cloud(s->seed + 8, turn * 90, v * 3) +
           0.5 * scene_cloud(s->seed + 9, turn * 210, v * 5);
}

static void lay_hair(const struct scene *s, const struct person *who, double u, double v,
                     double alpha, struct paint *p)
{
    if (alpha <= 0)
        return;
    struct light l = scene_lit(u * 1.1, (v + 0.2) * 0.9, 0.55);
    double shine = 0.35 * bell(v + 0.72 + 0.25 * u, 0.13);
    double light = (l.diffuse + shine) * (1 + 0.3 * strands(s, u, v, who->singer->hair == CURLY));
    scene_lay(p, s->material[who->singer->hair_colour], fmax(light, 0.1), alpha);
}

void scene_paint_hair_back(const struct scene *s, const struct person *who, double u, double v,
                           double soft, struct paint *p)
{
    double w = fabs(u), d = -1;
    if (who->singer->hair == LONG)
        d = v < 0 ? scene_ellipse(u, v, 0.93, 1.15)
                  : fmin(0.93 + 0.06 * sin(2.5 * v) - w - 0.3 * smooth(0.9, 1.5, v),
                         1.46 - 0.22 * w * w - v);
    if (who->singer->hair == CURLY)
        d = scene_ellipse(u, v + 0.22, 1.05, 1.05) + 0.05 * scene_cloud(s->seed + 10, u * 7, v * 7);
    lay_hair(s, who, u, v, cover(d, soft), p);
}

void scene_paint_hair_front(const struct scene *s, const struct person *who, double u, double v,
                            double soft, struct paint *p)
{
    if (who->singer->hair == SHAVED)
        return;
    double w = fabs(u), side = who->singer->hair == SHORT ? 0.1 : 0.5;
    double line = -0.60 + 1.9 * pow(fmax(w - 0.33, 0), 1.3) +
                  0.02 * scene_cloud(s->seed + 11, u * 30, 0) +
                  0.03 * scene_cloud(s->seed + 12, u * 9, 0);
    double cap = scene_ellipse(u, v + 0.02, 0.82, 1.10) +
                 (who->singer->hair == CURLY ? 0.04 * scene_cloud(s->seed + 13, u * 9, v * 9) : 0);
    double d = fmin(cap, fmin(line - v, side - v));
    lay_hair(s, who, u, v, cover(d, fmax(soft, 0.035)), p);
}
