/*
 * said_profile: a profile for frames whose file says its colours another way (PNG's sRGB, gAMA,
 * cHRM and cICP, a camera's opRGB).
 */
#ifndef CARN_SAID_PROFILE_H
#define CARN_SAID_PROFILE_H

#include "base/error.h"
#include "frame/frame.h"
#include "frame/said_colour.h"

/* Sets icc as colour says, unless the frame has one. Grey stays as it is: primaries mean nothing to
 * it, and a gamma of its own is taken as sRGB's. */
int carn_said_profile(struct carn_frame *frame, const struct carn_colour *colour,
                      struct carn_error *err);

#endif
