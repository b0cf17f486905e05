/*
 * proof: a whole face judged: its tones together, and the delivered face beside the one before.
 *
 * The aim judges the middle tone. Light and shade are judged by the person's own colours where the
 * aim has them (carn-aim-meet(1)), else by where the turn of the middle takes what they were
 * before. No face may change in lightness, gain in spread of hue, or turn green.
 */
#ifndef CARN_PROOF_H
#define CARN_PROOF_H

#include "correct/aim.h"
#include "correct/reading.h"
#include "correct/score.h"

#include <stdbool.h>

/* What the same frame, patch and tone read before; NAN where that is not known. */
struct carn_proof {
    bool paired;
    double dL;                  /* L* now less L* before */
    double hue_spread, greened; /* before; see struct carn_reading */
};

/*
 * Judges the faces of a scored table; scores[i] is of row i, by aims[i]. A row of tone light or
 * shade becomes CARN_UNJUDGED where the aim has no row for that tone and the frame has a middle.
 * before (may be NULL): readings of the same pictures after the card. Rows pair by frame (without
 * suffix), patch and tone; proofs[i] is the pair of row i. A condition that fails makes the row off
 * and stands first in its words. What fails in light or shade fails the middle of the same frame
 * and patch too.
 */
void carn_prove(const struct carn_readings *readings, const struct carn_aim *const *aims,
                const struct carn_readings *before, struct carn_score *scores,
                struct carn_proof *proofs);

/* The largest spread of hue, degrees, that a face which had this one may come to. */
double carn_proof_most_spread(double before);

#endif
