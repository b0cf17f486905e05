/*
 * channels: neutrals, moves and knots as a table a channel.
 */
#ifndef CARN_CHANNELS_H
#define CARN_CHANNELS_H

#include "base/error.h"
#include "colour/profile.h"
#include "correct/curve.h"
#include "frame/lut.h"

#include <stdbool.h>
#include <stddef.h>

/* Two values of one channel closer than this, encoded, cannot be told apart by a curve of bounded
 * slope. */
#define CARN_CLOSE 0.02

/* carn_curve_possible for moves alone; turns are passed over. */
int carn_channels_possible(const struct carn_move *moves, size_t count,
                           struct carn_profile *profile, enum carn_limit *limit,
                           struct carn_error *err);

/* What the neutral of a curve became: the gain of each channel in linear light, and the encoded
 * value up to which the whole gain applies. */
struct carn_gains {
    bool any;
    double gain[3], whole[3];
};

/* Composes curves without turns in the order given. gains is set where there is a neutral. -1 with
 * a message that names file and line when a move leaves the gamut, a slope is out of bounds, or
 * knots are too close or contradict. */
int carn_channels_compose(const struct carn_curve *curves, size_t count,
                          struct carn_profile *profile, struct carn_lut *lut,
                          struct carn_gains *gains, struct carn_error *err);

#endif
