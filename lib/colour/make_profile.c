#include "colour/make_profile.h"

#include "colour/lcms.h"

#include <stdlib.h>
#include <string.h>

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
    if (carn_lcms_check(err) != 0) {
        free(bytes);
        return NULL;
    }
    return bytes;
}

void *carn_profile_make_srgb(size_t *size, struct carn_error *err)
{
    carn_lcms_start();
    return profile_bytes(cmsCreate_sRGBProfile(), size, err);
}

void *carn_profile_make(const double xy[8], double gamma, size_t *size, struct carn_error *err)
{
    cmsCIExyY white = {xy[0], xy[1], 1};
    cmsCIExyYTRIPLE primaries = {{xy[2], xy[3], 1}, {xy[4], xy[5], 1}, {xy[6], xy[7], 1}};
    carn_lcms_start();
    cmsToneCurve *curve = cmsBuildGamma(NULL, gamma);
    cmsToneCurve *curves[3] = {curve, curve, curve};
    cmsHPROFILE handle = curve != NULL ? cmsCreateRGBProfile(&white, &primaries, curves) : NULL;
    if (curve != NULL)
        cmsFreeToneCurve(curve);
    return profile_bytes(handle, size, err);
}

void *carn_profile_make_grey(double gamma, size_t *size, struct carn_error *err)
{
    carn_lcms_start();
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
    carn_lcms_start();
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
