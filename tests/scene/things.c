/*
 * things: what a singer wears and holds: shirt, scarf, grey card.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

static const double DEGREE = 3.14159265358979323846 / 180;

void scene_paint_shirt(const struct scene *s, double u, double v, double soft, struct paint *p)
{
    double w = fabs(u), line = 1.12 + 0.16 * w + 0.42 * smooth(0.75, 1.75, w) * w * 0.6;
    double inside = cover(v - line, soft);
    if (inside <= 0)
        return;
    double fold = 0.05 * scene_cloud(s->seed + 6, u * 3 + v, v * 2) +
                  0.02 * scene_cloud(s->seed + 7, u * 11 + 3 * v, v * 4);
    struct light l = scene_lit(0.75 * u, -0.5 * bell(v - line, 0.25), 1);
    double collar = bell(v - 1.30 - 0.55 * (0.62 - w), 0.02) * (w < 0.62 ? 0.25 : 0);
    double button = bell(u, 0.012) * smooth(1.5, 1.52, v) * 0.2;
    scene_lay(p, s->material[SHIRT], l.diffuse * (0.92 + fold) * (1 - collar - button), inside);
}

void scene_paint_scarf(const struct scene *s, double u, double v, double soft, struct paint *p)
{
    double w = fabs(u), middle = 1.30 - 0.22 * w * w, half = 0.17 + 0.02 * sin(7 * u);
    double loop = fmin(half * sqrt(fmax(1 - pow(w / 0.62, 6), 0)) - fabs(v - middle), 0.62 - w);
    double end = fmin(0.15 - fabs(u - 0.22 - 0.08 * (v - 1.4)), fmin(v - 1.3, 2.6 - v));
    double d = fmax(loop, end);
    if (d < -soft)
        return;
    double run = loop > end ? (v - middle) * 30 + 4 * u : (u - 0.08 * v) * 40;
    double light =
        0.72 - 0.3 * u + 0.14 * sin(run) + 0.08 * scene_cloud(s->seed + 17, u * 60, v * 60);
    light *= 0.55 + 0.45 * smooth(-0.01, 0.06, d);
    scene_lay(p, s->material[SCARF], fmax(light, 0.15), cover(d, soft));
}

struct place scene_card_place(const struct scene *s)
{
    const struct options *is = &s->is;
    return (struct place){s->person[0].x + is->card_across, 0.855 - is->card_up,
                          0.125 * is->card_size, 0.075 * is->card_size};
}

/* Held up under the face, turned so that it is evenly lit; fists and thumbs on its sides. */
void scene_paint_card(const struct scene *s, double x, double y, struct paint *p)
{
    const struct place card = scene_card_place(s);
    const struct shades *skin = &s->person[0].skin;
    double turn = s->is.card_tilt * DEGREE, c = cos(turn), d = sin(turn);
    double u = c * (x - card.x) + d * (y - card.y), v = c * (y - card.y) - d * (x - card.x);
    double soft = fmax(0.002, s->pixel);
    scene_lay(p, s->material[CARD], 1, cover(scene_rectangle(u, v, card.w, card.h), soft));
    double hand = fmin(s->is.card_size, 1), e = (fabs(u) - card.w) / hand, f = v / hand;
    double fist = scene_ellipse(e - 0.035, f - 0.035, 0.035, 0.045);
    double thumb = scene_ellipse(e - 0.004, f - 0.02 + 0.3 * e, 0.030, 0.016);
    struct light on_fist = {0.6 + 4 * limit(fist, -0.1, 0.05), 0};
    struct light on_thumb = {0.7 + 4 * limit(thumb, -0.05, 0.04), 0};
    scene_lay_skin(p, skin, on_fist, cover(fist, soft));
    scene_lay_skin(p, skin, on_thumb, cover(thumb, soft));
}
