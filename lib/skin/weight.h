/*
 * weight: how far each pixel of a frame is skin, given and taken a row at a time.
 *
 * The likeness (likeness.h) of each pixel is smoothed where its neighbourhood is even and kept
 * where there is an edge: the pixel's own value counts var / (var + noise), the mean the rest (the
 * local statistics of J.-S. Lee, 1980, from memory; the window is a tent). So noise leaves no
 * speckle where likeness is in between, and skin is corrected up to its own edge. The result is
 * stretched a little, so that it reaches 1 in skin and 0 away from it. It is at most three times
 * the pixel's own likeness, so that no halo forms beside skin. At likeness 65535 the weight is 1
 * whatever lies around.
 *
 * Where faces are known, pixels near a person (face, neck, shoulders, down to the hands) count in
 * full, and pixels elsewhere less: wood can have skin's colour. Between persons the weight passes
 * smoothly from one to the other.
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

/* One person: the colours of the skin, and where the face is, in pixels of the upright frame. */
struct carn_person {
    struct carn_reference like;
    bool has_inside;              /* a face's tones were read */
    struct carn_reference inside; /* for the oval of a face that is placed */
    bool placed;                  /* without: everywhere */
    struct carn_outline face;
};

/*
 * from: the RGB frame that is read; if it has a weight, that limits ours. only: which person's
 * weight is wanted; count: that of all. What from, quick and persons point to
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
