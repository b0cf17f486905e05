#include "report/swatch.h"

#include <math.h>
#include <stdio.h>

bool carn_swatch(struct carn_profile *srgb, struct carn_lab lab, char hex[8])
{
    struct carn_error ignored = {0};
    double rgb[3];
    unsigned code[3];
    if (isnan(lab.L) || isnan(lab.a) || isnan(lab.b) ||
        carn_profile_from_lab(srgb, lab, rgb, &ignored) != 0)
        return false;
    for (int c = 0; c < 3; c++)
        code[c] = (unsigned)lround(255 * fmin(fmax(rgb[c], 0), 1)) & 0xff;
    snprintf(hex, 8, "#%02x%02x%02x", code[0], code[1], code[2]);
    return true;
}
