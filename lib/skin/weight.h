/*
 * weight: how far each pixel of a frame is skin, given and taken a row at a time.
 *
 * The likeness of each pixel's own colour is drawn to the mean of its neighbourhood where that is
 * even, and left where it has an edge: own share var / (var + noise), the local statistics of J.-S.
 * Lee (1980, from memory) under a Gaussian. So grain leaves no salt and pepper in half-likely
 * areas, and skin is whole up to its own soft edge. The weight is stretched a little, so that it is
 * whole inside skin and nothing away from it, and is at most three times the pixel's own likeness,
 * so that no halo is left beside skin. Where a reading is near enough (likeness 65535) the weight
 * is whole whatever is around.
 *
 * Held in memory: the rows under the Gaussian, as carn_blur says for two channels, and the rows
 * of the frame that wait for it; for a frame of 6000 x 4000 pixels some 13 MB.
 */
#ifndef CARN_WEIGHT_H
#define CARN_WEIGHT_H

#include "base/error.h"
#include "colour/lab_lookup.h"
#include "frame/frame.h"
#include "skin/likeness.h"

#include <stddef.h>
#include <stdint.h>

struct carn_weight;

/* from: the RGB frame that is read; with a weight of its own, which limits ours. What it and quick
 * and the references point to has to stay. NULL with a message when memory is out. */
struct carn_weight *carn_weight_open(const struct carn_frame *from,
                                     const struct carn_lab_lookup *quick,
                                     const struct carn_reference *references, size_t count,
                                     struct carn_error *err);
void carn_weight_close(struct carn_weight *weight);

/* Takes the next row as it was read; exactly height of them. Between two, carn_weight_pull has to
 * be called until it gives NULL. */
void carn_weight_push(struct carn_weight *weight, const uint16_t *row);

/* The next row with its weight as last channel, good until the next call; NULL when more rows have
 * to be pushed first, or all were given. */
const uint16_t *carn_weight_pull(struct carn_weight *weight);

#endif
