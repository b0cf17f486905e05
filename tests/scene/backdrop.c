/*
 * backdrop: what is behind the singers: a dark drop, a brick wall, a wooden door.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

static void paint_brick(const struct scene *s, double x, double y, struct paint *p)
{
    const double long_side = 0.165, high = 0.062;
    double row = floor(y / high);
    double shift = fmod(fabs(row), 2) > 0.5 ? 0.5 : 0;
    double column = floor(x / long_side + shift);
    double u = (x / long_side + shift - column - 0.5) * long_side, v = y - (row + 0.5) * high;
    double own = 0.75 + 0.2 * scene_chance(s->seed + 1, (int64_t)column, (int64_t)row);
    double rough = 1 + 0.12 * scene_cloud(s->seed + 2, x * 160, y * 160);
    double edge = scene_rectangle(u, v, 0.5 * long_side - 0.005, 0.5 * high - 0.005);
    scene_lay(p, s->material[MORTAR], 0.55 * rough, 1);
    scene_lay(p, s->material[BRICK], own * rough, cover(edge, fmax(0.004, s->pixel)));
}

static void paint_door(const struct scene *s, double x, double y, struct paint *p)
{
    double edge = scene_rectangle(x - 0.33, y - 0.56, 0.25, 0.52), soft = fmax(0.003, s->pixel);
    double grain =
        scene_cloud(s->seed + 3, x * 130 + 2 * scene_cloud(s->seed + 4, x * 9, y * 3), y * 5);
    double v = fmod(y + 0.40, 0.36) - 0.18; /* from the middle of a panel */
    double panel = scene_rectangle(x - 0.33, v, 0.17, 0.13);
    double bevel = bell(panel, 0.006) * (v < 0 ? -0.35 : 0.25);
    double light = 0.72 + 0.14 * grain + bevel;
    scene_lay(p, s->material[DARK], 0.8, cover(edge + 0.012, soft));
    scene_lay(p, s->material[WOOD], light, cover(edge, soft));
}

void scene_paint_back(const struct scene *s, double x, double y, struct paint *p)
{
    double glow = 0.75 + 0.5 * bell(hypot(x + 0.05, y - 0.42), 0.35);
    double fold = 1 + 0.10 * scene_cloud(s->seed + 5, x * 5, y * 1.2);
    scene_lay(p, s->material[DROP], glow * fold, 1);
    if (s->is.brick)
        paint_brick(s, x, y, p);
    if (s->is.door)
        paint_door(s, x, y, p);
}
