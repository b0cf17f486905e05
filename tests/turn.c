/*
 * Turns against arithmetic in double precision that is written here anew: CIELAB from its formulas
 * (CIE 15), profiles from their own bytes (ICC.1). Of the library only the CIEDE2000 is shared,
 * which tests/colour.c holds to published pairs.
 */
#include "colour/profile.h"
#include "colour/space.h"
#include "correct/correction.h"
#include "frame/keys.h"
#include "tap.h"

#include <complex.h>
#include <lcms2.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* ---- a profile by its bytes ---- */

struct trc {
    size_t entries; /* of a table; 0 for a curve of parameters */
    double *entry;
    double g, a, b, c, d; /* (a v + b)^g from d on, c v below */
};

struct reference {
    double to[3][3], back[3][3]; /* linear light to XYZ under D50, and back */
    struct trc trc[3];
};

static uint32_t u32(const unsigned char *p)
{
    return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3];
}

static uint32_t u16(const unsigned char *p)
{
    return (uint32_t)p[0] << 8 | p[1];
}

static double s15(const unsigned char *p)
{
    return (int32_t)u32(p) / 65536.0;
}

static const unsigned char *tag(const unsigned char *icc, const char *name)
{
    for (uint32_t i = 0; i < u32(icc + 128); i++)
        if (memcmp(icc + 132 + (size_t)12 * i, name, 4) == 0)
            return icc + u32(icc + 136 + (size_t)12 * i);
    return NULL;
}

static bool read_trc(const unsigned char *p, struct trc *trc)
{
    *trc = (struct trc){.g = 1, .a = 1, .d = -1};
    if (memcmp(p, "curv", 4) == 0) {
        uint32_t n = u32(p + 8);
        if (n == 1)
            trc->g = u16(p + 12) / 256.0;
        if (n < 2)
            return true;
        trc->entries = n;
        trc->entry = calloc(n, sizeof *trc->entry);
        for (uint32_t i = 0; trc->entry != NULL && i < n; i++)
            trc->entry[i] = u16(p + 12 + (size_t)2 * i) / 65535.0;
        return trc->entry != NULL;
    }
    if (memcmp(p, "para", 4) != 0 || (u16(p + 8) != 0 && u16(p + 8) != 3))
        return false;
    trc->g = s15(p + 12);
    if (u16(p + 8) == 3) {
        trc->a = s15(p + 16);
        trc->b = s15(p + 20);
        trc->c = s15(p + 24);
        trc->d = s15(p + 28);
    }
    return true;
}

static bool read_reference(const unsigned char *icc, struct reference *r)
{
    static const char *const primaries[] = {"rXYZ", "gXYZ", "bXYZ"};
    static const char *const curves[] = {"rTRC", "gTRC", "bTRC"};
    for (int c = 0; c < 3; c++) {
        const unsigned char *xyz = tag(icc, primaries[c]), *trc = tag(icc, curves[c]);
        if (xyz == NULL || trc == NULL || !read_trc(trc, &r->trc[c]))
            return false;
        for (int i = 0; i < 3; i++)
            r->to[i][c] = s15(xyz + 8 + 4 * i);
    }
    double work[3][6];
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 6; j++)
            work[i][j] = j < 3 ? r->to[i][j] : j - 3 == i;
    for (int c = 0; c < 3; c++) /* Gauss, Jordan; no primary lacks its own part */
        for (int i = -1; i < 3; i++) {
            double by = i < 0 ? work[c][c] : i == c ? 0 : work[i][c];
            for (int j = 0; j < 6; j++) {
                if (i < 0)
                    work[c][j] /= by;
                else
                    work[i][j] -= by * work[c][j];
            }
        }
    for (int i = 0; i < 3; i++)
        memcpy(r->back[i], work[i] + 3, sizeof r->back[i]);
    return true;
}

static double linear(const struct trc *t, double v)
{
    if (t->entries == 0)
        return v >= t->d ? pow(t->a * v + t->b, t->g) : t->c * v;
    double at = v * (double)(t->entries - 1);
    size_t i = at < (double)(t->entries - 1) ? (size_t)at : t->entries - 2;
    return t->entry[i] + (at - (double)i) * (t->entry[i + 1] - t->entry[i]);
}

static double lab_f(double t)
{
    return t > pow(6 / 29.0, 3) ? cbrt(t) : t / 3 * pow(29 / 6.0, 2) + 4 / 29.0;
}

static double lab_f_back(double f)
{
    return f > 6 / 29.0 ? f * f * f : 3 * pow(6 / 29.0, 2) * (f - 4 / 29.0);
}

static const double white[3] = {0.9642, 1, 0.8249}; /* ICC.1, D50 */

static struct carn_lab lab_of(const struct reference *r, const uint16_t rgb[3])
{
    double light[3], f[3];
    for (int c = 0; c < 3; c++)
        light[c] = linear(&r->trc[c], rgb[c] / 65535.0);
    for (int i = 0; i < 3; i++)
        f[i] = lab_f((r->to[i][0] * light[0] + r->to[i][1] * light[1] + r->to[i][2] * light[2]) /
                     white[i]);
    return (struct carn_lab){116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])};
}

static bool inside(const struct reference *r, struct carn_lab lab)
{
    double fy = (lab.L + 16) / 116, xyz[3];
    xyz[0] = white[0] * lab_f_back(fy + lab.a / 500);
    xyz[1] = lab_f_back(fy);
    xyz[2] = white[2] * lab_f_back(fy - lab.b / 200);
    double low = 0, high = 0;
    for (int c = 0; c < 3; c++) {
        double v = r->back[c][0] * xyz[0] + r->back[c][1] * xyz[1] + r->back[c][2] * xyz[2];
        low = fmin(low, v);
        high = fmax(high, v);
    }
    return low >= -1e-6 * high && high <= 1 + 1e-6;
}

/* ---- turns, anew ---- */

struct row {
    double L, from_a, from_b, to_a, to_b;
};

/* Ratio over L*: rows sorted by L*, straight between, held beyond; times what was there. */
static double complex ratio(const struct row *rows, size_t count, double L)
{
    double complex at[8];
    for (size_t i = 0; i < count; i++)
        at[i] = (rows[i].to_a + I * rows[i].to_b) / (rows[i].from_a + I * rows[i].from_b);
    if (L <= rows[0].L)
        return at[0];
    for (size_t i = 1; i < count; i++)
        if (L < rows[i].L) {
            double t = (L - rows[i - 1].L) / (rows[i].L - rows[i - 1].L);
            return at[i - 1] + t * (at[i] - at[i - 1]);
        }
    return at[count - 1];
}

static struct carn_lab turned(const struct reference *r, struct carn_lab lab, double complex by,
                              bool *out)
{
    double complex z = (lab.a + I * lab.b) * by;
    struct carn_lab to = {lab.L, creal(z), cimag(z)};
    *out = !inside(r, to);
    if (!*out)
        return to;
    double low = 0, high = 1;
    for (int i = 0; i < 40; i++) {
        double middle = (low + high) / 2;
        if (inside(r, (struct carn_lab){lab.L, middle * creal(z), middle * cimag(z)}))
            low = middle;
        else
            high = middle;
    }
    return (struct carn_lab){lab.L, low * creal(z), low * cimag(z)};
}

/* ---- the same by the library ---- */

static struct carn_correction *make(const struct row *rows, size_t count,
                                    struct carn_profile *profile, struct carn_error *err)
{
    struct carn_move moves[8];
    struct carn_gains gains;
    for (size_t i = 0; i < count; i++)
        moves[count - 1 - i] =
            (struct carn_move){.kind = CARN_TURN, /* out of order */
                               .from = {rows[i].L, rows[i].from_a, rows[i].from_b},
                               .to = {rows[i].L, rows[i].to_a, rows[i].to_b}};
    struct carn_curve curve = {"t", count, moves};
    return carn_correction_open(&curve, 1, profile, &gains, err);
}

static const struct row one[] = {{61.3, 19.9, 32.1, 18.3, 27.4}};
static const struct row strong[] = {{60, 20, 20, -2, 45}};
static const struct row tones[] = {
    {30, 20, 18, 17, 24}, {52, 22, 24, 23, 27}, {76, 14, 22, 15.5, 15}};

enum { WIDTH = 4096 };

static uint16_t row[5 * WIDTH], was[5 * WIDTH];

/* Kinds of rows: any colours, dark ones, near greys, light ones, skin (which need not be exact). */
static void fill(int kind, size_t step)
{
    static uint64_t state = 1;
    for (size_t x = 0; x < WIDTH; x++) {
        int chance[4];
        for (int i = 0; i < 4; i++) {
            state = state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
            chance[i] = (int)(state >> 48);
        }
        uint16_t *p = was + x * step;
        for (int c = 0; c < 3; c++)
            p[c] = (uint16_t)(kind == 0   ? chance[c]
                              : kind == 1 ? chance[c] >> 5
                              : kind == 2 ? (chance[3] * 15 + chance[c]) / 16
                              : kind == 3 ? 65535 - (chance[c] >> 4)
                                          : chance[3] / (c + 1) + (chance[c] >> 3) / (c + 2));
        for (size_t c = 3; c < step; c++)
            p[c] = (uint16_t)(x % 7 == 0 ? 0 : x % 7 == 1 ? 65535 : chance[3]);
    }
    memcpy(row, was, sizeof row);
}

static void test_turns(const char *name, const struct reference *r, struct carn_profile *profile,
                       const struct row *rows, size_t count, double worst_L)
{
    struct carn_error err = {0};
    struct carn_correction *correction = make(rows, count, profile, &err);
    struct carn_frame frame = {.width = WIDTH, .height = 1, .colours = 3, .weight = true};
    double worst = 0, lightness = 0;
    size_t outside = 0, moved = 0;
    for (int kind = 0; correction != NULL && kind < 5; kind++) {
        fill(kind, 4);
        carn_correction_row(correction, &frame, row);
        for (size_t x = 0; x < WIDTH; x++) {
            struct carn_lab from = lab_of(r, was + 4 * x), got = lab_of(r, row + 4 * x);
            double w = was[4 * x + 3] / 65535.0;
            bool out;
            struct carn_lab want = turned(r, from, 1 + w * (ratio(rows, count, from.L) - 1), &out);
            outside += out;
            worst = fmax(worst, carn_ciede2000(want, got).total);
            lightness = fmax(lightness, fabs(got.L - from.L));
            moved += memcmp(was + 4 * x, row + 4 * x, 8) != 0;
        }
    }
    tap_ok(correction != NULL && worst < 0.1 && lightness < worst_L && moved > 4 * (size_t)WIDTH,
           "%s, turns at %zu L*: within CIEDE2000 %.3f and L* %.4f of double precision, %zu out of "
           "gamut %s",
           name, count, worst, lightness, outside, err.text);
    carn_correction_close(correction);
}

static void test_greys(const char *name, struct carn_profile *profile)
{
    struct carn_error err = {0};
    struct carn_correction *correction = make(strong, 1, profile, &err);
    struct carn_frame frame = {.width = WIDTH, .height = 1, .colours = 3};
    int worst = 0;
    for (size_t part = 0; correction != NULL && part < 65536; part += WIDTH) {
        for (size_t i = 0; i < 3 * (size_t)WIDTH; i++)
            row[i] = (uint16_t)(part + i / 3);
        carn_correction_row(correction, &frame, row);
        for (size_t i = 0; i < 3 * (size_t)WIDTH; i++) {
            int d = abs((int)row[i] - (int)(part + i / 3));
            worst = d > worst ? d : worst;
        }
    }
    tap_ok(correction != NULL && worst <= 1, "%s: all 65,536 greys stay within %d code", name,
           worst);
    carn_correction_close(correction);
}

/* ---- profiles ---- */

static void test_matrix_profile(const char *name, const void *icc, size_t size, double worst_L)
{
    struct carn_error err = {0};
    struct reference r = {0};
    struct carn_profile *profile = carn_profile_open(icc, size, 3, &err);
    if (profile == NULL || !read_reference(icc, &r)) {
        tap_ok(false, "%s opens %s", name, err.text);
        carn_profile_close(profile);
        return;
    }
    test_turns(name, &r, profile, one, 1, worst_L);
    test_turns(name, &r, profile, strong, 1, worst_L);
    test_turns(name, &r, profile, tones, 3, worst_L);
    test_greys(name, profile);
    for (int c = 0; c < 3; c++)
        free(r.trc[c].entry);
    carn_profile_close(profile);
}

static void test_space(const char *name)
{
    struct carn_error err = {0};
    size_t size = 0;
    void *icc = carn_space_profile(name, &size, &err);
    test_matrix_profile(name, icc, size, 0.02);
    free(icc);
}

static void test_file(const char *path, double worst_L)
{
    struct carn_error err = {0};
    size_t size = 0;
    void *icc = carn_profile_read(path, &size, &err);
    if (icc != NULL)
        test_matrix_profile(strrchr(path, '/') + 1, icc, size, worst_L);
    else
        tap_ok(true, "%s # skip not installed", path);
    free(icc);
}

/* A profile whose white is a little redder than D50, by more than rounding: its greys have the
 * colour that it says. */
static void test_tinted(void)
{
    struct carn_error err = {0};
    size_t size = 0;
    unsigned char *icc = carn_space_profile("srgb", &size, &err);
    unsigned char *red = icc != NULL ? icc + (tag(icc, "rXYZ") - icc) + 8 : NULL;
    for (int i = 0; red != NULL && i < 3; i++, red += 4) {
        uint32_t v = u32(red) + u32(red) / 300;
        for (int byte = 0; byte < 4; byte++)
            red[byte] = (unsigned char)(v >> (24 - 8 * byte));
    }
    struct reference r = {0};
    struct carn_profile *profile = carn_profile_open(icc, size, 3, &err);
    bool opened = icc != NULL && profile != NULL && read_reference(icc, &r);
    tap_ok(opened, "a profile with a tinted white opens %s", err.text);
    if (opened)
        test_turns("a tinted white", &r, profile, tones, 3, 0.02);
    carn_profile_close(profile);
    free(icc);
}

/* A curve of 256 entries that repeats values near black and ends before white: codes that cannot be
 * told apart in linear light still come back as they were. */
static void test_coarse(void)
{
    cmsUInt16Number entry[256];
    cmsCIExyY d50 = *cmsD50_xyY();
    cmsCIExyYTRIPLE primaries = {{0.64, 0.33, 1}, {0.3, 0.6, 1}, {0.15, 0.06, 1}};
    for (int i = 0; i < 256; i++)
        entry[i] = (cmsUInt16Number)(fmin(pow(i / 250.0, 2.6), 1) * 65535);
    cmsToneCurve *curve = cmsBuildTabulatedToneCurve16(NULL, 256, entry);
    cmsToneCurve *curves[3] = {curve, curve, curve};
    cmsHPROFILE made = cmsCreateRGBProfile(&d50, &primaries, curves);
    cmsUInt32Number size = 0;
    cmsSaveProfileToMem(made, NULL, &size);
    void *icc = malloc(size);
    cmsSaveProfileToMem(made, icc, &size);
    test_matrix_profile("a coarse curve", icc, size, 0.02);
    free(icc);
    cmsFreeToneCurve(curve);
    cmsCloseProfile(made);
}

/* ---- a profile of tables, made here ---- */

static cmsInt32Number sample_node(const cmsUInt16Number in[], cmsUInt16Number out[], void *cargo)
{
    cmsDoTransform(cargo, in, out, 1);
    return 1;
}

static struct carn_profile *open_tables(void)
{
    struct carn_error err = {0};
    cmsHPROFILE srgb = cmsCreate_sRGBProfile(), lab = cmsCreateLab4Profile(NULL),
                made = cmsCreateProfilePlaceholder(NULL);
    cmsHTRANSFORM way =
        cmsCreateTransform(srgb, TYPE_RGB_16, lab, TYPE_Lab_16, INTENT_RELATIVE_COLORIMETRIC, 0);
    cmsHTRANSFORM back =
        cmsCreateTransform(lab, TYPE_Lab_16, srgb, TYPE_RGB_16, INTENT_RELATIVE_COLORIMETRIC, 0);
    cmsSetProfileVersion(made, 4.3);
    cmsSetDeviceClass(made, cmsSigOutputClass);
    cmsSetColorSpace(made, cmsSigRgbData);
    cmsSetPCS(made, cmsSigLabData);
    for (int k = 0; k < 2; k++) {
        cmsPipeline *pipeline = cmsPipelineAlloc(NULL, 3, 3);
        cmsStage *table = cmsStageAllocCLut16bit(NULL, 17, 3, 3, NULL);
        cmsStageSampleCLut16bit(table, sample_node, k == 0 ? way : back, 0);
        cmsPipelineInsertStage(pipeline, cmsAT_BEGIN, cmsStageAllocToneCurves(NULL, 3, NULL));
        cmsPipelineInsertStage(pipeline, cmsAT_END, table);
        cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(NULL, 3, NULL));
        cmsWriteTag(made, k == 0 ? cmsSigAToB0Tag : cmsSigBToA0Tag, pipeline);
        cmsPipelineFree(pipeline);
    }
    cmsWriteTag(made, cmsSigMediaWhitePointTag, cmsD50_XYZ());
    cmsUInt32Number size = 0;
    cmsSaveProfileToMem(made, NULL, &size);
    void *icc = malloc(size);
    cmsSaveProfileToMem(made, icc, &size);
    struct carn_profile *profile = carn_profile_open(icc, size, 3, &err);
    free(icc);
    cmsDeleteTransform(way);
    cmsDeleteTransform(back);
    cmsCloseProfile(srgb);
    cmsCloseProfile(lab);
    cmsCloseProfile(made);
    return profile;
}

static struct carn_lab lab_by(const struct carn_profile *profile, const uint16_t rgb[3])
{
    double v[3] = {rgb[0] / 65535.0, rgb[1] / 65535.0, rgb[2] / 65535.0};
    struct carn_lab lab;
    carn_profile_to_lab(profile, v, &lab, 1);
    return lab;
}

/* A colour inside the gamut is exact; one outside keeps hue and L*, and loses chroma. */
static void test_tables(void)
{
    struct carn_error err = {0};
    struct carn_profile *profile = open_tables();
    struct carn_correction *correction = profile != NULL ? make(tones, 3, profile, &err) : NULL;
    struct carn_frame frame = {.width = 1024, .height = 1, .colours = 3};
    double worst = 0, lightness = 0, hue = 0;
    size_t met = 0, back = 0;
    for (int kind = 0; correction != NULL && kind < 5; kind++) {
        fill(kind, 3);
        carn_correction_row(correction, &frame, row);
        for (size_t x = 0; x < 1024; x++) {
            struct carn_lab from = lab_by(profile, was + 3 * x), got = lab_by(profile, row + 3 * x);
            double complex z = (from.a + I * from.b) * ratio(tones, 3, from.L);
            struct carn_lab want = {from.L, creal(z), cimag(z)};
            lightness = fmax(lightness, fabs(got.L - from.L));
            if (carn_chroma(got) < carn_chroma(want) - 0.05) {
                double c = carn_chroma(got) / carn_chroma(want);
                hue = fmax(hue, carn_cie76(got, (struct carn_lab){want.L, c * want.a, c * want.b}));
                back++;
            } else {
                worst = fmax(worst, carn_ciede2000(want, got).total);
                met++;
            }
        }
    }
    tap_ok(met > 2000 && worst < 0.1 && lightness < 0.02,
           "a profile of tables: %zu colours within CIEDE2000 %.3f and L* %.4f %s", met, worst,
           lightness, err.text);
    tap_ok(back > 50 && hue < 0.1, "and %zu out of gamut on their own hue and L* within %.3f", back,
           hue);
    carn_correction_close(correction);
    carn_profile_close(profile);
}

/* ---- what the frame has beside colours ---- */

static void test_channels(void)
{
    struct carn_error err = {0};
    struct carn_profile *profile = carn_profile_open(NULL, 0, 3, &err);
    struct carn_correction *correction = make(one, 1, profile, &err);
    struct carn_frame frame = {
        .width = WIDTH, .height = 1, .colours = 3, .alpha = true, .weight = true};
    bool kept = true, passed = true;
    fill(0, 5);
    carn_correction_row(correction, &frame, row);
    for (size_t x = 0; x < WIDTH; x++) {
        kept = kept && (was[5 * x + 4] != 0 || memcmp(was + 5 * x, row + 5 * x, 10) == 0);
        passed = passed && memcmp(was + 5 * x + 3, row + 5 * x + 3, 4) == 0;
    }
    tap_ok(kept && memcmp(row, was, sizeof row) != 0, "weight 0 leaves every sample bit for bit");
    tap_ok(passed, "alpha and weight pass");

    /* Associated alpha of a half: the colour is turned, not its product with alpha. */
    uint16_t straight[3] = {40000, 30000, 22000},
             multiplied[8] = {20000, 15000, 11000, 32768, 7, 8, 9, 0};
    frame = (struct carn_frame){.width = 1, .height = 1, .colours = 3};
    carn_correction_row(correction, &frame, straight);
    frame = (struct carn_frame){.width = 2, .height = 1, .colours = 3, .alpha = true};
    (void)carn_frame_set(&frame, "alpha", "associated", &err);
    carn_correction_row(correction, &frame, multiplied);
    bool half = straight[2] != 22000 && multiplied[3] == 32768;
    for (int c = 0; c < 3; c++)
        half = half && abs(2 * multiplied[c] - straight[c]) <= 3;
    tap_ok(half, "samples multiplied with alpha are turned as their colours");
    tap_ok(multiplied[4] == 7 && multiplied[6] == 9, "nothing shows where alpha is 0");
    carn_frame_clear(&frame);
    carn_correction_close(correction);
    carn_profile_close(profile);
}

/* Curves apply in the order of their files; neighbours of one kind are applied as one. */
static void test_order(void)
{
    struct carn_error err = {0};
    struct carn_gains gains;
    struct carn_profile *profile = carn_profile_open(NULL, 0, 3, &err);
    struct carn_move turn = {.kind = CARN_TURN, .from = {60, 20, 30}, .to = {60, 16, 34}};
    struct carn_move back = {.kind = CARN_TURN, .from = {60, 16, 34}, .to = {60, 20, 30}};
    struct carn_move knot = {.kind = CARN_KNOT, .channel = 1, .x = 0.5, .y = 0.56};
    struct carn_move mixed[3] = {turn, knot, back};
    struct carn_curve apart[3] = {{"a", 1, &turn}, {"b", 1, &knot}, {"c", 1, &back}};
    struct carn_curve together = {"d", 3, mixed}, twice[2] = {{"a", 1, &turn}, {"c", 1, &back}};
    struct carn_frame frame = {.width = WIDTH, .height = 1, .colours = 3};
    static uint16_t step[3 * WIDTH], whole[3 * WIDTH], joined[3 * WIDTH];
    fill(4, 3);
    memcpy(step, was, sizeof step);
    memcpy(whole, was, sizeof whole);
    memcpy(joined, was, sizeof joined);
    for (size_t i = 0; i < 3; i++) {
        struct carn_correction *c = carn_correction_open(&apart[i], 1, profile, &gains, &err);
        carn_correction_row(c, &frame, step);
        carn_correction_close(c);
    }
    struct carn_correction *c = carn_correction_open(apart, 3, profile, &gains, &err);
    carn_correction_row(c, &frame, whole);
    carn_correction_close(c);
    c = carn_correction_open(&together, 1, profile, &gains, &err);
    carn_correction_row(c, &frame, joined);
    carn_correction_close(c);
    tap_ok(memcmp(step, whole, sizeof step) == 0 && memcmp(step, joined, sizeof step) == 0,
           "turn, knot, turn work in their order, in three runs, in three files and in one");
    c = carn_correction_open(twice, 2, profile, &gains, &err);
    carn_correction_row(c, &frame, row);
    carn_correction_close(c);
    int worst = 0;
    for (size_t i = 0; i < 3 * (size_t)WIDTH; i++)
        worst = abs((int)row[i] - was[i]) > worst ? abs((int)row[i] - was[i]) : worst;
    tap_ok(worst <= 1,
           "a turn and its opposite cancel within %d code, also where the first alone would leave "
           "the gamut",
           worst);
    carn_profile_close(profile);
}

static void test_possible(void)
{
    struct carn_error err = {0};
    struct carn_profile *profile = carn_profile_open(NULL, 0, 3, &err);
    static const struct {
        enum carn_limit limit;
        struct carn_move moves[2];
    } cases[] = {
        {CARN_NO_LIMIT,
         {{.from = {60, 20, 30}, .to = {60, 16, 34}}, {.from = {50, 20, 30}, .to = {50, 9, 9}}}},
        {CARN_LIMIT_GAMUT,
         {{.from = {60, 20, 30}, .to = {60, 16, 34}}, {.from = {95, 20, 30}, .to = {95, 2, 3}}}},
        {CARN_LIMIT_GAMUT,
         {{.from = {60, 40, 40}, .to = {60, 90, 90}}, {.from = {50, 20, 30}, .to = {50, 9, 9}}}},
        {CARN_LIMIT_GREY,
         {{.from = {60, 0.5, 0.5}, .to = {60, 1, 1}}, {.from = {50, 20, 30}, .to = {50, 9, 9}}}},
        {CARN_LIMIT_CHROMA,
         {{.from = {60, 2, 2}, .to = {60, 9, 9}}, {.from = {50, 20, 30}, .to = {50, 9, 9}}}},
        {CARN_LIMIT_TONES,
         {{.from = {60, 20, 30}, .to = {60, 16, 34}},
          {.from = {60.4, 20, 30}, .to = {60.4, 9, 9}}}},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct carn_move moves[2] = {cases[i].moves[0], cases[i].moves[1]};
        enum carn_limit limit = CARN_NO_LIMIT;
        moves[0].kind = moves[1].kind = CARN_TURN;
        int rc = carn_curve_possible(moves, 2, profile, &limit, &err);
        tap_ok(rc == (cases[i].limit != CARN_NO_LIMIT) && (rc == 0 || limit == cases[i].limit),
               "turns that are %s", rc == 0 ? "possible" : carn_limit_word(limit));
    }
    carn_profile_close(profile);
}

int main(void)
{
    test_space("srgb");
    test_space("romm");
    test_file("/usr/share/color/icc/colord/WideGamutRGB.icc", 0.02);
    test_file("/usr/share/color/icc/colord/ProPhotoRGB.icc", 0.02);
    test_file("/usr/share/color/icc/colord/ECI-RGBv2.icc", 0.02);
    test_file("/usr/share/color/icc/colord/AppleRGB.icc", 0.02);
    test_file("/usr/share/color/icc/sRGB.icc", 0.02);
    test_tinted();
    test_coarse();
    test_tables();
    test_channels();
    test_order();
    test_possible();
    return tap_end();
}
