/*
 * weight: how far each pixel of a frame is skin, given and taken a row at a time.
 *
 * The likeness of each pixel's own colour is drawn to the mean of its neighbourhood where that is
 * even, and left where it has an edge: own share var / (var + noise), the local statistics of J.-S.
 * Lee (1980, from memory) under a window that falls off like a tent. So grain leaves no salt and
 * pepper in half-likely areas, and skin is whole up to its own soft edge. The weight is stretched a
 * little, so that it is whole inside skin and nothing away from it, and is at most three times the
 * pixel's own likeness, so that no halo is left beside skin. Where a reading is near enough
 * (likeness 65535) the weight is whole whatever is around.
 *
 * Where faces are known, what lies by a person (face, neck, shoulders, and down to the hands)
 * counts whole and what lies elsewhere less, for wood of skin's colour is no part of anybody; and
 * between persons the weight goes over softly.
 *
 * Held in memory: the rows under the window, some 20 sigma where sigma is 0.4 % of the shorter
 * side; for a frame of 9500 x 6400 pixels some 9 MB.
 */
#ifndef CARN_WEIGHT_H
#define CARN_WEIGHT_H

#include "base/error.h"
#include "colour/lab_lookup.h"
#include "frame/frame.h"
#include "skin/likeness.h"
#include "skin/outline.h"

#include <stddef.h>
#include <stdint.h>

struct carn_weight;

/* Somebody to be like, and where the face is, in pixels of the upright frame. */
struct carn_person {
    struct carn_reference like;
    bool has_inside;              /* a face's tones were read */
    struct carn_reference inside; /* for the oval of a face that is placed */
    bool placed;                  /* without: everywhere */
    struct carn_outline face;
};

/*
 * from: the RGB frame that is read; with a weight of its own, which limits ours. only: the one of
 * the persons whose weight is wanted, count for that of all. What from, quick and persons point to
 * has to stay. NULL with a message.
 */
struct carn_weight *carn_weight_open(const struct carn_frame *from,
                                     const struct carn_lab_lookup *quick,
                                     const struct carn_person *persons, size_t count, size_t only,
                                     struct carn_error *err);
void carn_weight_close(struct carn_weight *weight);

/* Takes the next row as it was read; exactly height of them. Between two, carn_weight_pull has to
 * be called until it gives NULL. */
void carn_weight_push(struct carn_weight *weight, const uint16_t *row);

/* The next row with its weight as last channel, good until the next call; NULL when more rows have
 * to be pushed first, or all were given. */
const uint16_t *carn_weight_pull(struct carn_weight *weight);

#endif
