/*
 * camera: what a camera does to colour: its error of white balance (the cast), its twist and its
 * tone curve.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

static const double PI = 3.14159265358979323846;

/* Invented gains in the frame's linear light: north's flash reads warm, south's cool. */
static const double cast_gains[][3] = {
    [NORTH] = {1.025, 1, 0.95}, [SOUTH] = {0.97, 1, 1.06}, [NONE] = {1, 1, 1}};

static void product(const double x[9], const double y[9], double to[9])
{
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            to[3 * i + j] = x[3 * i] * y[j] + x[3 * i + 1] * y[3 + j] + x[3 * i + 2] * y[6 + j];
}

/* The error of white balance as XYZ to XYZ; a grey keeps its Y. */
void scene_load_cast(struct scene *s)
{
    const double *gains = cast_gains[s->is.camera];
    double scaled[9], grey = 0;
    for (int i = 0; i < 3; i++)
        grey += s->from_rgb[3 + i] * pow(gains[i], s->is.cast);
    for (int i = 0; i < 9; i++)
        scaled[i] = s->to_rgb[i] * pow(gains[i / 3], s->is.cast) / grey;
    product(s->from_rgb, scaled, s->cast);
}

/* Invented tone curves, in L*. On request north opens the middle tones by up to 4 and south is
 * steeper in them, by a fifth. Then a shoulder: straight up to knee, then towards top; skin stays
 * under it. */
static double tone(const struct options *is, double L)
{
    enum camera camera = is->camera;
    if (camera == NORTH)
        L += is->contrast * 4 * sin(PI * L / 100);
    else if (camera == SOUTH)
        L -= is->contrast * 3 * sin(2 * PI * L / 100);
    double knee = camera == SOUTH ? 87.5 : 89, room = camera == SOUTH ? 11.5 : 11;
    return L <= knee ? L : knee + room * (1 - exp((knee - L) / room));
}

/* Invented: what each camera does to colour, as a shift in a* and b* by L*, full on colours as
 * chromatic as skin and a fifth of it on greys, so that a card alone can't undo it. L* stays. */
static struct carn_lab twist(const struct options *is, struct carn_lab lab)
{
    if (is->twist == NONE)
        return lab;
    double c2 = lab.a * lab.a + lab.b * lab.b;
    double full = is->strength * (0.2 + 0.8 * c2 / (c2 + 10.0 * 10.0)) * smooth(0, 14, lab.L);
    double L = lab.L;
    if (is->twist == NORTH) { /* yellow, in the shadows as in the lights */
        lab.a += full * (1.9 - 1.9 * smooth(46, 66, L) - 2.2 * smooth(58, 78, L));
        lab.b += full * (4.6 + 1.8 * smooth(22, 45, L) - 1.8 * smooth(62, 82, L));
    } else { /* magenta and cool, in the lights more than in the shadows */
        lab.a += full * (1.6 + 2.2 * smooth(14, 36, L) - 2.2 * smooth(60, 80, L));
        lab.b -= full * (0.4 + 3.4 * smooth(36, 66, L));
    }
    return lab;
}

struct carn_lab scene_develop(const struct scene *s, const struct paint *p, double x, double y)
{
    double seen[3];
    multiply(s->cast, p->xyz, seen);
    struct carn_lab lab = lab_of(seen);
    if (p->skin > 0) {
        /* Blood lies unevenly under skin: patches of some centimetres, in a* more than in b*. */
        double flush = scene_cloud(s->seed + 18, x * 30, y * 30);
        double brown = scene_cloud(s->seed + 19, x * 45, y * 45);
        lab.a += p->skin * (1.5 * flush + 0.4 * brown);
        lab.b += p->skin * (1.2 * brown - 0.4 * flush);
    }
    lab = twist(&s->is, lab);
    lab.L = tone(&s->is, lab.L);
    return lab;
}
