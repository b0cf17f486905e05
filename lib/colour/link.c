#include "colour/link.h"

#include "colour/lcms.h"
#include "colour/matrix.h"

#include <math.h>
#include <stdlib.h>

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

bool carn_profile_matrix(const struct carn_profile *from, const struct carn_profile *to,
                         enum carn_intent intent, double m[3][3])
{
    double a[3][3], b[3][3], inverse[3][3];
    if (intent == CARN_ABSOLUTE || !has_matrix_alone(from) || !has_matrix_alone(to) ||
        !carn_profile_primaries(from, a) || !carn_profile_primaries(to, b))
        return false;
    double det = carn_matrix_adjugate(b, inverse);
    if (fabs(det) < CARN_MATRIX_LEAST)
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
    cmsUInt32Number flags = CARN_EXACT;
    if (bpc && intent != CARN_ABSOLUTE)
        flags |= cmsFLAGS_BLACKPOINTCOMPENSATION;
    link->transform =
        cmsCreateTransform(from->handle, from->colours == 3 ? TYPE_RGB_FLT : TYPE_GRAY_FLT,
                           to->handle, TYPE_RGB_FLT, intents[intent], flags);
    if (link->transform == NULL)
        carn_fail(err, CARN_INPUT, "the one profile has no usable way to the other");
    if (carn_lcms_check(err) != 0 || link->transform == NULL) {
        carn_link_close(link);
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
    if (link != NULL && link->transform != NULL)
        cmsDeleteTransform(link->transform);
    free(link);
}
