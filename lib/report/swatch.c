#include "report/swatch.h"

#include <math.h>

bool carn_swatch(struct carn_profile *srgb, struct carn_lab lab, unsigned char rgb[3])
{
    struct carn_error ignored = {0};
    double v[3];
    if (isnan(lab.L) || isnan(lab.a) || isnan(lab.b) ||
        carn_profile_from_lab(srgb, lab, v, &ignored) != 0)
        return false;
    for (int c = 0; c < 3; c++)
        rgb[c] = (unsigned char)lround(255 * fmin(fmax(v[c], 0), 1));
    return true;
}
