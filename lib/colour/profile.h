/*
 * profile: what samples mean (ICC.1). Everything measured goes through lcms2 in floating point,
 * relative colorimetric, without its optimised tables.
 */
#ifndef CARN_PROFILE_H
#define CARN_PROFILE_H

#include "base/error.h"
#include "colour/lab.h"

#include <stdbool.h>
#include <stddef.h>

struct carn_profile;

/* From the bytes of an ICC profile for colours channels (1 grey, 3 RGB); icc NULL means sRGB (IEC
 * 61966-2-1). NULL with a message when it is broken, for other channels, or has no CIELAB for some
 * colours. */
struct carn_profile *carn_profile_open(const void *icc, size_t size, size_t colours,
                                       struct carn_error *err);
void carn_profile_close(struct carn_profile *profile);

size_t carn_profile_colours(const struct carn_profile *profile); /* 1 or 3 */

/* Encoded samples 0..1 (one for grey) to D50 CIELAB; count pixels. */
void carn_profile_to_lab(const struct carn_profile *profile, const double *samples,
                         struct carn_lab *lab, size_t count);

/* D50 CIELAB to encoded RGB, not clipped: outside the gamut a value lies outside 0..1. -1 with a
 * message when the profile cannot be inverted there or is grey. */
int carn_profile_from_lab(struct carn_profile *profile, struct carn_lab lab, double rgb[3],
                          struct carn_error *err);

/* The transfer curves of a profile made of curves and a matrix. carn_profile_has_curves says
 * whether it is one. v and the result are 0..1; channel 0..2. near is a guess of the result, which
 * makes it quicker and nothing else; -1 for none. */
bool carn_profile_has_curves(const struct carn_profile *profile);
double carn_profile_linear(const struct carn_profile *profile, int channel, double v);
double carn_profile_encoded(const struct carn_profile *profile, int channel, double v, double near);

/* Whether the way to CIELAB is those curves, this matrix and nothing else: its columns are the D50
 * XYZ of full red, green and blue. */
bool carn_profile_primaries(const struct carn_profile *profile, double m[3][3]);

/*
 * Linear light of all 65,536 encoded values of a channel, rising or level everywhere: straight
 * between 2,049 points of the curve, or between the entries of one kept as a table; within 1e-6 of
 * carn_profile_linear but for what that rounds to 16 bits. False for a curve that falls or stays at
 * 0. Channels may share a curve: the first of these channels is told by carn_profile_like.
 */
bool carn_profile_tabulate(const struct carn_profile *profile, int channel, float linear[65536]);
int carn_profile_like(const struct carn_profile *profile, int channel);

/* Whether channel c of one has the curve of channel d of the other; both have curves. */
bool carn_profile_same_curve(const struct carn_profile *one, int c,
                             const struct carn_profile *other, int d);

/*
 * Brings encoded RGB inside 0..1 closer to a colour, by Newton steps against the exact way to
 * CIELAB. step: how far apart slopes are taken; rgb never leaves 0..1. Returns the CIE76 that is
 * left.
 */
double carn_profile_approach(const struct carn_profile *profile, struct carn_lab aim, double step,
                             double rgb[3]);

/* Whether the file begins as an ICC profile does, and the bytes of one; the caller frees. */
bool carn_profile_is_icc(const char *path);
void *carn_profile_read(const char *path, size_t *size, struct carn_error *err);

/* NAME/first 8 hex digits of the MD5 of the bytes of any ICC profile, for tables; the caller frees.
 */
char *carn_profile_label(const void *icc, size_t size, struct carn_error *err);

#endif
