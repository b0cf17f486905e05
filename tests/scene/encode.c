/*
 * encode: from CIELAB to the samples of the frame: its profile's matrix and curves, and grain.
 */
#include "colour/make_profile.h"
#include "maths.h"
#include "scene.h"

#include <math.h>
#include <string.h>

/* opRGB, IEC 61966-2-5: white D65, red, green, blue; gamma 2.19921875 (from memory). */
static const double wide_xy[8] = {0.3127, 0.3290, 0.64, 0.33, 0.21, 0.71, 0.15, 0.06};

int scene_open_profile(struct scene *s, struct carn_error *err)
{
    s->icc = s->is.wide ? carn_profile_make(wide_xy, 2.19921875, &s->icc_size, err)
                        : carn_profile_make_srgb(&s->icc_size, err);
    s->profile = s->icc == NULL ? NULL : carn_profile_open(s->icc, s->icc_size, 3, err);
    return s->profile == NULL ? -1 : 0;
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

/* The profile's own matrix, read off its primaries. */
void scene_load_profile(struct scene *s)
{
    static const double primary[9] = {1, 0, 0, 0, 1, 0, 0, 0, 1};
    struct carn_lab lab[3];
    carn_profile_to_lab(s->profile, primary, lab, 3);
    for (int c = 0; c < 3; c++) {
        struct carn_xyz xyz = carn_lab_to_xyz(lab[c], carn_d50);
        s->from_rgb[c] = xyz.X;
        s->from_rgb[3 + c] = xyz.Y;
        s->from_rgb[6 + c] = xyz.Z;
    }
    invert(s->from_rgb, s->to_rgb);
}

void scene_load_codes(struct scene *s)
{
    for (int c = 0; c < 3; c++) {
        int like = carn_profile_like(s->profile, c);
        double near = 0;
        if (like < c)
            memcpy(s->code[c], s->code[like], sizeof s->code[c]);
        for (int i = 0; i < CODES && like == c; i++) {
            double root = (double)i / (CODES - 1);
            near = s->code[c][i] = carn_profile_encoded(s->profile, c, root * root, near);
        }
    }
}

/* Grain: shot and read noise in linear light (invented). */
void scene_encode(const struct scene *s, struct carn_lab lab, size_t column, size_t row,
                  double rgb[3])
{
    struct carn_xyz xyz = carn_lab_to_xyz(lab, carn_d50);
    double linear[3], light[3] = {xyz.X, xyz.Y, xyz.Z};
    multiply(s->to_rgb, light, linear);
    for (int c = 0; c < 3; c++) {
        double sigma = s->is.grain * sqrt(fmax(linear[c], 0) * 3e-5 + 4e-8);
        if (sigma > 0)
            linear[c] +=
                sigma * scene_normal(s->seed + 30 + (uint64_t)c, (int64_t)column, (int64_t)row);
        double at = sqrt(limit(linear[c], 0, 1)) * (CODES - 1);
        int i = at >= CODES - 1 ? CODES - 2 : (int)at;
        rgb[c] = s->code[c][i] + (at - i) * (s->code[c][i + 1] - s->code[c][i]);
    }
}
