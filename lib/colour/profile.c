#include "colour/profile.h"

#include "base/io.h"
#include "base/md5.h"
#include "colour/lcms.h"
#include "colour/make_profile.h"
#include "colour/matrix.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static cmsHTRANSFORM make_transform(cmsHPROFILE from, cmsUInt32Number from_type, cmsHPROFILE to,
                                    cmsUInt32Number to_type, cmsUInt32Number flags)
{
    return cmsCreateTransform(from, from_type, to, to_type, INTENT_RELATIVE_COLORIMETRIC,
                              CARN_EXACT | flags);
}

/* The connection space as a profile, on either side of a transform. */
static cmsHTRANSFORM with_lab(cmsHPROFILE handle, cmsUInt32Number type, bool to_lab,
                              cmsUInt32Number flags)
{
    cmsHPROFILE lab = cmsCreateLab4Profile(NULL);
    if (lab == NULL)
        return NULL;
    cmsHTRANSFORM transform = to_lab ? make_transform(handle, type, lab, TYPE_Lab_DBL, flags)
                                     : make_transform(lab, TYPE_Lab_DBL, handle, type, flags);
    cmsCloseProfile(lab);
    return transform;
}

/* ---- RGB and grey ---- */

/* Curves and a matrix count only where no table takes precedence over them. */
static void find_curves(struct carn_profile *profile)
{
    static const cmsTagSignature tags[] = {cmsSigRedTRCTag, cmsSigGreenTRCTag, cmsSigBlueTRCTag};
    if (profile->colours != 3 || !cmsIsMatrixShaper(profile->handle) ||
        cmsIsTag(profile->handle, cmsSigAToB0Tag) || cmsIsTag(profile->handle, cmsSigAToB1Tag) ||
        cmsIsTag(profile->handle, cmsSigDToB1Tag))
        return;
    for (size_t i = 0; i < 3; i++)
        profile->curves[i] = cmsReadTag(profile->handle, tags[i]);
}

/* Whether grey and each channel alone have a CIELAB. A parametric curve may have any numbers: 0 to
 * a power below 0 has no end, and less another such number it is none. */
static bool gives_colours(const struct carn_profile *profile)
{
    enum { STEPS = 16, AXES = 4 };
    double samples[AXES * (STEPS + 1) * 3] = {0};
    struct carn_lab lab[AXES * (STEPS + 1)];
    size_t count = 0, axes = profile->colours == 3 ? AXES : 1;
    for (size_t axis = 0; axis < axes; axis++)
        for (int i = 0; i <= STEPS; i++, count++)
            for (size_t c = 0; c < profile->colours; c++)
                if (axis == 0 || axis == c + 1)
                    samples[count * profile->colours + c] = (double)i / STEPS;
    carn_profile_to_lab(profile, samples, lab, count);
    for (size_t i = 0; i < count; i++)
        if (!isfinite(lab[i].L) || !isfinite(lab[i].a) || !isfinite(lab[i].b))
            return false;
    return true;
}

struct carn_profile *carn_profile_open(const void *icc, size_t size, size_t colours,
                                       struct carn_error *err)
{
    struct carn_profile *profile = carn_alloc(1, sizeof *profile, err);
    if (profile == NULL)
        return NULL;
    carn_lcms_start();
    profile->colours = colours;
    size_t own_size = 0;
    void *own = NULL; /* so that an untagged grey frame has sRGB's curve too */
    if (icc != NULL)
        profile->handle =
            size <= UINT32_MAX ? cmsOpenProfileFromMem(icc, (cmsUInt32Number)size) : NULL;
    else if (colours == 3 && (own = carn_profile_make_srgb(&own_size, err)) != NULL)
        profile->handle = cmsOpenProfileFromMem(own, (cmsUInt32Number)own_size);
    else if (colours == 1) {
        cmsFloat64Number srgb[] = {2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045};
        cmsToneCurve *curve = cmsBuildParametricToneCurve(NULL, 4, srgb);
        profile->handle = curve != NULL ? cmsCreateGrayProfile(cmsD50_xyY(), curve) : NULL;
        cmsFreeToneCurve(curve);
    }
    free(own);
    if (profile->handle == NULL) {
        carn_fail(err, CARN_INPUT, "the ICC profile of %zu bytes cannot be read", size);
    } else if (cmsGetColorSpace(profile->handle) !=
               (colours == 3 ? cmsSigRgbData : cmsSigGrayData)) {
        carn_fail(err, CARN_INPUT, "the ICC profile is not for %s samples",
                  colours == 3 ? "RGB" : "grey");
    } else {
        profile->to_lab =
            with_lab(profile->handle, colours == 3 ? TYPE_RGB_DBL : TYPE_GRAY_DBL, true, 0);
        if (profile->to_lab == NULL)
            carn_fail(err, CARN_INPUT, "the ICC profile has no usable way to CIELAB");
    }
    if (profile->to_lab != NULL)
        find_curves(profile);
    bool good = profile->to_lab != NULL;
    if (good && !gives_colours(profile)) {
        carn_fail(err, CARN_INPUT, "the ICC profile gives no CIELAB for some colours");
        good = false;
    }
    if (carn_lcms_check(err) != 0 || !good) {
        carn_profile_close(profile);
        return NULL;
    }
    return profile;
}

void carn_profile_close(struct carn_profile *profile)
{
    if (profile == NULL)
        return;
    if (profile->to_lab != NULL)
        cmsDeleteTransform(profile->to_lab);
    if (profile->from_lab != NULL)
        cmsDeleteTransform(profile->from_lab);
    if (profile->handle != NULL)
        cmsCloseProfile(profile->handle);
    free(profile);
}

size_t carn_profile_colours(const struct carn_profile *profile)
{
    return profile->colours;
}

void carn_profile_to_lab(const struct carn_profile *profile, const double *samples,
                         struct carn_lab *lab, size_t count)
{
    for (size_t done = 0; done < count;) {
        size_t part = count - done < 65536 ? count - done : 65536;
        cmsDoTransform(profile->to_lab, samples + done * profile->colours, lab + done,
                       (cmsUInt32Number)part);
        done += part;
    }
}

/* ---- back from CIELAB ---- */

/* How L*, a*, b* change with each of rgb, taken over step toward the middle of the scale; *at is
 * the colour there. */
static void slopes(const struct carn_profile *profile, const double rgb[3], double step,
                   struct carn_lab *at, double m[3][3])
{
    double probe[12];
    struct carn_lab lab[4];
    for (int k = 0; k < 4; k++)
        for (int c = 0; c < 3; c++)
            probe[3 * k + c] = rgb[c] + (k == c + 1 ? (rgb[c] > 0.5 ? -step : step) : 0);
    carn_profile_to_lab(profile, probe, lab, 4);
    *at = lab[0];
    for (int c = 0; c < 3; c++) {
        double h = rgb[c] > 0.5 ? -step : step;
        m[0][c] = (lab[c + 1].L - at->L) / h;
        m[1][c] = (lab[c + 1].a - at->a) / h;
        m[2][c] = (lab[c + 1].b - at->b) / h;
    }
}

/* The whole move, a half, a quarter or an eighth, whichever first brings rgb closer than error:
 * what is left then, else error. */
static double shorten(const struct carn_profile *profile, struct carn_lab aim, double error,
                      const double move[3], double rgb[3])
{
    for (int halved = 0; halved < 4; halved++) {
        double next[3];
        struct carn_lab then;
        for (int c = 0; c < 3; c++)
            next[c] = fmin(fmax(rgb[c] + ldexp(move[c], -halved), 0), 1);
        carn_profile_to_lab(profile, next, &then, 1);
        double left = carn_cie76(then, aim);
        if (left < error) {
            memcpy(rgb, next, sizeof next);
            return left;
        }
    }
    return error;
}

double carn_profile_approach(const struct carn_profile *profile, struct carn_lab aim, double step,
                             double rgb[3])
{
    double error = INFINITY;
    for (int round = 0; round < 12; round++) {
        struct carn_lab at;
        double m[3][3], move[3];
        slopes(profile, rgb, step, &at, m);
        error = carn_cie76(at, aim);
        double r[3] = {aim.L - at.L, aim.a - at.a, aim.b - at.b};
        if (error < 1e-5 || !carn_matrix_solve(m, r, 1e-9, move))
            break;
        double left = shorten(profile, aim, error, move, rgb);
        if (!(left < error))
            break;
        error = left;
    }
    return error;
}

int carn_profile_from_lab(struct carn_profile *profile, struct carn_lab lab, double rgb[3],
                          struct carn_error *err)
{
    if (profile->colours != 3)
        return carn_fail(err, CARN_INPUT, "a grey profile has no colour to move");
    if (profile->from_lab == NULL)
        profile->from_lab = with_lab(profile->handle, TYPE_RGB_DBL, false, 0);
    if (carn_lcms_check(err) != 0)
        return -1;
    if (profile->from_lab == NULL)
        return carn_fail(err, CARN_INPUT, "the ICC profile has no usable way back from CIELAB");
    cmsDoTransform(profile->from_lab, &lab, rgb, 1);
    if (!isfinite(rgb[0]) || !isfinite(rgb[1]) || !isfinite(rgb[2]))
        return carn_fail(err, CARN_NUMERIC,
                         "the ICC profile gives no RGB for CIELAB %.1f %.1f %.1f", lab.L, lab.a,
                         lab.b);
    bool inside = true;
    for (int c = 0; c < 3; c++)
        inside = inside && rgb[c] >= 0 && rgb[c] <= 1;
    if (inside) /* lcms2 inverts tabulated curves and tables only nearly */
        (void)carn_profile_approach(profile, lab, 1e-5, rgb);
    return 0;
}

/* ---- curves and matrix ---- */

bool carn_profile_has_curves(const struct carn_profile *profile)
{
    return profile->curves[0] != NULL && profile->curves[1] != NULL && profile->curves[2] != NULL;
}

double carn_profile_linear(const struct carn_profile *profile, int channel, double v)
{
    return (double)cmsEvalToneCurveFloat(profile->curves[channel], (cmsFloat32Number)v);
}

double carn_profile_encoded(const struct carn_profile *profile, int channel, double v, double near)
{
    static const uint32_t last = UINT32_C(1) << 30;
    static const double unit = 0x1p-30;
    uint32_t low = 0, high = last;
    /* Around the guess the bounds are tried, farther apart each time, before they are halved. */
    uint32_t guess = near > 0 ? (uint32_t)(fmin(near, 1) / unit) : 0;
    for (uint32_t half = 16 + (guess >> 22); near >= 0 && half < last / 64; half *= 8) {
        low = guess > half ? guess - half : 0;
        high = guess + half < last ? guess + half : last;
        if ((low == 0 || carn_profile_linear(profile, channel, low * unit) < v) &&
            (high == last || !(carn_profile_linear(profile, channel, high * unit) < v)))
            break;
        low = 0;
        high = last;
    }
    /* lcms2 works in floats: what is one float with a bound is on that bound's side. */
    while (high - low > 1) {
        uint32_t middle = low + (high - low) / 2;
        float at = (float)(middle * unit);
        bool under = at <= (float)(low * unit) && low > 0;
        bool over = at >= (float)(high * unit) && high < last;
        if (under || (!over && carn_profile_linear(profile, channel, middle * unit) < v))
            low = middle;
        else
            high = middle;
    }
    return (low + 0.5) * unit;
}

/* Equal in lcms2's table of 16 bits, and in floats at some places. */
bool carn_profile_same_curve(const struct carn_profile *one, int c,
                             const struct carn_profile *other, int d)
{
    const cmsToneCurve *p = one->curves[c], *q = other->curves[d];
    size_t entries = cmsGetToneCurveEstimatedTableEntries(p);
    bool same = entries == cmsGetToneCurveEstimatedTableEntries(q) &&
                memcmp(cmsGetToneCurveEstimatedTable(p), cmsGetToneCurveEstimatedTable(q),
                       entries * sizeof(cmsUInt16Number)) == 0;
    for (int i = 0; same && i < 12; i++) {
        double v = ldexp(0.9, -i), left = carn_profile_linear(one, c, v),
               right = carn_profile_linear(other, d, v);
        same = left >= right && left <= right;
    }
    return same;
}

int carn_profile_like(const struct carn_profile *profile, int channel)
{
    int like = 0;
    while (like < channel && !carn_profile_same_curve(profile, like, profile, channel))
        like++;
    return like;
}

bool carn_profile_tabulate(const struct carn_profile *profile, int channel, float linear[65536])
{
    enum { POINTS = 2048 };
    static const double rounding = 1e-7; /* falls of less are the arithmetic's */
    const cmsToneCurve *curve = profile->curves[channel];
    size_t entries = cmsGetToneCurveEstimatedTableEntries(curve);
    /* A curve kept as a table: lcms2 rounds to 16 bits between its entries, we do not. */
    bool own = cmsGetToneCurveParametricType(curve) == 0 && entries >= 2;
    const cmsUInt16Number *table = cmsGetToneCurveEstimatedTable(curve);
    size_t last = own ? entries - 1 : POINTS, v = 0;
    double step = (double)last / 65535, low = 0;
    for (size_t i = 0; i <= last; i++) {
        double high = own ? (double)table[i] / 65535
                          : carn_profile_linear(profile, channel, (double)i / POINTS);
        if (!(high >= low - rounding))
            return false;
        high = fmax(high, low);
        size_t end = i < last ? (size_t)ceil((double)i / step) : 65536;
        double at = (double)i - 1;
        float from = (float)low, by = (float)(high - low);
        for (; v < end; v++)
            linear[v] = from + (float)((double)v * step - at) * by;
        low = high;
    }
    return low > 0;
}

/* The columns are D50 XYZ of full red, green, blue. */
static bool read_matrix(const struct carn_profile *profile, double m[3][3])
{
    static const cmsTagSignature tags[] = {cmsSigRedColorantTag, cmsSigGreenColorantTag,
                                           cmsSigBlueColorantTag};
    for (size_t c = 0; c < 3; c++) {
        const cmsCIEXYZ *xyz = cmsReadTag(profile->handle, tags[c]);
        if (xyz == NULL)
            return false;
        m[0][c] = xyz->X;
        m[1][c] = xyz->Y;
        m[2][c] = xyz->Z;
    }
    return true;
}

bool carn_profile_primaries(const struct carn_profile *profile, double m[3][3])
{
    return carn_profile_has_curves(profile) && cmsGetPCS(profile->handle) == cmsSigXYZData &&
           read_matrix(profile, m);
}

/* ---- profiles in files ---- */

bool carn_profile_is_icc(const char *path)
{
    unsigned char head[40];
    FILE *file = fopen(path, "rb");
    bool is = file != NULL && fread(head, 1, sizeof head, file) == sizeof head &&
              memcmp(head + 36, "acsp", 4) == 0; /* ICC.1 7.2: the profile file signature */
    if (file != NULL)
        fclose(file);
    return is;
}

void *carn_profile_read(const char *path, size_t *size, struct carn_error *err)
{
    return carn_read_file(path, CARN_PROFILE_LIMIT, size, err);
}

char *carn_profile_label(const void *icc, size_t size, struct carn_error *err)
{
    char name[128] = "", md5[9];
    carn_lcms_start();
    cmsHPROFILE handle =
        size <= UINT32_MAX ? cmsOpenProfileFromMem(icc, (cmsUInt32Number)size) : NULL;
    char *label = carn_alloc(sizeof name + sizeof md5, 1, err);
    if (handle != NULL)
        cmsGetProfileInfoASCII(handle, cmsInfoDescription, "en", "US", name, sizeof name);
    if (handle != NULL)
        cmsCloseProfile(handle);
    if (carn_lcms_check(err) != 0 || label == NULL) {
        free(label);
        return NULL;
    }
    carn_md5_word(icc, size, md5);
    snprintf(label, sizeof name + sizeof md5, "%s/%s", name[0] != '\0' ? name : "damaged", md5);
    return label;
}
