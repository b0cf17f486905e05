/* CIELAB, CIEDE2000 and sRGB against published values; the tables in tests/data name their sources.
 */
#include "colour/lab.h"
#include "colour/make_profile.h"
#include "colour/profile.h"
#include "tap.h"

#include <lcms2.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The lines of a table after comments and header, as numbers; returns how many rows. */
static size_t read_rows(const char *file, size_t skip, size_t columns, double *rows, size_t room)
{
    char path[4096], line[4096];
    snprintf(path, sizeof path, "%s/%s", getenv("DATA") != NULL ? getenv("DATA") : "tests/data",
             file);
    FILE *from = fopen(path, "r");
    size_t n = 0;
    while (from != NULL && fgets(line, sizeof line, from) != NULL && n < room) {
        if (line[0] == '#')
            continue;
        char *at = line;
        for (size_t i = 0; i < skip && at != NULL; i++)
            at = strchr(at, '\t') != NULL ? strchr(at, '\t') + 1 : NULL;
        size_t got = 0;
        for (; at != NULL && got < columns; got++) {
            char *end;
            rows[n * columns + got] = strtod(at, &end);
            if (end == at)
                break;
            at = end;
        }
        n += got == columns;
    }
    if (from != NULL)
        fclose(from);
    return n;
}

static void test_ciede2000(void)
{
    double rows[64 * 7];
    size_t n = read_rows("ciede2000_sharma2005.tsv", 1, 7, rows, 64);
    tap_ok(n == 34, "34 published CIEDE2000 pairs are read (%zu)", n);
    for (size_t i = 0; i < n; i++) {
        const double *r = rows + 7 * i;
        struct carn_lab x = {r[0], r[1], r[2]}, y = {r[3], r[4], r[5]};
        struct carn_ciede2000 d = carn_ciede2000(x, y), e = carn_ciede2000(y, x);
        double sum = d.lightness + d.chroma + d.hue + d.cross;
        tap_ok(fabs(d.total - r[6]) <= 1e-4 && fabs(e.total - r[6]) <= 1e-4 &&
                   fabs(sum - d.total * d.total) <= 1e-9,
               "CIEDE2000 pair %zu is %.4f both ways (%.6f), its terms sum to its square", i + 1,
               r[6], d.total);
    }
}

/* Lab values given for a white by its chromaticity. */
static void test_lab(void)
{
    double rows[16 * 8];
    size_t n = read_rows("lab_check.tsv", 0, 8, rows, 16);
    tap_ok(n == 5, "5 published CIELAB values are read (%zu)", n);
    for (size_t i = 0; i < n; i++) {
        const double *r = rows + 8 * i;
        struct carn_xyz white = {r[3] / r[4], 1, (1 - r[3] - r[4]) / r[4]};
        struct carn_lab lab = carn_xyz_to_lab((struct carn_xyz){r[0], r[1], r[2]}, white);
        struct carn_xyz back = carn_lab_to_xyz(lab, white);
        tap_ok(fabs(lab.L - r[5]) < 1e-6 && fabs(lab.a - r[6]) < 1e-6 && fabs(lab.b - r[7]) < 1e-6,
               "CIELAB value %zu is %.6f %.6f %.6f", i + 1, lab.L, lab.a, lab.b);
        tap_ok(fabs(back.X - r[0]) < 1e-12 && fabs(back.Y - r[1]) < 1e-12 &&
                   fabs(back.Z - r[2]) < 1e-12,
               "CIELAB value %zu goes back to its XYZ", i + 1);
    }
}

/* ICC.1:2022, 7.2.16: white of the profile connection space. */
static void test_white(void)
{
    struct carn_xyz white = carn_lab_to_xyz((struct carn_lab){100, 0, 0}, carn_d50);
    tap_ok(fabs(white.X - 0.9642) < 5e-5 && fabs(white.Y - 1) < 5e-5 &&
               fabs(white.Z - 0.8249) < 5e-5,
           "white is D50 (%.4f %.4f %.4f)", white.X, white.Y, white.Z);
}

static void test_angles(void)
{
    tap_ok(fabs(carn_hue_difference(350, 10) - 20) < 1e-12 &&
               fabs(carn_hue_difference(10, 350) + 20) < 1e-12,
           "hue differences go the short way round");
    double hues[] = {359, 20, 1, 350};
    tap_ok(fabs(carn_hue_median(hues, 4)) < 1e-12,
           "hues to both sides of 0 have their median there");
    /* A. Chardon et al. 1991: atan((L* - 50) / b*) */
    tap_ok(fabs(carn_ita((struct carn_lab){68, 12, 15}) - 50.19442891) < 1e-6,
           "ITA of L* 68 b* 15");
    char words[64];
    struct carn_lab skin = {60, 18, 24}, yellow = {60, 15, 27}, deep = {50, 18, 24};
    struct carn_ciede2000 d = carn_ciede2000(skin, yellow);
    carn_difference_words(skin, yellow, &d, 0.5, words, sizeof words);
    tap_ok(strstr(words, "yellower") != NULL, "a skin turned toward b* is yellower (%s)", words);
    carn_difference_words(yellow, skin, &d, 0.5, words, sizeof words);
    tap_ok(strstr(words, "more magenta") != NULL, "and the other way more magenta (%s)", words);
    d = carn_ciede2000(skin, deep);
    carn_difference_words(skin, deep, &d, 0.5, words, sizeof words);
    tap_ok(strcmp(words, "deeper") == 0, "less L* alone is deeper (%s)", words);
}

/* The transfer function through the profile that we make ourselves. */
static void test_srgb(void)
{
    struct carn_error err = {0};
    struct carn_profile *profile = carn_profile_open(NULL, 0, 3, &err);
    double rows[256 * 2], worst = 0, back = 0;
    size_t n = read_rows("srgb_transfer.tsv", 0, 2, rows, 256);
    tap_ok(n == 35 && profile != NULL && carn_profile_has_curves(profile),
           "35 sRGB values are read (%zu), our sRGB has curves %s", n, err.text);
    for (size_t i = 0; profile != NULL && i < n; i++) {
        double v = rows[2 * i] / 255;
        worst = fmax(worst, fabs(carn_profile_linear(profile, 1, v) - rows[2 * i + 1]));
        back = fmax(
            back,
            fabs(carn_profile_encoded(profile, 1, rows[2 * i + 1], i % 2 ? v + 1e-5 : -1) - v));
    }
    tap_ok(worst < 1e-5, "sRGB to linear light within 1e-5, as ICC keeps 1/65536 (%.2g)", worst);
    tap_ok(back < 1e-5, "and back within 1e-5 (%.2g)", back);
    /* IEC 61966-2-1 primaries adapted by Bradford; values from memory. */
    double red[3] = {1, 0, 0}, grey[3] = {0.5, 0.5, 0.5}, rgb[3];
    struct carn_lab lab;
    carn_profile_to_lab(profile, red, &lab, 1);
    tap_ok(fabs(lab.L - 54.29) < 0.02 && fabs(lab.a - 80.81) < 0.05 && fabs(lab.b - 69.89) < 0.06,
           "sRGB red is CIELAB D50 54.29 80.81 69.89 (%.2f %.2f %.2f)", lab.L, lab.a, lab.b);
    carn_profile_to_lab(profile, grey, &lab, 1);
    tap_ok(fabs(lab.a) < 0.01 && fabs(lab.b) < 0.01, "sRGB grey is neutral (%.4f %.4f)", lab.a,
           lab.b);
    double furthest = 0;
    for (int i = 0; i < 200; i++) {
        struct carn_lab want = {20 + i % 10 * 7, 4 + i % 7 * 3, 5 + i % 11 * 2}, got;
        bool good = carn_profile_from_lab(profile, want, rgb, &err) == 0;
        carn_profile_to_lab(profile, rgb, &got, 1);
        furthest = fmax(furthest, good ? carn_cie76(want, got) : 100);
    }
    tap_ok(furthest < 0.001, "CIELAB to sRGB and back within 0.001 (%.2g)", furthest);
    size_t a = 0, b = 0;
    unsigned char *one = carn_profile_make_srgb(&a, &err), *two = carn_profile_make_srgb(&b, &err);
    tap_ok(one != NULL && two != NULL && a == b && memcmp(one, two, a) == 0 && one[24] == 0x07 &&
               one[25] == 0xEA,
           "a made profile has no clock in it");
    free(one);
    free(two);
    carn_profile_close(profile);
}

/* (1 - x)^-40: at 15 of 16 a float cannot hold it, at 14 of 16 and at both ends it can. */
static cmsToneCurve *steep_curve(void)
{
    const cmsFloat64Number power[] = {-40, -1, 1, 0, 0};
    return cmsBuildParametricToneCurve(NULL, 4, power);
}

static void test_refused(cmsHPROFILE handle, const char *where)
{
    struct carn_error err = {0};
    unsigned char icc[4096];
    cmsUInt32Number size = sizeof icc;
    bool made = cmsSaveProfileToMem(handle, icc, &size);
    cmsCloseProfile(handle);
    tap_ok(made && carn_profile_open(icc, size, 3, &err) == NULL &&
               strstr(err.text, "no CIELAB for some colours") != NULL,
           "a profile without CIELAB for %s is refused (%s)", where, err.text);
}

static void test_no_colour(void)
{
    const cmsCIExyYTRIPLE primaries = {{0.64, 0.33, 1}, {0.30, 0.60, 1}, {0.15, 0.06, 1}};
    cmsToneCurve *curve = steep_curve();
    cmsToneCurve *const curves[] = {curve, curve, curve};
    test_refused(cmsCreateRGBProfile(cmsD50_xyY(), &primaries, curves), "one grey in 16");

    /* Here the curves follow differences of channels, of which grey has none. */
    const cmsFloat64Number less[] = {1, -1, 0, 0, 1, -1, 1, 0, -1};
    cmsHPROFILE handle = cmsCreateProfilePlaceholder(NULL);
    cmsPipeline *pipeline = cmsPipelineAlloc(NULL, 3, 3);
    cmsSetProfileVersion(handle, 4.4);
    cmsSetDeviceClass(handle, cmsSigInputClass);
    cmsSetColorSpace(handle, cmsSigRgbData);
    cmsSetPCS(handle, cmsSigXYZData);
    cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(NULL, 3, NULL));
    cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocMatrix(NULL, 3, 3, less, NULL));
    cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(NULL, 3, curves));
    cmsWriteTag(handle, cmsSigAToB0Tag, pipeline);
    test_refused(handle, "red alone");
    cmsPipelineFree(pipeline);
    cmsFreeToneCurve(curve);
}

int main(void)
{
    test_ciede2000();
    test_lab();
    test_white();
    test_angles();
    test_srgb();
    test_no_colour();
    return tap_end();
}
