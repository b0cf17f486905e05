#include "colour/profile.h"

#include "base/io.h"

#include <lcms2.h>
#include <lcms2_plugin.h> /* cmsMD5alloc */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* No real profile is larger. */
static const size_t PROFILE_LIMIT = (size_t)64 << 20;

static const cmsUInt32Number EXACT = cmsFLAGS_NOOPTIMIZE | cmsFLAGS_NOCACHE;

struct carn_profile {
    cmsHPROFILE handle;
    size_t colours;
    cmsHTRANSFORM to_lab, from_lab; /* from_lab is made when first asked for */
    cmsToneCurve *curves[3];        /* owned by handle; NULL unless curves and a matrix */
};

struct carn_separation {
    cmsPipeline *to_inks;
    bool old_encoding; /* of CIELAB, that of lut16Type */
    double black; /* Y of the darkest neutral that prints; 0 without black-point compensation */
    char *id;
};

static cmsHTRANSFORM make_transform(cmsHPROFILE from, cmsUInt32Number from_type, cmsHPROFILE to,
                                    cmsUInt32Number to_type, cmsUInt32Number flags)
{
    return cmsCreateTransform(from, from_type, to, to_type, INTENT_RELATIVE_COLORIMETRIC,
                              EXACT | flags);
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

struct carn_profile *carn_profile_open(const void *icc, size_t size, size_t colours,
                                       struct carn_error *err)
{
    struct carn_profile *profile = carn_alloc(1, sizeof *profile, err);
    if (profile == NULL)
        return NULL;
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
    if (profile->to_lab == NULL) {
        carn_profile_close(profile);
        return NULL;
    }
    find_curves(profile);
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

/* x with m x = r, by Cramer's rule; false for a matrix that is near to none. */
static bool solve3(double m[3][3], const double r[3], double x[3])
{
    double det = 0;
    for (int c = 0; c < 3; c++) {
        x[c] = 0;
        for (int i = 0; i < 3; i++) {
            int c1 = (c + 1) % 3, c2 = (c + 2) % 3, i1 = (i + 1) % 3, i2 = (i + 2) % 3;
            double cofactor = m[i1][c1] * m[i2][c2] - m[i1][c2] * m[i2][c1];
            x[c] += r[i] * cofactor;
            det += c == 0 ? m[i][0] * cofactor : 0;
        }
    }
    if (fabs(det) < 1e-9)
        return false;
    for (int c = 0; c < 3; c++)
        x[c] /= det;
    return true;
}

double carn_profile_approach(const struct carn_profile *profile, struct carn_lab aim, double step,
                             double rgb[3])
{
    double error = INFINITY;
    for (int round = 0; round < 12; round++) {
        double probe[12];
        struct carn_lab at[4];
        for (int k = 0; k < 4; k++)
            for (int c = 0; c < 3; c++)
                probe[3 * k + c] = rgb[c] + (k == c + 1 ? (rgb[c] > 0.5 ? -step : step) : 0);
        carn_profile_to_lab(profile, probe, at, 4);
        error = carn_cie76(at[0], aim);
        if (error < 1e-5)
            break;
        double m[3][3], r[3] = {aim.L - at[0].L, aim.a - at[0].a, aim.b - at[0].b}, move[3];
        for (int c = 0; c < 3; c++) {
            double h = rgb[c] > 0.5 ? -step : step;
            m[0][c] = (at[c + 1].L - at[0].L) / h;
            m[1][c] = (at[c + 1].a - at[0].a) / h;
            m[2][c] = (at[c + 1].b - at[0].b) / h;
        }
        if (!solve3(m, r, move))
            break;
        double left = INFINITY, next[3];
        for (double part = 1; part > 0.1 && !(left < error); part /= 2) {
            for (int c = 0; c < 3; c++)
                next[c] = fmin(fmax(rgb[c] + part * move[c], 0), 1);
            struct carn_lab then;
            carn_profile_to_lab(profile, next, &then, 1);
            left = carn_cie76(then, aim);
        }
        if (!(left < error))
            break;
        error = left;
        memcpy(rgb, next, sizeof next);
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

bool carn_profile_has_curves(const struct carn_profile *profile)
{
    return profile->curves[0] != NULL && profile->curves[1] != NULL && profile->curves[2] != NULL;
}

double carn_profile_linear(const struct carn_profile *profile, int channel, double v)
{
    return (double)cmsEvalToneCurveFloat(profile->curves[channel], (cmsFloat32Number)v);
}

double carn_profile_encoded(const struct carn_profile *profile, int channel, double v)
{
    double low = 0, high = 1;
    for (int i = 0; i < 30; i++) {
        double middle = (low + high) / 2;
        if (carn_profile_linear(profile, channel, middle) < v)
            low = middle;
        else
            high = middle;
    }
    return (low + high) / 2;
}

int carn_profile_like(const struct carn_profile *profile, int channel)
{
    for (int c = 0; c < channel; c++) {
        bool same = true;
        for (int i = 0; same && i <= 256; i++)
            same = carn_profile_linear(profile, c, i / 256.0) >=
                       carn_profile_linear(profile, channel, i / 256.0) &&
                   carn_profile_linear(profile, c, i / 256.0) <=
                       carn_profile_linear(profile, channel, i / 256.0);
        if (same)
            return c;
    }
    return channel;
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

/* ---- from one profile to another ---- */

static bool has_matrix_alone(const struct carn_profile *profile)
{
    static const cmsTagSignature tables[] = {
        cmsSigAToB0Tag, cmsSigAToB1Tag, cmsSigAToB2Tag, cmsSigBToA0Tag, cmsSigBToA1Tag,
        cmsSigBToA2Tag, cmsSigDToB0Tag, cmsSigDToB1Tag, cmsSigBToD0Tag, cmsSigBToD1Tag};
    if (!carn_profile_has_curves(profile) || cmsGetPCS(profile->handle) != cmsSigXYZData)
        return false;
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++)
        if (cmsIsTag(profile->handle, tables[i]))
            return false;
    for (int c = 0; c < 3; c++) /* else black-point compensation has something to do */
        if (fabs(carn_profile_linear(profile, c, 0)) > 0)
            return false;
    return true;
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

bool carn_profile_matrix(const struct carn_profile *from, const struct carn_profile *to,
                         enum carn_intent intent, double m[3][3])
{
    double a[3][3], b[3][3], inverse[3][3];
    if (intent == CARN_ABSOLUTE || !has_matrix_alone(from) || !has_matrix_alone(to) ||
        !read_matrix(from, a) || !read_matrix(to, b))
        return false;
    double det = 0;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) { /* transposed cofactors */
            int p = (j + 1) % 3, q = (j + 2) % 3, r = (i + 1) % 3, s = (i + 2) % 3;
            inverse[i][j] = b[p][r] * b[q][s] - b[p][s] * b[q][r];
        }
    for (int j = 0; j < 3; j++)
        det += b[0][j] * inverse[j][0];
    if (fabs(det) < 1e-6)
        return false;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            m[i][j] = 0;
            for (int k = 0; k < 3; k++)
                m[i][j] += inverse[i][k] * a[k][j] / det;
        }
    return true;
}

struct carn_link {
    cmsHTRANSFORM transform;
};

struct carn_link *carn_link_open(const struct carn_profile *from, const struct carn_profile *to,
                                 enum carn_intent intent, bool bpc, struct carn_error *err)
{
    static const cmsUInt32Number intents[] = {INTENT_PERCEPTUAL, INTENT_RELATIVE_COLORIMETRIC,
                                              INTENT_SATURATION, INTENT_ABSOLUTE_COLORIMETRIC};
    struct carn_link *link = carn_alloc(1, sizeof *link, err);
    if (link == NULL)
        return NULL;
    cmsUInt32Number flags = EXACT;
    if (bpc && intent != CARN_ABSOLUTE)
        flags |= cmsFLAGS_BLACKPOINTCOMPENSATION;
    link->transform =
        cmsCreateTransform(from->handle, from->colours == 3 ? TYPE_RGB_FLT : TYPE_GRAY_FLT,
                           to->handle, TYPE_RGB_FLT, intents[intent], flags);
    if (link->transform == NULL) {
        carn_fail(err, CARN_INPUT, "the one profile has no usable way to the other");
        free(link);
        return NULL;
    }
    return link;
}

void carn_link_apply(const struct carn_link *link, const float *from, float *to, size_t count)
{
    cmsDoTransform(link->transform, from, to, (cmsUInt32Number)count);
}

void carn_link_close(struct carn_link *link)
{
    if (link != NULL)
        cmsDeleteTransform(link->transform);
    free(link);
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
    return carn_read_file(path, PROFILE_LIMIT, size, err);
}

/* ---- making profiles ---- */

/* The bytes of a profile with lcms2's clock and checksum taken out, so that the same arguments give
 * the same bytes. Closes handle. */
static void *profile_bytes(cmsHPROFILE handle, size_t *size, struct carn_error *err)
{
    static const unsigned char date[12] = {0x07, 0xEA, 0, 1, 0, 1,
                                           0,    0,    0, 0, 0, 0}; /* 2026-01-01 */
    cmsUInt32Number need = 0;
    unsigned char *bytes = NULL;
    if (handle != NULL && cmsSaveProfileToMem(handle, NULL, &need) && need >= 128 &&
        (bytes = carn_alloc(need, 1, err)) != NULL && cmsSaveProfileToMem(handle, bytes, &need)) {
        memcpy(bytes + 24, date,
               sizeof date); /* ICC.1 7.2: date and time at 24, profile ID at 84 */
        memset(bytes + 84, 0, 16);
        *size = need;
    } else {
        free(bytes);
        bytes = NULL;
        carn_fail(err, CARN_INPUT, "cannot make an ICC profile");
    }
    if (handle != NULL)
        cmsCloseProfile(handle);
    return bytes;
}

void *carn_profile_make_srgb(size_t *size, struct carn_error *err)
{
    return profile_bytes(cmsCreate_sRGBProfile(), size, err);
}

void *carn_profile_make(const double xy[8], double gamma, size_t *size, struct carn_error *err)
{
    cmsCIExyY white = {xy[0], xy[1], 1};
    cmsCIExyYTRIPLE primaries = {{xy[2], xy[3], 1}, {xy[4], xy[5], 1}, {xy[6], xy[7], 1}};
    cmsToneCurve *curve = cmsBuildGamma(NULL, gamma);
    cmsToneCurve *curves[3] = {curve, curve, curve};
    cmsHPROFILE handle = curve != NULL ? cmsCreateRGBProfile(&white, &primaries, curves) : NULL;
    if (curve != NULL)
        cmsFreeToneCurve(curve);
    return profile_bytes(handle, size, err);
}

void *carn_profile_make_grey(double gamma, size_t *size, struct carn_error *err)
{
    cmsToneCurve *curve = cmsBuildGamma(NULL, gamma);
    cmsHPROFILE handle = curve != NULL ? cmsCreateGrayProfile(cmsD50_xyY(), curve) : NULL;
    if (curve != NULL)
        cmsFreeToneCurve(curve);
    return profile_bytes(handle, size, err);
}

void *carn_profile_make_curved(const char *name, const double xy[8], const double curve[5],
                               size_t *size, struct carn_error *err)
{
    cmsCIExyY white = {xy[0], xy[1], 1};
    cmsCIExyYTRIPLE primaries = {{xy[2], xy[3], 1}, {xy[4], xy[5], 1}, {xy[6], xy[7], 1}};
    bool pure = curve[1] == 1 && curve[2] == 0 && curve[4] == 0;
    cmsToneCurve *one = cmsBuildParametricToneCurve(NULL, pure ? 1 : 4, curve);
    cmsToneCurve *curves[3] = {one, one, one};
    cmsHPROFILE handle = one != NULL ? cmsCreateRGBProfile(&white, &primaries, curves) : NULL;
    cmsMLU *text = cmsMLUalloc(NULL, 1);
    bool named = handle != NULL && text != NULL && cmsMLUsetASCII(text, "en", "US", name) &&
                 cmsWriteTag(handle, cmsSigProfileDescriptionTag, text);
    if (one != NULL)
        cmsFreeToneCurve(one);
    cmsMLUfree(text);
    if (handle != NULL && !named) {
        cmsCloseProfile(handle);
        handle = NULL;
    }
    return profile_bytes(handle, size, err);
}

/* ---- names ---- */

/* Into text, which has room: the first 8 hex digits of the MD5. */
static int print_md5(const void *bytes, size_t size, char *text, size_t room)
{
    cmsProfileID md5 = {{0}};
    cmsHANDLE sum = cmsMD5alloc(NULL);
    if (sum == NULL)
        return -1;
    cmsMD5add(sum, bytes, (cmsUInt32Number)size);
    cmsMD5finish(&md5, sum);
    snprintf(text, room, "%02x%02x%02x%02x", md5.ID8[0], md5.ID8[1], md5.ID8[2], md5.ID8[3]);
    return 0;
}

char *carn_profile_label(const void *icc, size_t size, struct carn_error *err)
{
    char name[128] = "", md5[9];
    cmsHPROFILE handle =
        size <= UINT32_MAX ? cmsOpenProfileFromMem(icc, (cmsUInt32Number)size) : NULL;
    char *label = carn_alloc(sizeof name + sizeof md5, 1, err);
    if (handle != NULL)
        cmsGetProfileInfoASCII(handle, cmsInfoDescription, "en", "US", name, sizeof name);
    if (handle != NULL)
        cmsCloseProfile(handle);
    if (label == NULL || print_md5(icc, size, md5, sizeof md5) != 0) {
        free(label);
        carn_fail(err, CARN_MEMORY, "out of memory");
        return NULL;
    }
    snprintf(label, sizeof name + sizeof md5, "%s/%s", name[0] != '\0' ? name : "damaged", md5);
    return label;
}

/* ---- separations ---- */

static char *separation_id(const char *path, const unsigned char *bytes, size_t size, bool bpc,
                           struct carn_error *err)
{
    char md5[9];
    char *id = carn_alloc(strlen(path) + 64, 1, err);
    if (id == NULL || print_md5(bytes, size, md5, sizeof md5) != 0) {
        free(id);
        return NULL;
    }
    const char *slash = strrchr(path, '/');
    strcpy(id, slash != NULL ? slash + 1 : path);
    char *dot = strrchr(id, '.');
    if (dot != NULL && dot != id)
        *dot = '\0';
    sprintf(id + strlen(id), "/relative/%s/%s", bpc ? "bpc" : "nobpc", md5);
    return id;
}

/*
 * The profile's own table from CIELAB to inks, relative colorimetric, else the default one. Read as
 * a tag and not through a transform, which would force trilinear interpolation on it: between the
 * nodes of a press profile that is up to 4 % of ink away from the tetrahedral one, which is what a
 * tag gets by default and what argyll, our independent engine, does too.
 */
static int take_table(struct carn_separation *separation, cmsHPROFILE handle, bool bpc,
                      const char *path, struct carn_error *err)
{
    cmsTagSignature tag = cmsIsTag(handle, cmsSigBToA1Tag) ? cmsSigBToA1Tag : cmsSigBToA0Tag;
    unsigned char type[4] = {0};
    if (cmsGetPCS(handle) != cmsSigLabData)
        return carn_fail_at(err, CARN_INPUT, path, "the profile does not connect through CIELAB");
    const cmsPipeline *table = cmsReadTag(handle, tag);
    if (table == NULL || cmsPipelineInputChannels(table) != 3 ||
        cmsPipelineOutputChannels(table) != 4)
        return carn_fail_at(err, CARN_INPUT, path, "the profile has no way from CIELAB to inks");
    cmsReadRawTag(handle, tag, type, sizeof type);
    separation->old_encoding = memcmp(type, "mft2", 4) == 0;
    cmsCIEXYZ black = {0, 0, 0};
    if (bpc && !cmsDetectDestinationBlackPoint(&black, handle, INTENT_RELATIVE_COLORIMETRIC, 0))
        return carn_fail_at(err, CARN_INPUT, path, "the profile's black point cannot be found");
    separation->black = black.Y;
    separation->to_inks = cmsPipelineDup(table);
    return separation->to_inks != NULL ? 0 : carn_fail_at(err, CARN_MEMORY, path, "out of memory");
}

struct carn_separation *carn_separation_open(const char *path, bool bpc, struct carn_error *err)
{
    size_t size = 0;
    unsigned char *bytes = carn_read_file(path, PROFILE_LIMIT, &size, err);
    if (bytes == NULL)
        return NULL;
    struct carn_separation *separation = carn_alloc(1, sizeof *separation, err);
    cmsHPROFILE handle =
        separation != NULL && size > 0 ? cmsOpenProfileFromMem(bytes, (cmsUInt32Number)size) : NULL;
    if (handle == NULL)
        carn_fail_at(err, CARN_INPUT, path, "not an ICC profile");
    else if (cmsGetColorSpace(handle) != cmsSigCmykData)
        carn_fail_at(err, CARN_INPUT, path, "not a CMYK profile, so no separation");
    else if (take_table(separation, handle, bpc, path, err) == 0)
        separation->id = separation_id(path, bytes, size, bpc, err);
    if (handle != NULL)
        cmsCloseProfile(handle);
    free(bytes);
    if (separation != NULL && separation->id == NULL) {
        carn_separation_close(separation);
        return NULL;
    }
    return separation;
}

void carn_separation_close(struct carn_separation *separation)
{
    if (separation == NULL)
        return;
    if (separation->to_inks != NULL)
        cmsPipelineFree(separation->to_inks);
    free(separation->id);
    free(separation);
}

const char *carn_separation_id(const struct carn_separation *separation)
{
    return separation->id;
}

/* Black-point compensation: XYZ scaled so that zero falls on the darkest neutral that prints and
 * the white stays. */
static struct carn_lab compensate(struct carn_lab lab, double black)
{
    struct carn_xyz xyz = carn_lab_to_xyz(lab, carn_d50);
    xyz.X = black * carn_d50.X + (1 - black) * xyz.X;
    xyz.Y = black * carn_d50.Y + (1 - black) * xyz.Y;
    xyz.Z = black * carn_d50.Z + (1 - black) * xyz.Z;
    return carn_xyz_to_lab(xyz, carn_d50);
}

struct carn_inks carn_separation_inks(const struct carn_separation *separation, struct carn_lab lab)
{
    if (separation->black > 0)
        lab = compensate(lab, separation->black);
    /* ICC.1: lut16Type keeps CIELAB as L* 652.8, (a* + 128) 256 of 65535; all else as 8-bit does.
     */
    double L = separation->old_encoding ? 652.8 / 65535 : 1 / 100.0;
    double ab = separation->old_encoding ? 256.0 / 65535 : 1 / 255.0;
    cmsFloat32Number in[3] = {(cmsFloat32Number)(lab.L * L), (cmsFloat32Number)((lab.a + 128) * ab),
                              (cmsFloat32Number)((lab.b + 128) * ab)};
    cmsFloat32Number out[4];
    cmsPipelineEvalFloat(in, out, separation->to_inks);
    return (struct carn_inks){100.0 * (double)out[0], 100.0 * (double)out[1],
                              100.0 * (double)out[2], 100.0 * (double)out[3]};
}
