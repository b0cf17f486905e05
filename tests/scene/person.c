/*
 * person: one singer from back to front: shirt, hair, neck, ears, face, hair again, scarf.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

static void paint_neck(const struct person *who, double u, double v, double soft, struct paint *p)
{
    double w = fabs(u), half = 0.40 + 0.10 * smooth(0.95, 1.35, v);
    double opening = 1.30 + 0.45 * (0.42 - w);
    double d = fmin(half - w, fmin(opening - v, v - 0.5));
    if (d < -soft)
        return;
    struct light l = scene_lit(u / half, 0.25, sqrt(fmax(1 - u * u / (half * half), 0)) + 0.25);
    double under = 1 - 0.5 * bell(v - 0.92 - 0.3 * u, 0.20) * smooth(1.6, 0.9, v);
    double cord = 1 - 0.06 * bell(w - 0.16 + 0.12 * (v - 0.9), 0.03) + 0.03 * bell(u, 0.06);
    l.diffuse *= under * cord * 0.9 / who->reference;
    l.shine = 0;
    scene_lay_skin(p, &who->skin, l, cover(d, soft));
}

static void paint_ears(const struct person *who, double u, double v, double soft, struct paint *p)
{
    double w = fabs(u) - 0.755, t = v - 0.08;
    double d = scene_ellipse(w - 0.18 * t * (t < 0 ? -0.3 : -0.6), t, 0.105, 0.235);
    if (d < -soft)
        return;
    struct light l = scene_lit(u * 0.9, t * 0.5, 0.75);
    double hollow = 1 - 0.42 * bell(w - 0.015, 0.035) * bell(t + 0.02, 0.11);
    double rim = 1 + 0.12 * bell(d - 0.018, 0.012);
    l.diffuse *= hollow * rim * 0.92 / who->reference;
    l.shine = 0;
    scene_lay_skin(p, &who->skin, l, cover(d, soft));
}

void scene_paint_person(const struct scene *s, const struct person *who, double x, double y,
                        struct paint *p)
{
    double u = (x - who->x) / who->size, v = (y - who->y) / who->size;
    double soft = fmax(s->pixel / who->size, 0.012);
    if (fabs(u) > 3.2 || v < -1.4)
        return;
    scene_paint_shirt(s, u, v, soft, p);
    scene_paint_hair_back(s, who, u, v, soft, p);
    paint_neck(who, u, v, soft, p);
    if (who->singer->hair != LONG)
        paint_ears(who, u, v, soft, p);
    scene_paint_face(s, who, u, v, soft, p);
    scene_paint_hair_front(s, who, u, v, soft, p);
    if (s->is.scarf && who == &s->person[0])
        scene_paint_scarf(s, u, v, soft, p);
}
