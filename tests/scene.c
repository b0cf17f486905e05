/*
 * scene: portraits of a shoot with known truth, for the tests. Not installed.
 *
 * A touring choir is photographed for its programme book by two people with unlike cameras, each
 * group starting with a grey card. Skin, cloth and card are reflectance spectra under a flash (the
 * xenon arc column); a camera is three sensitivities, a matrix fitted on the published chart, a
 * white balance that is a little off (the cast), a twist of its own in CIELAB a* b*, a tone curve
 * and grain. The choir, the cameras and all numbers without a source are invented.
 *
 * The truth is what a camera with the eye's own sensitivities under D50 would deliver, no cast, no
 * twist, no grain. One rendering step is part of the truth: photographs show skin more chromatic
 * than it is, so a* and b* of skin are scaled to photographic chroma (colour science, 7 and 15) at
 * each lightness.
 *
 * Every pixel is a function of its place and the options alone, so rows are written as they are
 * made, nothing but a row is held, and the same options give the same bytes.
 */
#include "error.h"
#include "frame.h"
#include "io.h"
#include "lab.h"
#include "profile.h"
#include "table.h"
#include "tool.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { BANDS = 81, CHART = 24, SHADES = 1024, CODES = 8192 };
enum camera { NORTH, SOUTH, NONE };
enum hair { SHORT, LONG, CURLY, SHAVED };
enum material { CARD, SHIRT, DROP, WOOD, BRICK, MORTAR, SCARF, EYE, BROWN_IRIS, GREY_IRIS, DARK };
enum { BLACK_HAIR = DARK + 1, BROWN_HAIR, FAIR_HAIR, GREY_HAIR, MATERIALS };

static const char *const camera_names[] = {"north", "south", "none"};

/* Invented reflectance: low at short wavelengths, high at long ones, half way at nm, and how many
 * nm the step takes; 1 is a perfect white. */
static const struct {
    double low, high, nm, width;
} cloth[MATERIALS] = {
    [CARD] = {0.30, 0.30, 550, 50},       [SHIRT] = {0.70, 0.72, 450, 40},
    [DROP] = {0.040, 0.034, 560, 60},     [WOOD] = {0.07, 0.34, 575, 38},
    [BRICK] = {0.06, 0.26, 592, 26},      [MORTAR] = {0.22, 0.34, 520, 70},
    [SCARF] = {0.035, 0.52, 606, 11},     [EYE] = {0.42, 0.52, 520, 60},
    [BROWN_IRIS] = {0.02, 0.10, 590, 40}, [GREY_IRIS] = {0.16, 0.14, 560, 40},
    [DARK] = {0.012, 0.014, 560, 60},     [BLACK_HAIR] = {0.014, 0.024, 620, 60},
    [BROWN_HAIR] = {0.02, 0.11, 610, 55}, [FAIR_HAIR] = {0.08, 0.40, 560, 60},
    [GREY_HAIR] = {0.30, 0.33, 520, 70},
};

/* column: the subject of the NIST spectra; L: the lightness of the middle tone in the picture;
 * chroma: a person's own factor on photographic chroma. */
struct singer {
    const char *name, *column;
    double L, chroma;
    enum hair hair;
    int hair_colour, iris;
};

static const struct singer choir[] = {
    {"aino", "s42", 76, 1.000, LONG, FAIR_HAIR, GREY_IRIS},
    {"birk", "s21", 73, 1.000, SHORT, FAIR_HAIR, GREY_IRIS},
    {"celia", "s82", 68, 0.995, LONG, BROWN_HAIR, BROWN_IRIS},
    {"daro", "s9", 63, 1.005, SHORT, GREY_HAIR, GREY_IRIS},
    {"emre", "s70", 58, 1.010, CURLY, BLACK_HAIR, BROWN_IRIS},
    {"fenna", "s72", 54.5, 1.005, LONG, BLACK_HAIR, BROWN_IRIS},
    {"goro", "s17", 51, 0.995, SHORT, BLACK_HAIR, BROWN_IRIS},
    {"hedda", "s6", 47, 1.005, CURLY, BROWN_HAIR, BROWN_IRIS},
    {"imani", "s44", 42, 1.000, CURLY, BLACK_HAIR, BROWN_IRIS},
    {"jomo", "s3", 38, 1.010, SHAVED, BLACK_HAIR, BROWN_IRIS},
    {"kesi", "s76", 34, 1.000, LONG, BLACK_HAIR, BROWN_IRIS},
    {"lamin", "s44", 29.5, 1.010, SHORT, BLACK_HAIR, BROWN_IRIS},
};
enum { SINGERS = sizeof choir / sizeof *choir };

struct options {
    const struct singer *singer, *second;
    enum camera camera, twist;
    double strength, cast, grain;
    bool card, door, brick, scarf, wide;
    size_t width, height;
    uint64_t seed;
    const char *name, *data;
};

struct spectra {
    double cmf[3][BANDS], d50[BANDS], flash[BANDS], chart[CHART][BANDS], skin[2][BANDS];
};

/* What a camera makes of a reflectance: XYZ = matrix * (sense . reflectance). sense gives 1 1 1 for
 * white. Camera NONE is the eye under D50. */
struct optics {
    double sense[3][BANDS], matrix[9];
};

/* Skin by amount of light: XYZ, at the place that shade_place() gives. */
struct shades {
    double xyz[SHADES][3];
};

struct person {
    const struct singer *singer;
    double x, y, size; /* head centre and half height in units of the picture */
    double reference;  /* light at the middle patch, which is where L* is the singer's own */
    struct shades skin, lips;
};

struct scene {
    struct options is;
    enum camera detail; /* whose lens: also for the truth, which has no camera */
    struct person person[2];
    size_t persons;
    double material[MATERIALS][3];
    double cast[9], to_rgb[9];
    double chart[CHART][3]; /* encoded */
    double code[3][CODES];  /* encoded value by square root of the linear one */
    double unit;            /* pixels to 1, the picture's own measure */
    double pixel;           /* one pixel in that measure */
    uint64_t seed;
    struct carn_profile *profile;
    void *icc;
    size_t icc_size;
};

/* A pixel on its way: light as XYZ, and how far it is skin. */
struct paint {
    double xyz[3], skin;
};

/* ---- small mathematics ---- */

static double limit(double v, double low, double high)
{
    return v < low ? low : v > high ? high : v;
}

static double smooth(double from, double to, double v)
{
    double t = limit((v - from) / (to - from), 0, 1);
    return t * t * (3 - 2 * t);
}

static double bell(double d, double width)
{
    double t = d / width;
    return t * t > 20 ? 0 : exp(-0.5 * t * t);
}

static void multiply(const double m[9], const double v[3], double to[3])
{
    for (int i = 0; i < 3; i++)
        to[i] = m[3 * i] * v[0] + m[3 * i + 1] * v[1] + m[3 * i + 2] * v[2];
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

/* The finalizer of splitmix64 (S. Vigna, public domain; constants from memory). */
static uint64_t mix(uint64_t z)
{
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static uint64_t hash(uint64_t seed, int64_t x, int64_t y)
{
    return mix(mix(seed + (uint64_t)x * UINT64_C(0x9e3779b97f4a7c15)) + (uint64_t)y);
}

/* -1..1 */
static double chance(uint64_t seed, int64_t x, int64_t y)
{
    return (double)(hash(seed, x, y) >> 11) * 0x1p-52 - 1;
}

/* Near normal, mean 0, standard deviation 1: the sum of four 16-bit parts of one hash. */
static double normal(uint64_t seed, int64_t x, int64_t y)
{
    uint64_t h = hash(seed, x, y);
    double sum = 0;
    for (int i = 0; i < 4; i++)
        sum += (double)((h >> (16 * i)) & 0xffff) + 0.5;
    return (sum / 65536 - 2) * 1.7320508;
}

/* Smooth noise of about one bump a unit, -1..1. */
static double cloud(uint64_t seed, double x, double y)
{
    double fx = floor(x), fy = floor(y), tx = x - fx, ty = y - fy;
    int64_t ix = (int64_t)fx, iy = (int64_t)fy;
    tx = tx * tx * (3 - 2 * tx);
    ty = ty * ty * (3 - 2 * ty);
    double top = chance(seed, ix, iy) * (1 - tx) + chance(seed, ix + 1, iy) * tx;
    double low = chance(seed, ix, iy + 1) * (1 - tx) + chance(seed, ix + 1, iy + 1) * tx;
    return top * (1 - ty) + low * ty;
}

/* ---- spectra ---- */

static int read_column(const struct carn_table *table, const char *name, double to[BANDS],
                       struct carn_error *err)
{
    int column = carn_table_need(table, name, err);
    if (column < 0)
        return -1;
    if (carn_table_rows(table) < BANDS)
        return carn_fail(err, "%s: fewer than %d rows", carn_table_label(table), BANDS);
    for (size_t i = 0; i < BANDS; i++)
        if (carn_table_number(table, i, column, &to[i], err) != 1)
            return carn_table_fail(table, i, column, err, "not a number");
    return 0;
}

/* The tables start at 380 nm and go on by 5; caller closes. */
static struct carn_table *open_data(const char *folder, const char *file, struct carn_error *err)
{
    char path[4096];
    int n = snprintf(path, sizeof path, "%s/%s", folder, file);
    if (n < 0 || (size_t)n >= sizeof path) {
        carn_fail(err, "%s: path too long", file);
        return NULL;
    }
    return carn_table_read(path, err);
}

static int read_light(struct spectra *to, const char *folder, struct carn_error *err)
{
    struct carn_table *cmf = open_data(folder, "cmf_5nm.tsv", err);
    struct carn_table *light = open_data(folder, "illuminants_5nm.tsv", err);
    int bad = cmf == NULL || light == NULL || read_column(cmf, "x2", to->cmf[0], err) != 0 ||
              read_column(cmf, "y2", to->cmf[1], err) != 0 ||
              read_column(cmf, "z2", to->cmf[2], err) != 0 ||
              read_column(light, "D50", to->d50, err) != 0 ||
              read_column(light, "xenon_Kinoton75P", to->flash, err) != 0;
    carn_table_close(cmf);
    carn_table_close(light);
    return bad ? -1 : 0;
}

static int read_things(struct spectra *to, const struct options *is, struct carn_error *err)
{
    struct carn_table *chart = open_data(is->data, "chart24_reflectance_5nm.tsv", err);
    struct carn_table *skin = open_data(is->data, "skin_nist100_5nm.tsv", err);
    bool bad = chart == NULL || skin == NULL;
    if (!bad && carn_table_columns(chart) != CHART + 1)
        bad = carn_fail(err, "%s: not %d patches", carn_table_label(chart), CHART) != 0;
    for (size_t i = 0; i < CHART && !bad; i++)
        bad = read_column(chart, carn_table_name(chart, i + 1), to->chart[i], err) != 0;
    bad = bad || read_column(skin, is->singer->column, to->skin[0], err) != 0 ||
          (is->second != NULL && read_column(skin, is->second->column, to->skin[1], err) != 0);
    carn_table_close(chart);
    carn_table_close(skin);
    return bad ? -1 : 0;
}

static double wavelength(int band)
{
    return 380.0 + 5.0 * band;
}

static void cloth_spectrum(int which, double to[BANDS])
{
    for (int i = 0; i < BANDS; i++)
        to[i] = cloth[which].low +
                (cloth[which].high - cloth[which].low) /
                    (1 + exp((cloth[which].nm - wavelength(i)) / cloth[which].width));
}

/* ---- cameras ---- */

/* Invented: peak nm and width of red, green, blue. Near enough to the eye's own that the matrix
 * brings skin home, and unlike enough that the two cameras see cloth differently. */
static const double peaks[2][3][2] = {
    [NORTH] = {{597, 36}, {549, 37}, {452, 24}},
    [SOUTH] = {{593.5, 40}, {543, 30}, {450, 37}},
};

/* Invented gains in the frame's linear light: north's flash reads warm, south's cool. */
static const double cast_gains[2][3] = {[NORTH] = {1.025, 1, 0.95}, [SOUTH] = {0.97, 1, 1.06}};

static void raw_of(const struct optics *o, const double reflectance[BANDS], double raw[3])
{
    for (int c = 0; c < 3; c++) {
        raw[c] = 0;
        for (int i = 0; i < BANDS; i++)
            raw[c] += o->sense[c][i] * reflectance[i];
    }
}

static void xyz_of(const struct optics *o, const double reflectance[BANDS], double xyz[3])
{
    double raw[3];
    raw_of(o, reflectance, raw);
    multiply(o->matrix, raw, xyz);
}

static void white_one(double sense[BANDS])
{
    double sum = 0;
    for (int i = 0; i < BANDS; i++)
        sum += sense[i];
    for (int i = 0; i < BANDS; i++)
        sense[i] /= sum;
}

static void make_eye(struct optics *o, const struct spectra *s)
{
    const double white[9] = {carn_d50.X, 0, 0, 0, carn_d50.Y, 0, 0, 0, carn_d50.Z};
    for (int c = 0; c < 3; c++) {
        for (int i = 0; i < BANDS; i++)
            o->sense[c][i] = s->cmf[c][i] * s->d50[i];
        white_one(o->sense[c]);
    }
    memcpy(o->matrix, white, sizeof white);
}

/* One row of the matrix by least squares over the chart, white held exactly: with m2 = white - m0 -
 * m1 two unknowns are left. Weights: an error counts as in CIELAB (slope of the cube root), and the
 * two skin patches count eight times, as a maker who wants faces right would have it. */
static void fit_row(double raw[CHART][3], double want[CHART][3], int row, double white,
                    double to[3])
{
    double pp = 0, pq = 0, qq = 0, pt = 0, qt = 0;
    for (int k = 0; k < CHART; k++) {
        double w = (k < 2 ? 8.0 : 1.0) * pow(want[k][row], -4.0 / 3.0);
        double p = raw[k][0] - raw[k][2], q = raw[k][1] - raw[k][2];
        double t = want[k][row] - white * raw[k][2];
        pp += w * p * p;
        pq += w * p * q;
        qq += w * q * q;
        pt += w * p * t;
        qt += w * q * t;
    }
    double det = pp * qq - pq * pq;
    to[0] = (pt * qq - qt * pq) / det;
    to[1] = (qt * pp - pt * pq) / det;
    to[2] = white - to[0] - to[1];
}

static void make_optics(struct optics *o, const struct spectra *s, enum camera camera)
{
    make_eye(o, s);
    if (camera == NONE)
        return;
    struct optics eye = *o;
    double raw[CHART][3], want[CHART][3];
    for (int c = 0; c < 3; c++) {
        for (int i = 0; i < BANDS; i++)
            o->sense[c][i] =
                s->flash[i] * bell(wavelength(i) - peaks[camera][c][0], peaks[camera][c][1]);
        white_one(o->sense[c]);
    }
    for (int k = 0; k < CHART; k++) {
        raw_of(o, s->chart[k], raw[k]);
        xyz_of(&eye, s->chart[k], want[k]);
    }
    const double white[3] = {carn_d50.X, carn_d50.Y, carn_d50.Z};
    for (int row = 0; row < 3; row++)
        fit_row(raw, want, row, white[row], o->matrix + 3 * row);
}

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

/* ---- skin ---- */

static struct carn_lab lab_of(const double xyz[3])
{
    return carn_xyz_to_lab((struct carn_xyz){xyz[0], xyz[1], xyz[2]}, carn_d50);
}

/* Light 0..4 of the middle tone to a place in the shade tables; a square root spaces L* well. */
static double shade_place(double light)
{
    return sqrt(limit(light, 0, 4)) * 0.5 * (SHADES - 1);
}

static double shade_light(int place)
{
    double root = 2.0 * place / (SHADES - 1);
    return root * root;
}

/* The singer's reflectance: darker tones through more melanin, exp(-k (nm/500)^-3.33) (S. L.
 * Jacques 1998: from memory), k by bisection on L*; lighter ones are the exposure's doing. */
static void skin_spectrum(const struct singer *who, const struct optics *eye, double skin[BANDS])
{
    double low = 0, high = 12, from[BANDS], xyz[3];
    memcpy(from, skin, sizeof from);
    for (int step = 0; step < 60; step++) {
        double k = 0.5 * (low + high);
        for (int i = 0; i < BANDS; i++)
            skin[i] = from[i] * exp(-k * pow(wavelength(i) / 500.0, -3.33));
        xyz_of(eye, skin, xyz);
        if (lab_of(xyz).L > who->L)
            low = k;
        else
            high = k;
    }
    xyz_of(eye, skin, xyz);
    double exposure = carn_lab_to_xyz((struct carn_lab){who->L, 0, 0}, carn_d50).Y / xyz[1];
    for (int i = 0; i < BANDS; i++)
        skin[i] *= exposure;
}

/* C* of skin in photographs by L*: within 26..30 above 60, 29..34 from 60 to 45, 28..34 below
 * (colour science, 7); under 20, where no patch lies, falling so that sRGB can hold it. */
static double photographic_chroma(double L)
{
    static const double knots[][2] = {{0, 0},     {10, 15},   {20, 29.3}, {25, 31},   {30, 32},
                                      {36, 33},   {47, 33.4}, {53, 33},   {57, 31.2}, {60, 29.35},
                                      {63, 28.8}, {70, 28.4}, {77, 27.2}, {85, 26.5}, {100, 20}};
    size_t i = 1;
    while (i + 1 < sizeof knots / sizeof *knots && L > knots[i][0])
        i++;
    double t = (L - knots[i - 1][0]) / (knots[i][0] - knots[i - 1][0]);
    return knots[i - 1][1] + limit(t, 0, 1) * (knots[i][1] - knots[i - 1][1]);
}

/* The rendering step, worked out on what the eye sees and done to what the camera sees: scale and
 * turn a*, b* about neutral. hue in degrees, chroma a factor; both on top. */
static void render_skin(const struct singer *who, const double eye[3], const double seen[3],
                        double light, double hue, double chroma, double to[3])
{
    double e[3], s[3];
    for (int i = 0; i < 3; i++) {
        e[i] = eye[i] * light;
        s[i] = seen[i] * light;
    }
    struct carn_lab truth = lab_of(e), lab = lab_of(s);
    /* Rendered hue is kept within 47..50 degrees: photographs show skin redder than it measures
     * (51), and the twists and not the choice of subjects shall decide what a score says. */
    double own = carn_hue(truth), turn = limit(own, 47, 50) - own + hue;
    double scale =
        photographic_chroma(truth.L) * who->chroma * chroma / fmax(carn_chroma(truth), 1e-6);
    double c = scale * cos(turn * 0.017453292519943295);
    double d = scale * sin(turn * 0.017453292519943295);
    struct carn_lab out = {lab.L, lab.a * c - lab.b * d, lab.a * d + lab.b * c};
    struct carn_xyz xyz = carn_lab_to_xyz(out, carn_d50);
    to[0] = xyz.X;
    to[1] = xyz.Y;
    to[2] = xyz.Z;
}

static void make_skin(struct person *p, const struct optics *eye, const struct optics *camera,
                      double spectrum[BANDS])
{
    double truth[3], seen[3];
    skin_spectrum(p->singer, eye, spectrum);
    xyz_of(eye, spectrum, truth);
    xyz_of(camera, spectrum, seen);
    for (int i = 0; i < SHADES; i++) {
        render_skin(p->singer, truth, seen, shade_light(i), 0, 1, p->skin.xyz[i]);
        render_skin(p->singer, truth, seen, shade_light(i) * 0.72, -17, 1.12, p->lips.xyz[i]);
    }
}

/* ---- light on a head ---- */

/* Head measure: 0 is the middle of the face, v -1 the crown and 1 the chin. */
static double head_edge(double u, double v)
{
    double half = 0.75 - 0.16 * smooth(0.05, 1.0, v);
    return (u / half) * (u / half) + (v < 0 ? v * v : pow(v, 2.6));
}

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
    return 0.78 * sqrt(fmax(1 - head_edge(u, v), 0) + 0.004) + features(u, v);
}

struct light {
    double diffuse, shine;
};

/* A large soft box from the upper left beside the camera, and a reflector opposite; x right, y
 * down, z to the viewer. A soft box wraps around, hence the offset. */
static struct light lit(double x, double y, double z)
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

static struct light head_light(double u, double v)
{
    const double d = 0.004, rim = 0.97;
    double out =
        sqrt(head_edge(u, v)) / rim; /* the outermost ring takes the light just inside it */
    if (out > 1) {
        u /= out;
        v /= out;
    }
    double z = head_depth(u, v);
    return lit((z - head_depth(u + d, v)) / d, (z - head_depth(u, v + d)) / d, 1);
}

/* ---- painting ---- */

/* Coverage of a shape whose edge is d inside (positive) for edges about soft wide. */
static double cover(double d, double soft)
{
    return limit(0.5 + d / soft, 0, 1);
}

static void lay(struct paint *p, const double xyz[3], double light, double alpha, double skin)
{
    for (int i = 0; i < 3; i++)
        p->xyz[i] += alpha * (xyz[i] * light - p->xyz[i]);
    p->skin += alpha * (skin - p->skin);
}

static void lay_skin(struct paint *p, const struct shades *table, struct light light, double alpha)
{
    double at = shade_place(light.diffuse);
    int i = at >= SHADES - 1 ? SHADES - 2 : (int)at;
    double t = at - i, xyz[3];
    const double white[3] = {carn_d50.X, carn_d50.Y, carn_d50.Z};
    for (int k = 0; k < 3; k++)
        xyz[k] = table->xyz[i][k] * (1 - t) + table->xyz[i + 1][k] * t + light.shine * white[k];
    lay(p, xyz, 1, alpha, 1);
}

static double rectangle(double x, double y, double w, double h)
{
    return fmin(w - fabs(x), h - fabs(y));
}

static double ellipse(double x, double y, double w, double h)
{
    return (1 - hypot(x / w, y / h)) * fmin(w, h);
}

static void paint_brick(const struct scene *s, double x, double y, struct paint *p)
{
    const double long_side = 0.165, high = 0.062;
    double row = floor(y / high);
    double shift = fmod(fabs(row), 2) > 0.5 ? 0.5 : 0;
    double column = floor(x / long_side + shift);
    double u = (x / long_side + shift - column - 0.5) * long_side, v = y - (row + 0.5) * high;
    double own = 0.75 + 0.2 * chance(s->seed + 1, (int64_t)column, (int64_t)row);
    double rough = 1 + 0.12 * cloud(s->seed + 2, x * 160, y * 160);
    double edge = rectangle(u, v, 0.5 * long_side - 0.005, 0.5 * high - 0.005);
    lay(p, s->material[MORTAR], 0.55 * rough, 1, 0);
    lay(p, s->material[BRICK], own * rough, cover(edge, fmax(0.004, s->pixel)), 0);
}

static void paint_door(const struct scene *s, double x, double y, struct paint *p)
{
    double edge = rectangle(x - 0.33, y - 0.56, 0.25, 0.52), soft = fmax(0.003, s->pixel);
    double grain = cloud(s->seed + 3, x * 130 + 2 * cloud(s->seed + 4, x * 9, y * 3), y * 5);
    double v = fmod(y + 0.40, 0.36) - 0.18; /* from the middle of a panel */
    double panel = rectangle(x - 0.33, v, 0.17, 0.13);
    double bevel = bell(panel, 0.006) * (v < 0 ? -0.35 : 0.25);
    double light = 0.72 + 0.14 * grain + bevel;
    lay(p, s->material[DARK], 0.8, cover(edge + 0.012, soft), 0);
    lay(p, s->material[WOOD], light, cover(edge, soft), 0);
}

static void paint_back(const struct scene *s, double x, double y, struct paint *p)
{
    double glow = 0.75 + 0.5 * bell(hypot(x + 0.05, y - 0.42), 0.35);
    double fold = 1 + 0.10 * cloud(s->seed + 5, x * 5, y * 1.2);
    lay(p, s->material[DROP], glow * fold, 1, 0);
    if (s->is.brick)
        paint_brick(s, x, y, p);
    if (s->is.door)
        paint_door(s, x, y, p);
}

static void paint_shirt(const struct scene *s, double u, double v, double soft, struct paint *p)
{
    double w = fabs(u), line = 1.12 + 0.16 * w + 0.42 * smooth(0.75, 1.75, w) * w * 0.6;
    double inside = cover(v - line, soft);
    if (inside <= 0)
        return;
    double fold = 0.05 * cloud(s->seed + 6, u * 3 + v, v * 2) +
                  0.02 * cloud(s->seed + 7, u * 11 + 3 * v, v * 4);
    struct light l = lit(0.75 * u, -0.5 * bell(v - line, 0.25), 1);
    double collar = bell(v - 1.30 - 0.55 * (0.62 - w), 0.02) * (w < 0.62 ? 0.25 : 0);
    double button = bell(u, 0.012) * smooth(1.5, 1.52, v) * 0.2;
    lay(p, s->material[SHIRT], l.diffuse * (0.92 + fold) * (1 - collar - button), inside, 0);
}

static double strands(const struct scene *s, double u, double v, bool curly)
{
    if (curly)
        return cloud(s->seed + 8, u * 17, v * 17) + 0.6 * cloud(s->seed + 9, u * 41, v * 41);
    double turn = atan2(u, v + 1.6);
    return cloud(s->seed + 8, turn * 90, v * 3) + 0.5 * cloud(s->seed + 9, turn * 210, v * 5);
}

static void lay_hair(const struct scene *s, const struct person *who, double u, double v,
                     double alpha, struct paint *p)
{
    if (alpha <= 0)
        return;
    struct light l = lit(u * 1.1, (v + 0.2) * 0.9, 0.55);
    double shine = 0.35 * bell(v + 0.72 + 0.25 * u, 0.13);
    double light = (l.diffuse + shine) * (1 + 0.3 * strands(s, u, v, who->singer->hair == CURLY));
    lay(p, s->material[who->singer->hair_colour], fmax(light, 0.1), alpha, 0);
}

static void paint_hair_back(const struct scene *s, const struct person *who, double u, double v,
                            double soft, struct paint *p)
{
    double w = fabs(u), d = -1;
    if (who->singer->hair == LONG)
        d = v < 0 ? ellipse(u, v, 0.93, 1.15)
                  : fmin(0.93 + 0.06 * sin(2.5 * v) - w - 0.3 * smooth(0.9, 1.5, v),
                         1.46 - 0.22 * w * w - v);
    if (who->singer->hair == CURLY)
        d = ellipse(u, v + 0.22, 1.05, 1.05) + 0.05 * cloud(s->seed + 10, u * 7, v * 7);
    lay_hair(s, who, u, v, cover(d, soft), p);
}

static void paint_hair_front(const struct scene *s, const struct person *who, double u, double v,
                             double soft, struct paint *p)
{
    if (who->singer->hair == SHAVED)
        return;
    double w = fabs(u), side = who->singer->hair == SHORT ? 0.1 : 0.5;
    double line = -0.60 + 1.9 * pow(fmax(w - 0.33, 0), 1.3) +
                  0.02 * cloud(s->seed + 11, u * 30, 0) + 0.03 * cloud(s->seed + 12, u * 9, 0);
    double cap = ellipse(u, v + 0.02, 0.82, 1.10) +
                 (who->singer->hair == CURLY ? 0.04 * cloud(s->seed + 13, u * 9, v * 9) : 0);
    double d = fmin(cap, fmin(line - v, side - v));
    lay_hair(s, who, u, v, cover(d, fmax(soft, 0.035)), p);
}

static void paint_neck(const struct person *who, double u, double v, double soft, struct paint *p)
{
    double w = fabs(u), half = 0.40 + 0.10 * smooth(0.95, 1.35, v);
    double opening = 1.30 + 0.45 * (0.42 - w);
    double d = fmin(half - w, fmin(opening - v, v - 0.5));
    if (d < -soft)
        return;
    struct light l = lit(u / half, 0.25, sqrt(fmax(1 - u * u / (half * half), 0)) + 0.25);
    double under = 1 - 0.5 * bell(v - 0.92 - 0.3 * u, 0.20) * smooth(1.6, 0.9, v);
    double cord = 1 - 0.06 * bell(w - 0.16 + 0.12 * (v - 0.9), 0.03) + 0.03 * bell(u, 0.06);
    l.diffuse *= under * cord * 0.9 / who->reference;
    l.shine = 0;
    lay_skin(p, &who->skin, l, cover(d, soft));
}

static void paint_ears(const struct person *who, double u, double v, double soft, struct paint *p)
{
    double w = fabs(u) - 0.755, t = v - 0.08;
    double d = ellipse(w - 0.18 * t * (t < 0 ? -0.3 : -0.6), t, 0.105, 0.235);
    if (d < -soft)
        return;
    struct light l = lit(u * 0.9, t * 0.5, 0.75);
    double hollow = 1 - 0.42 * bell(w - 0.015, 0.035) * bell(t + 0.02, 0.11);
    double rim = 1 + 0.12 * bell(d - 0.018, 0.012);
    l.diffuse *= hollow * rim * 0.92 / who->reference;
    l.shine = 0;
    lay_skin(p, &who->skin, l, cover(d, soft));
}

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
    const double *white = s->material[EYE];
    double in = cover(d, fmax(soft, 0.012));
    double dim = 0.5 + 0.5 * smooth(-0.07, 0.0, t);
    struct light l = head_light(u, -0.30);
    lay(p, white, 0.85 * dim * l.diffuse, in, 0);
    lay(p, s->material[who->singer->iris], dim, in * cover(0.058 - iris, fmax(soft, 0.012)), 0);
    lay(p, s->material[DARK], 0.7, in * cover(0.027 - iris, fmax(soft, 0.01)), 0);
    double glint = 0.018 - hypot(e + 0.02, t + 0.034);
    lay(p, s->material[CARD], 2.6, in * cover(glint, fmax(soft, 0.01)), 0);
    double lash = open <= -0.1 ? 0 : bell(t - top, 0.010) * smooth(-0.1, 0.25, open);
    double low_lash = open <= 0 ? 0 : 0.3 * bell(t - low, 0.008) * smooth(0, 0.4, open);
    lay(p, s->material[DARK], 1, 0.85 * fmax(lash, low_lash), 0);
    double brow = t + 0.165 + 0.045 * (1 - (e / 0.2) * (e / 0.2));
    double hair = bell(brow, 0.020 - 0.03 * e * (e > 0 ? 1 : 0)) * smooth(0.22, 0.15, fabs(e));
    double stroke = 0.85 + 0.3 * cloud(s->seed + 14, u * 60 + 20 * v, v * 25);
    int colour = who->singer->hair_colour == FAIR_HAIR ? BROWN_HAIR : who->singer->hair_colour;
    lay(p, s->material[colour], 0.8, limit(0.75 * hair * stroke, 0, 1), 0);
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
    lay_skin(p, &who->lips, light, 0.85 * cover(fmin(v - top, low - v), fmax(soft, 0.02)));
    light.diffuse *= 0.28;
    light.shine = 0;
    lay_skin(p, &who->lips, light, 0.9 * bell(v - middle, 0.007) * smooth(0, 0.15, open));
}

static void paint_face(const struct scene *s, const struct person *who, double u, double v,
                       double soft, struct paint *p)
{
    double edge = head_edge(u, v);
    double in = cover((1 - sqrt(edge)) * 0.62, soft);
    if (in <= 0)
        return;
    struct light l = head_light(u, v);
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
    l.diffuse *= 1 + 0.05 * fine * cloud(s->seed + 15, u * 70, v * 70) +
                 0.035 * fine * cloud(s->seed + 16, u * 150, v * 150);
    lay_skin(p, &who->skin, l, in);
    paint_mouth(who, u, v, soft, l, p);
    paint_eye(s, who, u, v, soft, p);
}

static void paint_scarf(const struct scene *s, double u, double v, double soft, struct paint *p)
{
    double w = fabs(u), middle = 1.30 - 0.22 * w * w, half = 0.17 + 0.02 * sin(7 * u);
    double loop = fmin(half * sqrt(fmax(1 - pow(w / 0.62, 6), 0)) - fabs(v - middle), 0.62 - w);
    double end = fmin(0.15 - fabs(u - 0.22 - 0.08 * (v - 1.4)), fmin(v - 1.3, 2.6 - v));
    double d = fmax(loop, end);
    if (d < -soft)
        return;
    double run = loop > end ? (v - middle) * 30 + 4 * u : (u - 0.08 * v) * 40;
    double light = 0.72 - 0.3 * u + 0.14 * sin(run) + 0.08 * cloud(s->seed + 17, u * 60, v * 60);
    light *= 0.55 + 0.45 * smooth(-0.01, 0.06, d);
    lay(p, s->material[SCARF], fmax(light, 0.15), cover(d, soft), 0);
}

static void paint_person(const struct scene *s, const struct person *who, double x, double y,
                         struct paint *p)
{
    double u = (x - who->x) / who->size, v = (y - who->y) / who->size;
    double soft = fmax(s->pixel / who->size, 0.012);
    if (fabs(u) > 3.2 || v < -1.4)
        return;
    paint_shirt(s, u, v, soft, p);
    paint_hair_back(s, who, u, v, soft, p);
    paint_neck(who, u, v, soft, p);
    if (who->singer->hair != LONG)
        paint_ears(who, u, v, soft, p);
    paint_face(s, who, u, v, soft, p);
    paint_hair_front(s, who, u, v, soft, p);
    if (s->is.scarf && who == &s->person[0])
        paint_scarf(s, u, v, soft, p);
}

static const double card_place[4] = {0, 0.855, 0.125, 0.075}; /* x, y, half width, half height */

/* Held up under the face, turned so that it is evenly lit; thumbs on its sides. */
static void paint_card(const struct scene *s, double x, double y, struct paint *p)
{
    const struct person *who = &s->person[0];
    double u = x - who->x - card_place[0], v = y - card_place[1], soft = fmax(0.002, s->pixel);
    lay(p, s->material[CARD], 1, cover(rectangle(u, v, card_place[2], card_place[3]), soft), 0);
    double e = fabs(u) - card_place[2];
    double thumb = ellipse(e - 0.004, v - 0.02 + 0.3 * e, 0.030, 0.016);
    double fist = ellipse(e - 0.035, v - 0.035, 0.035, 0.045);
    struct light l = {0.7 + 4 * limit(thumb, -0.05, 0.04), 0};
    lay_skin(p, &who->skin, (struct light){0.6 + 4 * limit(fist, -0.1, 0.05), 0},
             cover(fist, soft));
    lay_skin(p, &who->skin, l, cover(thumb, soft));
}

/* ---- from light to samples ---- */

static void develop(const struct scene *s, struct paint p, double x, double y, struct carn_lab *lab)
{
    double seen[3];
    multiply(s->cast, p.xyz, seen);
    *lab = lab_of(seen);
    if (p.skin > 0) {
        /* Blood lies unevenly under skin: patches of some centimetres, in a* more than in b*. */
        double flush = cloud(s->seed + 18, x * 30, y * 30);
        double brown = cloud(s->seed + 19, x * 45, y * 45);
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
    paint_back(s, x, y, &p);
    for (size_t i = s->persons; i-- > 0;)
        paint_person(s, &s->person[i], x, y, &p);
    if (s->is.card)
        paint_card(s, x, y, &p);
    develop(s, p, x, y, &lab);
    struct carn_xyz xyz = carn_lab_to_xyz(lab, carn_d50);
    double linear[3], light[3] = {xyz.X, xyz.Y, xyz.Z};
    multiply(s->to_rgb, light, linear);
    for (int c = 0; c < 3; c++) {
        double sigma = s->is.grain * sqrt(fmax(linear[c], 0) * 3e-5 + 4e-8);
        if (sigma > 0)
            linear[c] += sigma * normal(s->seed + 30 + (uint64_t)c, (int64_t)column, (int64_t)row);
        double at = sqrt(limit(linear[c], 0, 1)) * (CODES - 1);
        int i = at >= CODES - 1 ? CODES - 2 : (int)at;
        rgb[c] = s->code[c][i] + (at - i) * (s->code[c][i + 1] - s->code[c][i]);
    }
}

/* ---- setting up ---- */

/* opRGB, IEC 61966-2-5: white D65, red, green, blue; gamma 2.19921875 (from memory). */
static const double wide_xy[8] = {0.3127, 0.3290, 0.64, 0.33, 0.21, 0.71, 0.15, 0.06};

static int open_profile(struct scene *s, struct carn_error *err)
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

/* Heads: half heights and places in units of the picture; a second person stands behind. */
static void place_persons(struct scene *s)
{
    s->persons = s->is.second != NULL ? 2 : 1;
    s->person[0].singer = s->is.singer;
    s->person[0].x = s->persons == 2 ? -0.10 : 0;
    s->person[0].y = 0.42;
    s->person[0].size = 0.245;
    s->person[1].singer = s->is.second;
    s->person[1].x = 0.21;
    s->person[1].y = 0.36;
    s->person[1].size = 0.205;
    for (int i = 0; i < 2; i++)
        s->person[i].reference = head_light(0.13, -0.36).diffuse;
    double by_width = (double)s->is.width / 0.75, by_height = (double)s->is.height;
    s->unit = by_width < by_height ? by_width : by_height;
    s->pixel = 1 / s->unit;
}

static int set_up(struct scene *s, struct carn_error *err)
{
    struct spectra *spectra = carn_alloc(1, sizeof *spectra, err);
    int bad = spectra == NULL || read_light(spectra, s->is.data, err) != 0 ||
              read_things(spectra, &s->is, err) != 0 || open_profile(s, err) != 0;
    if (!bad) {
        struct optics eye, camera;
        double reflectance[BANDS];
        make_optics(&eye, spectra, NONE);
        make_optics(&camera, spectra, s->is.camera);
        place_persons(s);
        for (size_t i = 0; i < s->persons; i++)
            make_skin(&s->person[i], &eye, &camera, spectra->skin[i]);
        for (int i = 0; i < MATERIALS; i++) {
            cloth_spectrum(i, reflectance);
            xyz_of(&camera, reflectance, s->material[i]);
        }
        read_profile(s);
        s->seed = mix(s->is.seed ^ hash(0, s->is.singer - choir, 0));
    }
    free(spectra);
    return bad ? -1 : 0;
}

/* ---- patches ---- */

struct patch {
    const char *name, *tone;
    double x, y, w, h; /* pixels */
};

/* In head measure: middle x, middle y, half width, half height. */
static const struct {
    const char *name, *tone;
    double at[4];
} skin_patches[] = {
    {"temple", "light", {-0.33, -0.38, 0.08, 0.06}},
    {"cheek", "light", {-0.42, 0.12, 0.11, 0.08}},
    {"forehead", "middle", {0.13, -0.36, 0.11, 0.065}},
    {"jaw", "middle", {-0.37, 0.44, 0.085, 0.06}},
    {"far-temple", "shade", {0.42, -0.36, 0.06, 0.06}},
    {"far-cheek", "shade", {0.42, 0.21, 0.08, 0.09}},
};
enum { SKIN_PATCHES = sizeof skin_patches / sizeof *skin_patches, PATCHES = SKIN_PATCHES + 2 };

static struct patch patch_at(const struct scene *s, const char *name, const char *word, double x,
                             double y, double w, double h)
{
    return (struct patch){name,
                          word,
                          (x - w) * s->unit + 0.5 * (double)s->is.width,
                          (y - h - 0.5) * s->unit + 0.5 * (double)s->is.height,
                          2 * w * s->unit,
                          2 * h * s->unit};
}

static size_t list_patches(const struct scene *s, struct patch to[PATCHES])
{
    const struct person *who = &s->person[0];
    size_t n = 0;
    for (; n < SKIN_PATCHES; n++) {
        const double *at = skin_patches[n].at;
        to[n] = patch_at(s, skin_patches[n].name, skin_patches[n].tone, who->x + at[0] * who->size,
                         who->y + at[1] * who->size, at[2] * who->size, at[3] * who->size);
    }
    if (!s->is.brick)
        to[n++] = patch_at(s, "backdrop", "backdrop", -0.29, 0.10, 0.045, 0.05);
    if (s->is.card)
        to[n++] = patch_at(s, "card", "card", who->x + card_place[0], card_place[1] - 0.01,
                           0.65 * card_place[2], 0.6 * card_place[3]);
    return n;
}

/* The mean of the encoded samples whose middles lie in the patch, as CIELAB. */
static struct carn_lab measure(const struct scene *s, const struct patch *at)
{
    double sum[3] = {0, 0, 0}, rgb[3], count = 0;
    for (size_t y = (size_t)ceil(fmax(at->y - 0.5, 0)); (double)y + 0.5 < at->y + at->h; y++)
        for (size_t x = (size_t)ceil(fmax(at->x - 0.5, 0)); (double)x + 0.5 < at->x + at->w; x++) {
            if (x >= s->is.width || y >= s->is.height)
                continue;
            shoot(s, x, y, rgb);
            count++;
            for (int c = 0; c < 3; c++)
                sum[c] += rgb[c];
        }
    struct carn_lab lab;
    for (int c = 0; c < 3; c++)
        rgb[c] = sum[c] / fmax(count, 1);
    carn_profile_to_lab(s->profile, rgb, &lab, 1);
    return lab;
}

static void print_patch(const struct scene *s, const struct patch *at, const char *name)
{
    double w = (double)s->is.width / 100, h = (double)s->is.height / 100;
    carn_table_print(stdout, name);
    printf("\t%s\t%s\t%.4f%%\t%.4f%%\t%.4f%%\t%.4f%%\n", at->name, at->tone, at->x / w, at->y / h,
           at->w / w, at->h / h);
}

static int print_patches(const struct scene *s)
{
    struct patch at[PATCHES];
    size_t n = list_patches(s, at);
    printf("frame\tpatch\ttone\tx\ty\tw\th\n");
    for (size_t i = 0; i < n; i++)
        print_patch(s, &at[i], s->is.name != NULL ? s->is.name : "*");
    return 0;
}

static int print_truth(const struct scene *s)
{
    struct patch at[PATCHES];
    size_t n = list_patches(s, at);
    printf("frame\tpatch\ttone\tL\ta\tb\n");
    for (size_t i = 0; i < n; i++) {
        struct carn_lab lab = measure(s, &at[i]);
        carn_table_print(stdout, s->is.name != NULL ? s->is.name : "*");
        printf("\t%s\t%s\t%.4f\t%.4f\t%.4f\n", at[i].name, at[i].tone, lab.L, lab.a, lab.b);
    }
    return 0;
}

/* ---- frames ---- */

static int begin(struct scene *s, struct carn_out *out, struct carn_frame *frame, const char *name,
                 struct carn_error *err)
{
    frame->width = s->is.width;
    frame->height = s->is.height;
    frame->colours = 3;
    frame->maxval = 65535;
    const char *subject = s->persons > 0 ? s->is.singer->name : NULL; /* a chart has none */
    bool bad = carn_frame_set_text(frame, "name", name, err) != 0 ||
               carn_frame_set(frame, "depth", "16", err) != 0 ||
               (subject != NULL &&
                (carn_frame_set_text(frame, "subject", subject, err) != 0 ||
                 carn_frame_set(frame, "camera", camera_names[s->is.camera], err) != 0)) ||
               carn_frame_set_blob(frame, "icc", s->icc, s->icc_size, err) != 0;
    return bad || carn_frame_begin(out, frame, false, err) != 0 ? -1 : 0;
}

typedef void pixel_maker(const struct scene *s, size_t x, size_t y, double rgb[3]);

static int write_rows(struct scene *s, struct carn_out *out, struct carn_frame *frame,
                      pixel_maker *make, struct carn_error *err)
{
    uint16_t *row = carn_alloc(s->is.width * 3, sizeof *row, err);
    int bad = row == NULL ? -1 : 0;
    for (size_t y = 0; y < s->is.height && bad == 0; y++) {
        double rgb[3];
        for (size_t x = 0; x < s->is.width; x++) {
            make(s, x, y, rgb);
            for (size_t c = 0; c < 3; c++)
                row[3 * x + c] = (uint16_t)lround(limit(rgb[c], 0, 1) * 65535);
        }
        bad = carn_frame_write(out, frame, row, err);
    }
    free(row);
    return bad;
}

static int write_picture(struct scene *s, const char *name, pixel_maker *make,
                         struct carn_error *err)
{
    struct carn_frame frame = {0};
    struct carn_out *out = carn_out_open(STDOUT_FILENO, "<stdout>", err);
    int bad = out == NULL || begin(s, out, &frame, name, err) != 0 ||
              write_rows(s, out, &frame, make, err) != 0 || carn_out_finish(out, err) != 0;
    carn_frame_clear(&frame);
    carn_out_close(out);
    return bad ? -1 : 0;
}

/* ---- the chart ---- */

/* Published CIELAB into the profile. The names and numbers of patches are the table's. */
static int read_chart(struct scene *s, struct carn_tool *tool, char names[CHART][32])
{
    struct carn_table *table = open_data(s->is.data, "chart24.tsv", &tool->err);
    bool bad = table == NULL || open_profile(s, &tool->err) != 0;
    int name = bad ? -1 : carn_table_need(table, "patch", &tool->err);
    int L = bad ? -1 : carn_table_need(table, "L_D50", &tool->err);
    int a = bad ? -1 : carn_table_need(table, "a_D50", &tool->err);
    int b = bad ? -1 : carn_table_need(table, "b_D50", &tool->err);
    bad = bad || name < 0 || L < 0 || a < 0 || b < 0;
    if (!bad && carn_table_rows(table) < CHART)
        bad = carn_fail(&tool->err, "chart24.tsv: fewer than %d patches", CHART) != 0;
    for (size_t i = 0; i < CHART && !bad; i++) {
        struct carn_lab lab;
        bad = carn_table_number(table, i, L, &lab.L, &tool->err) != 1 ||
              carn_table_number(table, i, a, &lab.a, &tool->err) != 1 ||
              carn_table_number(table, i, b, &lab.b, &tool->err) != 1 ||
              carn_profile_from_lab(s->profile, lab, s->chart[i], &tool->err) != 0;
        snprintf(names[i], sizeof names[i], "%zu-%.20s", i + 1, carn_table_cell(table, i, name));
        for (char *c = names[i]; *c != '\0' && !bad; c++)
            *c = *c == ' ' ? '-' : *c;
        double low = fmin(s->chart[i][0], fmin(s->chart[i][1], s->chart[i][2]));
        double high = fmax(s->chart[i][0], fmax(s->chart[i][1], s->chart[i][2]));
        if (!bad && (low < 0 || high > 1))
            carn_tool_note(tool, carn_table_cell(table, i, name), "%s is outside the profile",
                           names[i]);
    }
    carn_table_close(table);
    return bad ? -1 : 0;
}

/* Six by four fields, a dark tenth around each. */
static void chart_pixel(const struct scene *s, size_t x, size_t y, double rgb[3])
{
    double u = ((double)x + 0.5) * 6 / (double)s->is.width;
    double v = ((double)y + 0.5) * 4 / (double)s->is.height;
    size_t i = (size_t)v * 6 + (size_t)u;
    bool in = fabs(u - floor(u) - 0.5) < 0.4 && fabs(v - floor(v) - 0.5) < 0.4;
    for (int c = 0; c < 3; c++)
        rgb[c] = in ? s->chart[i][c] : 0.12;
}

static void print_chart_patches(const struct scene *s, char names[CHART][32])
{
    double w = (double)s->is.width / 6, h = (double)s->is.height / 4;
    printf("frame\tpatch\ttone\tx\ty\tw\th\n");
    for (size_t i = 0; i < CHART; i++) {
        size_t row = i / 6;
        struct patch at = {names[i], "-",    ((double)(i % 6) + 0.2) * w, ((double)row + 0.2) * h,
                           0.6 * w,  0.6 * h};
        print_patch(s, &at, s->is.name != NULL ? s->is.name : "*");
    }
}

/* ---- the program ---- */

enum { CAMERA = 256, TWIST, STRENGTH, CAST, GRAIN, SECOND, DOOR, BRICKS, RED, PROFILE, DATA, SEED };
enum { CHOIR = 300, PATCH_TABLE, TRUTH, CHART_FRAME, GREY };

static const struct carn_option options[] = {
    {'s', "singer", "NAME", "whose portrait (see --list; the first unless told)"},
    {CAMERA, "camera", "north|south|none", "whose camera (north); none is the ideal one"},
    {TWIST, "twist", "north|south|none", "whose twist of colour (the camera's own)"},
    {STRENGTH, "strength", "FACTOR", "of the twist (1)"},
    {CAST, "cast", "FACTOR", "of the camera's error of white balance (1)"},
    {GRAIN, "grain", "FACTOR", "of the noise (1)"},
    {GREY, "card", NULL, "holding a grey card"},
    {SECOND, "with", "NAME", "a second person behind"},
    {DOOR, "door", NULL, "a wooden door behind"},
    {BRICKS, "brick", NULL, "a brick wall behind"},
    {RED, "scarf", NULL, "a red scarf"},
    {PROFILE, "profile", "srgb|wide", "of the frame (srgb; the chart's is wide)"},
    {'w', "width", "PIXELS", "96 to 8000 (600)"},
    {'h', "height", "PIXELS", "96 to 8000 (800)"},
    {SEED, "seed", "N", "another grain and mottle (0)"},
    {'n', "name", "NAME", "the frame's name (SINGER.tif), and the frame in tables (*)"},
    {DATA, "data", "FOLDER", "of the spectra (tests/data beside build)"},
    {CHOIR, "list", NULL, "print the singers and their middle tones instead"},
    {PATCH_TABLE, "patches", NULL, "print the patch table for these options instead"},
    {TRUTH, "truth", NULL, "print the true CIELAB of each patch instead"},
    {CHART_FRAME, "chart", NULL, "the 24-patch chart as published, no camera"},
    {0},
};

struct request {
    struct options is;
    char data[4096];
    bool list, patches, truth, chart, twist_told, profile_told;
};

static int choose(const char *text, const char *what, const char *const *words, int count,
                  struct carn_error *err)
{
    for (int i = 0; i < count; i++)
        if (strcmp(text, words[i]) == 0)
            return i;
    return carn_fail(err, "%s: '%s' is unknown", what, text);
}

static int choose_singer(const char *text, const struct singer **to, struct carn_error *err)
{
    for (size_t i = 0; i < SINGERS; i++)
        if (strcmp(text, choir[i].name) == 0) {
            *to = &choir[i];
            return 0;
        }
    return carn_fail(err, "no singer '%s'; see --list", text);
}

static int read_amount(const struct carn_tool *tool, const char *what, double low, double high,
                       double *to, struct carn_error *err)
{
    if (carn_number(tool->value, what, to, err) != 0)
        return -1;
    if (*to < low || *to > high)
        return carn_fail(err, "%s: %s is not within %g to %g", what, tool->value, low, high);
    return 0;
}

static int read_count(const struct carn_tool *tool, const char *what, double low, double high,
                      size_t *to, struct carn_error *err)
{
    double v;
    if (read_amount(tool, what, low, high, &v, err) != 0)
        return -1;
    if (v != floor(v))
        return carn_fail(err, "%s: %s is not a whole number", what, tool->value);
    *to = (size_t)v;
    return 0;
}

static int take_value(struct request *r, int key, struct carn_tool *tool)
{
    static const char *const profiles[] = {"srgb", "wide"};
    struct options *is = &r->is;
    struct carn_error *err = &tool->err;
    size_t seed = 0;
    int chosen = 0, bad = 0;
    switch (key) {
    case 's':
        return choose_singer(tool->value, &is->singer, err);
    case SECOND:
        return choose_singer(tool->value, &is->second, err);
    case CAMERA:
        chosen = choose(tool->value, "--camera", camera_names, 3, err);
        is->camera = chosen < 0 ? NONE : (enum camera)chosen;
        return chosen;
    case TWIST:
        r->twist_told = true;
        chosen = choose(tool->value, "--twist", camera_names, 3, err);
        is->twist = chosen < 0 ? NONE : (enum camera)chosen;
        return chosen;
    case PROFILE:
        r->profile_told = true;
        chosen = choose(tool->value, "--profile", profiles, 2, err);
        is->wide = chosen == 1;
        return chosen;
    case STRENGTH:
        return read_amount(tool, "--strength", 0, 4, &is->strength, err);
    case CAST:
        return read_amount(tool, "--cast", -10, 10, &is->cast, err);
    case GRAIN:
        return read_amount(tool, "--grain", 0, 20, &is->grain, err);
    case 'w':
        return read_count(tool, "--width", 96, 8000, &is->width, err);
    case 'h':
        return read_count(tool, "--height", 96, 8000, &is->height, err);
    default:
        bad = read_count(tool, "--seed", 0, 4e9, &seed, err);
        is->seed = seed;
        return bad;
    }
}

static int take_option(struct request *r, int key, struct carn_tool *tool)
{
    switch (key) {
    case GREY:
        r->is.card = true;
        break;
    case DOOR:
        r->is.door = true;
        break;
    case BRICKS:
        r->is.brick = true;
        break;
    case RED:
        r->is.scarf = true;
        break;
    case 'n':
        r->is.name = tool->value;
        break;
    case DATA:
        r->is.data = tool->value;
        break;
    case CHOIR:
        r->list = true;
        break;
    case PATCH_TABLE:
        r->patches = true;
        break;
    case TRUTH:
        r->truth = true;
        break;
    case CHART_FRAME:
        r->chart = true;
        break;
    default:
        return take_value(r, key, tool);
    }
    return 0;
}

static int read_request(struct request *r, struct carn_tool *tool, int argc, char **argv)
{
    int key;
    r->is = (struct options){
        .singer = &choir[0], .strength = 1, .cast = 1, .grain = 1, .width = 600, .height = 800};
    while ((key = carn_tool_option(tool, argc, argv)) > 0)
        if (take_option(r, key, tool) < 0)
            return -1;
    if (key < 0)
        return -1;
    if (optind < argc)
        return carn_fail(&tool->err, "no operand is taken: '%s'", argv[optind]);
    if (r->list + r->patches + r->truth > 1 || (r->chart && (r->list || r->truth)))
        return carn_fail(&tool->err, "only one of --list, --patches and --truth, and only "
                                     "--patches with --chart");
    if (!r->twist_told)
        r->is.twist = r->is.camera;
    if (r->chart && !r->profile_told)
        r->is.wide = true;
    if (r->is.data == NULL) {
        if (carn_tool_share("../tests/data", r->data, sizeof r->data, &tool->err) != 0)
            return -1;
        r->is.data = r->data;
    }
    return 0;
}

static void clear(struct scene *s)
{
    carn_profile_close(s->profile);
    free(s->icc);
    s->profile = NULL;
    s->icc = NULL;
}

static int print_choir(struct scene *s, struct carn_error *err)
{
    printf("singer\tdepth\tL\ta\tb\n");
    for (size_t i = 0; i < SINGERS; i++) {
        s->is.singer = &choir[i];
        s->is.camera = NONE;
        clear(s);
        if (set_up(s, err) != 0)
            return -1;
        struct paint p = {{0, 0, 0}, 0};
        lay_skin(&p, &s->person[0].skin, (struct light){1, 0}, 1);
        struct carn_lab lab = lab_of(p.xyz);
        printf("%s\t%s\t%.4f\t%.4f\t%.4f\n", choir[i].name,
               lab.L > 60   ? "light"
               : lab.L > 45 ? "medium"
                            : "deep",
               lab.L, lab.a, lab.b);
    }
    return 0;
}

static int draw_chart(struct scene *s, const struct request *r, struct carn_tool *tool)
{
    char names[CHART][32];
    if (read_chart(s, tool, names) != 0)
        return -1;
    if (!r->patches)
        return write_picture(s, r->is.name != NULL ? r->is.name : "chart.tif", chart_pixel,
                             &tool->err);
    print_chart_patches(s, names);
    return 0;
}

static int draw_portrait(struct scene *s, const struct request *r, struct carn_tool *tool)
{
    char name[64];
    snprintf(name, sizeof name, "%s.tif", r->is.singer->name);
    s->detail = r->is.camera;
    if (r->truth) {
        s->is.camera = s->is.twist = NONE;
        s->is.grain = 0;
    }
    if (set_up(s, &tool->err) != 0)
        return -1;
    if (r->truth)
        return print_truth(s);
    if (r->patches)
        return print_patches(s);
    return write_picture(s, r->is.name != NULL ? r->is.name : name, shoot, &tool->err);
}

int main(int argc, char **argv)
{
    /* arguments */
    struct carn_tool tool = {.name = "scene",
                             .operands = "",
                             .purpose = "Writes one invented portrait with known truth.",
                             .options = options};
    struct request r = {0};
    if (read_request(&r, &tool, argc, argv) != 0)
        return carn_tool_end(&tool);

    /* prepare */
    struct scene *s = carn_alloc(1, sizeof *s, &tool.err);
    if (s == NULL)
        return carn_tool_end(&tool);
    s->is = r.is;

    /* data; what failed is in tool.err */
    if (r.list)
        (void)print_choir(s, &tool.err);
    else if (r.chart)
        (void)draw_chart(s, &r, &tool);
    else
        (void)draw_portrait(s, &r, &tool);

    /* clean up */
    clear(s);
    free(s);
    return carn_tool_end(&tool);
}
