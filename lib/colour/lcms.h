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

/* Before the first call of lcms2: its memory comes from here. */
void carn_lcms_start(void);

/* Was there memory for all that lcms2 has asked for? -1 with a message, which replaces what err
 * has: after every function that opens or makes something with lcms2. */
int carn_lcms_check(struct carn_error *err);

#endif
