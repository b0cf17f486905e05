/*
 * link: the transform from one profile to another, for whole frames.
 */
#ifndef CARN_LINK_H
#define CARN_LINK_H

#include "base/error.h"
#include "colour/profile.h"

#include <stdbool.h>
#include <stddef.h>

/* Rendering intents (ICC.1). */
enum carn_intent { CARN_PERCEPTUAL, CARN_RELATIVE, CARN_SATURATION, CARN_ABSOLUTE };

/* Whether the way from one RGB profile to another is curves, a matrix in linear light, and curves,
 * and nothing else; then m is that matrix. Not for absolute colorimetric. */
bool carn_profile_matrix(const struct carn_profile *from, const struct carn_profile *to,
                         enum carn_intent intent, double m[3][3]);

/* Any way from one profile, RGB or grey, to an RGB one, in floating point without optimised tables.
 * Neither profile is needed after. bpc: black-point compensation, not for absolute. Encoded values
 * of 0..1 to encoded ones that are not clipped where the profile does not clip them itself. */
struct carn_link;
struct carn_link *carn_link_open(const struct carn_profile *from, const struct carn_profile *to,
                                 enum carn_intent intent, bool bpc, struct carn_error *err);
void carn_link_apply(const struct carn_link *link, const float *from, float *to, size_t count);
void carn_link_close(struct carn_link *link);

#endif
