/*
 * lcms: what the files that call lcms2 share. No other file includes it.
 */
#ifndef CARN_LCMS_H
#define CARN_LCMS_H

#include "colour/profile.h"

#include <lcms2.h>

/* No real profile is larger, in bytes. */
#define CARN_PROFILE_LIMIT ((size_t)64 << 20)

/* In floating point, without lcms2's optimised tables. */
#define CARN_EXACT (cmsFLAGS_NOOPTIMIZE | cmsFLAGS_NOCACHE)

struct carn_profile {
    cmsHPROFILE handle;
    size_t colours;
    cmsHTRANSFORM to_lab, from_lab; /* from_lab is made when first asked for */
    cmsToneCurve *curves[3];        /* owned by handle; NULL unless curves and a matrix */
};

#endif
