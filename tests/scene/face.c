/*
 * face: skin with its hollows and shadows, eyes and mouth. Places are in head measure (light.c).
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

static void paint_eye(const struct scene *s, const struct person *who, double u, double v,
                      double soft, struct paint *p)
{
    double e = fabs(u) - 0.29, t = v + 0.045;
    if (fabs(e) > 0.24 || fabs(t) > 0.28)
        return;
    double open = 1 - (e / 0.145) * (e / 0.145);
    double top = -0.056 * open - 0.012, low = 0.048 * open - 0.012;
    double d = open <= 0 ? -0.05 : fmin(t - top, low - t);
    double look = u < 0 ? -e : e; /* both irises look the same way */
    double iris = hypot(look + 0.004, t + 0.012);
    double in = cover(d, fmax(soft, 0.012));
    double dim = 0.5 + 0.5 * smooth(-0.07, 0.0, t);
    struct light l = scene_head_light(u, -0.30);
    scene_lay(p, s->material[EYE], 0.85 * dim * l.diffuse, in);
    scene_lay(p, s->material[who->singer->iris], dim, in * cover(0.058 - iris, fmax(soft, 0.012)));
    scene_lay(p, s->material[DARK], 0.7, in * cover(0.027 - iris, fmax(soft, 0.01)));
    double glint = 0.018 - hypot(e + 0.02, t + 0.034);
    scene_lay(p, s->material[CARD], 2.6, in * cover(glint, fmax(soft, 0.01)));
    double lash = open <= -0.1 ? 0 : bell(t - top, 0.010) * smooth(-0.1, 0.25, open);
    double low_lash = open <= 0 ? 0 : 0.3 * bell(t - low, 0.008) * smooth(0, 0.4, open);
    scene_lay(p, s->material[DARK], 1, 0.85 * fmax(lash, low_lash));
    double brow = t + 0.165 + 0.045 * (1 - (e / 0.2) * (e / 0.2));
    double hair = bell(brow, 0.020 - 0.03 * e * (e > 0 ? 1 : 0)) * smooth(0.22, 0.15, fabs(e));
    double stroke = 0.85 + 0.3 * scene_cloud(s->seed + 14, u * 60 + 20 * v, v * 25);
    enum material colour = who->singer->hair_colour;
    if (colour == FAIR_HAIR)
        colour = BROWN_HAIR;
    scene_lay(p, s->material[colour], 0.8, limit(0.75 * hair * stroke, 0, 1));
}

static void paint_mouth(const struct person *who, double u, double v, double soft,
                        struct light light, struct paint *p)
{
    double x = u / 0.205, open = 1 - x * x;
    if (open <= 0 || v < 0.5 || v > 0.75)
        return;
    double middle = 0.625 - 0.012 * x * x + 0.006 * bell(u, 0.05);
    double top = middle - 0.062 * open * (1 - 0.22 * bell(u, 0.035));
    double low = middle + 0.080 * open;
    light.shine *= 0.5;
    scene_lay_skin(p, &who->lips, light, 0.85 * cover(fmin(v - top, low - v), fmax(soft, 0.02)));
    light.diffuse *= 0.28;
    light.shine = 0;
    scene_lay_skin(p, &who->lips, light, 0.9 * bell(v - middle, 0.007) * smooth(0, 0.15, open));
}

void scene_paint_face(const struct scene *s, const struct person *who, double u, double v,
                      double soft, struct paint *p)
{
    double edge = scene_head_edge(u, v);
    double in = cover((1 - sqrt(edge)) * 0.62, soft);
    if (in <= 0)
        return;
    struct light l = scene_head_light(u, v);
    double w = fabs(u);
    double scalp = who->singer->hair == SHAVED ? 0.12 * smooth(-0.52, -0.64, v) : 0;
    double socket = 0.16 * bell(w - 0.27, 0.13) * bell(v + 0.11, 0.05);
    double crease = 0.20 * bell(v + 0.125 - 0.04 * (1 - pow((w - 0.29) / 0.15, 2)), 0.010) *
                    bell(w - 0.29, 0.10);
    double shadow = 0.22 * bell(u - 0.05, 0.10) * bell(v - 0.46, 0.035) +
                    0.12 * bell(u - 0.14, 0.05) * bell(v - 0.25, 0.15);
    double nostril = 0.65 * bell(w - 0.068, 0.026) * bell(v - 0.425, 0.014);
    l.diffuse *= (1 - scalp - socket - crease - shadow) * (1 - nostril) / who->reference;
    l.shine *= 1 - nostril;
    double fine = (s->detail == SOUTH ? 0.5 : 1.0) * smooth(3.0, 1.2, s->pixel * 260);
    l.diffuse *= 1 + 0.05 * fine * scene_cloud(s->seed + 15, u * 70, v * 70) +
                 0.035 * fine * scene_cloud(s->seed + 16, u * 150, v * 150);
    scene_lay_skin(p, &who->skin, l, in);
    paint_mouth(who, u, v, soft, l, p);
    paint_eye(s, who, u, v, soft, p);
}
