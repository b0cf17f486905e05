/*
 * lab_lookup: rows of encoded RGB to D50 CIELAB, for finding skin and faces, not for measuring.
 *
 * A profile of curves and a matrix becomes tables of 4,096 entries, any other a grid of 33 nodes a
 * channel. Against carn_profile_to_lab the first is within 0.3 CIE76 from L* 5 up (4 nanoseconds a
 * pixel against some 260), the accuracy of the second depends on how smooth the profile is between
 * nodes.
 */
#ifndef CARN_LAB_LOOKUP_H
#define CARN_LAB_LOOKUP_H

#include "base/error.h"
#include "colour/profile.h"
#include "frame/frame.h"

#include <stddef.h>
#include <stdint.h>

struct carn_lab_lookup;

/* For an RGB profile, which is not needed afterwards. NULL with a message when memory is out. */
struct carn_lab_lookup *carn_lab_lookup_open(const struct carn_profile *profile,
                                             struct carn_error *err);
void carn_lab_lookup_close(struct carn_lab_lookup *quick);

/* A row of the RGB frame as L*, a*, b*, width of each. Samples multiplied with alpha (key alpha
 * associated) are taken as the colours that they stand for. */
void carn_lab_lookup_row(const struct carn_lab_lookup *quick, const struct carn_frame *frame,
                         const uint16_t *row, float *L, float *a, float *b);

#endif
