/*
 * skin: the choir, and the colour of each singer's skin by the light on it.
 *
 * A table of shades a person is worked out once, so that a pixel of skin costs one look-up.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>

const struct singer scene_choir[SINGERS] = {
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

/* The singer's reflectance: darker tones through more melanin, exp(-k (nm/500)^-3.33) (S. L.
 * Jacques 1998: from memory), k by bisection on L*; lighter ones are the exposure's doing. */
static void skin_spectrum(const struct singer *who, const struct optics *eye,
                          const double from[BANDS], double skin[BANDS])
{
    double low = 0, high = 12, xyz[3];
    for (int step = 0; step < 60; step++) {
        double k = 0.5 * (low + high);
        for (int i = 0; i < BANDS; i++)
            skin[i] = from[i] * exp(-k * pow(scene_wavelength(i) / 500.0, -3.33));
        scene_xyz_of(eye, skin, xyz);
        if (lab_of(xyz).L > who->L)
            low = k;
        else
            high = k;
    }
    scene_xyz_of(eye, skin, xyz);
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

/* A place in the tables is the square root of light 0..4, which spaces L* well. */
static double shade_light(int place)
{
    double root = 2.0 * place / (SHADES - 1);
    return root * root;
}

void scene_shade(const struct shades *table, double light, double xyz[3])
{
    double at = sqrt(limit(light, 0, 4)) * 0.5 * (SHADES - 1);
    int i = at >= SHADES - 1 ? SHADES - 2 : (int)at;
    double t = at - i;
    for (int k = 0; k < 3; k++)
        xyz[k] = table->xyz[i][k] * (1 - t) + table->xyz[i + 1][k] * t;
}

void scene_make_skin(struct person *p, const struct optics *eye, const struct optics *camera,
                     const double measured[BANDS])
{
    double spectrum[BANDS], truth[3], seen[3];
    skin_spectrum(p->singer, eye, measured, spectrum);
    scene_xyz_of(eye, spectrum, truth);
    scene_xyz_of(camera, spectrum, seen);
    for (int i = 0; i < SHADES; i++) {
        render_skin(p->singer, truth, seen, shade_light(i), 0, 1, p->skin.xyz[i]);
        render_skin(p->singer, truth, seen, shade_light(i) * 0.72, -17, 1.12, p->lips.xyz[i]);
    }
}
