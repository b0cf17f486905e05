/*
 * camera: from light to encoded samples: the error of white balance, the mottle of skin, the
 * camera's twist of colour and tone curve, grain, and the frame's profile.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

/* Invented gains in the frame's linear light: north's flash reads warm, south's cool. */
static const double cast_gains[2][3] = {[NORTH] = {1.025, 1, 0.95}, [SOUTH] = {0.97, 1, 1.06}};

/* Invented shoulders, in L*: straight up to knee, then towards top. Skin stays under them. */
static double tone(enum camera camera, double L)
{
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

static void develop(const struct scene *s, struct paint p, double x, double y, struct carn_lab *lab)
{
    double seen[3];
    multiply(s->cast, p.xyz, seen);
    *lab = lab_of(seen);
    if (p.skin > 0) {
        /* Blood lies unevenly under skin: patches of some centimetres, in a* more than in b*. */
        double flush = scene_cloud(s->seed + 18, x * 30, y * 30);
        double brown = scene_cloud(s->seed + 19, x * 45, y * 45);
        lab->a += p.skin * (1.5 * flush + 0.4 * brown);
        lab->b += p.skin * (1.2 * brown - 0.4 * flush);
    }
    *lab = twist(&s->is, *lab);
    lab->L = tone(s->is.camera, lab->L);
}

/* The encoded samples of one pixel, 0..1. Grain: shot and read noise in linear light (invented). */
static void shoot(const struct scene *s, size_t column, size_t row, double rgb[3])
{
    double x = ((double)column + 0.5 - 0.5 * (double)s->is.width) / s->unit;
    double y = ((double)row + 0.5 - 0.5 * (double)s->is.height) / s->unit + 0.5;
    struct paint p = {{0, 0, 0}, 0};
    struct carn_lab lab;
    scene_paint_back(s, x, y, &p);
    for (size_t i = s->persons; i-- > 0;)
        scene_paint_person(s, &s->person[i], x, y, &p);
    if (s->is.card)
        scene_paint_card(s, x, y, &p);
    develop(s, p, x, y, &lab);
    struct carn_xyz xyz = carn_lab_to_xyz(lab, carn_d50);
    double linear[3], light[3] = {xyz.X, xyz.Y, xyz.Z};
    multiply(s->to_rgb, light, linear);
    for (int c = 0; c < 3; c++) {
        double sigma = s->is.grain * sqrt(fmax(linear[c], 0) * 3e-5 + 4e-8);
        if (sigma > 0)
            linear[c] += sigma * scene_normal(s->seed + 30 + (uint64_t)c, (int64_t)column, (int64_t)row);
        double at = sqrt(limit(linear[c], 0, 1)) * (CODES - 1);
        int i = at >= CODES - 1 ? CODES - 2 : (int)at;
        rgb[c] = s->code[c][i] + (at - i) * (s->code[c][i + 1] - s->code[c][i]);
    }
}

static void product(const double x[9], const double y[9], double to[9])
{
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            to[3 * i + j] = x[3 * i] * y[j] + x[3 * i + 1] * y[3 + j] + x[3 * i + 2] * y[6 + j];
}

/* By cofactors; the matrices here are well conditioned by construction. */
static void invert(const double m[9], double to[9])
{
    double c[9];
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            int a = (i + 1) % 3, b = (i + 2) % 3, p = (j + 1) % 3, q = (j + 2) % 3;
            c[3 * i + j] = m[3 * a + p] * m[3 * b + q] - m[3 * a + q] * m[3 * b + p];
        }
    double det = m[0] * c[0] + m[1] * c[1] + m[2] * c[2];
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            to[3 * i + j] = c[3 * j + i] / det;
}

/* opRGB, IEC 61966-2-5: white D65, red, green, blue; gamma 2.19921875 (from memory). */
static const double wide_xy[8] = {0.3127, 0.3290, 0.64, 0.33, 0.21, 0.71, 0.15, 0.06};

int scene_open_profile(struct scene *s, struct carn_error *err)
{
    s->icc = s->is.wide ? carn_profile_make(wide_xy, 2.19921875, &s->icc_size, err)
                        : carn_profile_make_srgb(&s->icc_size, err);
    s->profile = s->icc == NULL ? NULL : carn_profile_open(s->icc, s->icc_size, 3, err);
    return s->profile == NULL ? -1 : 0;
}

/* The error of white balance as XYZ to XYZ; a grey keeps its Y. */
static void make_cast(struct scene *s, const double rgb_to_xyz[9])
{
    static const double even[3] = {1, 1, 1};
    const double *gains = s->is.camera == NONE ? even : cast_gains[s->is.camera];
    double scaled[9], grey = 0;
    for (int i = 0; i < 3; i++)
        grey += rgb_to_xyz[3 + i] * pow(gains[i], s->is.cast);
    for (int i = 0; i < 9; i++)
        scaled[i] = s->to_rgb[i] * pow(gains[i / 3], s->is.cast) / grey;
    product(rgb_to_xyz, scaled, s->cast);
}

/* The profile's own matrix, read off its primaries, and its curves as tables. */
static void read_profile(struct scene *s)
{
    static const double primary[9] = {1, 0, 0, 0, 1, 0, 0, 0, 1};
    struct carn_lab lab[3];
    double columns[9];
    carn_profile_to_lab(s->profile, primary, lab, 3);
    for (int c = 0; c < 3; c++) {
        struct carn_xyz xyz = carn_lab_to_xyz(lab[c], carn_d50);
        columns[c] = xyz.X;
        columns[3 + c] = xyz.Y;
        columns[6 + c] = xyz.Z;
    }
    invert(columns, s->to_rgb);
    make_cast(s, columns);
    for (int c = 0; c < 3; c++)
        for (int i = 0; i < CODES; i++) {
            double root = (double)i / (CODES - 1);
            s->code[c][i] = carn_profile_encoded(s->profile, c, root * root);
        }
}

