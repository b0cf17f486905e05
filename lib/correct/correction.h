/*
 * correction: curves made ready for the frames of one profile.
 *
 * Rows work in the order given. Moves and knots of a file that follow one another are one curve a
 * channel, after a neutral among them; turns that follow one another are one turn over L*.
 * Neighbours that are channel tables, also of several files, become one table, and neighbours that
 * are turns one turn, so that more files cost no more.
 */
#ifndef CARN_CORRECTION_H
#define CARN_CORRECTION_H

#include "base/error.h"
#include "colour/profile.h"
#include "correct/channels.h"
#include "correct/curve.h"
#include "frame/frame.h"

#include <stddef.h>
#include <stdint.h>

/*
 * Can these turns and moves be made in this RGB encoding? 0; 1, and limit says why not; -1 with a
 * message. No file, no knots: what a solver asks. Turns and moves are looked at apart, as if those
 * of each kind stood together in the file.
 */
int carn_curve_possible(const struct carn_move *moves, size_t count, struct carn_profile *profile,
                        enum carn_limit *limit, struct carn_error *err);

struct carn_correction;

/* The profile stays the caller's, who keeps it open as long as this; the curves are not needed
 * after. gains tells of the last neutral. NULL with a message naming file and line when a move
 * leaves the gamut, a slope its bounds, or knots are too close or contradict. */
struct carn_correction *carn_correction_open(const struct carn_curve *curves, size_t count,
                                             struct carn_profile *profile, struct carn_gains *gains,
                                             struct carn_error *err);
void carn_correction_close(struct carn_correction *correction);

/* One RGB row of the frame in place, as carn_lut_row and carn_turn_row. */
void carn_correction_row(struct carn_correction *correction, const struct carn_frame *frame,
                         uint16_t *row);

#endif
