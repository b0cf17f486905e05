/*
 * make_profile: ICC profiles made from what a file says of its colours in another way.
 */
#ifndef CARN_MAKE_PROFILE_H
#define CARN_MAKE_PROFILE_H

#include "base/error.h"

#include <stddef.h>

/* Bytes of a profile that says: sRGB; or these chromaticities and this gamma (PNG cHRM and gAMA;
 * x y of white, red, green, blue); or grey of this gamma. Same arguments, same bytes. The caller
 * frees. */
void *carn_profile_make_srgb(size_t *size, struct carn_error *err);
void *carn_profile_make(const double xy[8], double gamma, size_t *size, struct carn_error *err);
void *carn_profile_make_grey(double gamma, size_t *size, struct carn_error *err);

/* The same with a name and a curve to linear light: (a v + b)^g from d on, c v below; curve is g a
 * b c d. */
void *carn_profile_make_curved(const char *name, const double xy[8], const double curve[5],
                               size_t *size, struct carn_error *err);

#endif
