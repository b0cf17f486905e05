/*
 * turn: every pixel's a* + i b* multiplied by a complex ratio, so that hue turns and chroma scales
 * while L* stays and greys stay grey.
 *
 * A run of turns has a ratio, to/from, at the L* of each; between them the ratio is straight over
 * L* in the complex plane, as a weight is, and beyond them the last one holds. Several runs work as
 * the product of their ratios. Where a pixel has a weight w its ratio is 1 + w (ratio - 1). What
 * would leave the gamut of the frame's profile keeps L* and hue, and its chroma falls until it is
 * inside.
 *
 * A profile of curves and a matrix goes through tables in single precision, within 0.02 in CIELAB
 * of exact arithmetic before samples are rounded; any other one through lcms2 and Newton steps,
 * which takes some microseconds a pixel.
 */
#ifndef CARN_TURN_H
#define CARN_TURN_H

#include "base/error.h"
#include "colour/profile.h"
#include "frame/frame.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CARN_TURNS = 62 }; /* of a run */

struct carn_turn_at {
    struct carn_lab from, to; /* equal L*; from is no grey */
};

struct carn_turn;

/* profile is RGB and stays the caller's, who keeps it open as long as this. Turns nothing yet. 1
 * MiB for a profile of curves and a matrix. */
struct carn_turn *carn_turn_open(struct carn_profile *profile, struct carn_error *err);
void carn_turn_close(struct carn_turn *turn);

/* Adds a run of 1 to CARN_TURNS turns in any order, no two at one L*. */
int carn_turn_add(struct carn_turn *turn, const struct carn_turn_at *at, size_t count,
                  struct carn_error *err);

/*
 * Turns one RGB row of the frame in place. Alpha and weight pass on; a pixel of weight 0 keeps its
 * samples. Samples multiplied with alpha (key alpha associated) are turned as the colours that they
 * stand for; fully transparent ones pass.
 */
void carn_turn_row(struct carn_turn *turn, const struct carn_frame *frame, uint16_t *row);

#endif
