/*
 * optics: from a reflectance to XYZ, through the eye or a camera's filters and matrix.
 *
 * A camera's maker photographs the published chart under the flash and fits a matrix to it; what
 * the matrix cannot mend is how cameras differ.
 */
#include "maths.h"
#include "scene.h"

#include <math.h>
#include <string.h>

/* Invented: peak nm and width of red, green, blue. Near enough to the eye's own that the matrix
 * brings skin home, and unlike enough that the two cameras see cloth differently. */
static const double peaks[2][3][2] = {
    [NORTH] = {{597, 36}, {549, 37}, {452, 24}},
    [SOUTH] = {{593.5, 40}, {543, 30}, {450, 37}},
};

static void raw_of(const struct optics *o, const double reflectance[BANDS], double raw[3])
{
    for (int c = 0; c < 3; c++) {
        raw[c] = 0;
        for (int i = 0; i < BANDS; i++)
            raw[c] += o->sense[c][i] * reflectance[i];
    }
}

void scene_xyz_of(const struct optics *o, const double reflectance[BANDS], double xyz[3])
{
    double raw[3];
    raw_of(o, reflectance, raw);
    multiply(o->matrix, raw, xyz);
}

/* Scales it so that a perfect white reads 1. */
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

void scene_make_optics(struct optics *o, const struct spectra *s, enum camera camera)
{
    make_eye(o, s);
    if (camera == NONE)
        return;
    struct optics eye = *o;
    double raw[CHART][3], want[CHART][3];
    for (int c = 0; c < 3; c++) {
        for (int i = 0; i < BANDS; i++)
            o->sense[c][i] =
                s->flash[i] * bell(scene_wavelength(i) - peaks[camera][c][0], peaks[camera][c][1]);
        white_one(o->sense[c]);
    }
    for (int k = 0; k < CHART; k++) {
        raw_of(o, s->chart[k], raw[k]);
        scene_xyz_of(&eye, s->chart[k], want[k]);
    }
    const double white[3] = {carn_d50.X, carn_d50.Y, carn_d50.Z};
    for (int row = 0; row < 3; row++)
        fit_row(raw, want, row, white[row], o->matrix + 3 * row);
}
