/*
 * proof: a whole face judged: its tones together, and the delivered face beside the one before.
 *
 * The aim judges the middle tone. Light and shade are judged by the person's own colours where the
 * aim has them (carn-aim-meet(1)), else by the face's own modelling before; and no face may come
 * out with another lightness, a wider spread of hue, or green.
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
 * shade of which the aim says nothing by itself becomes CARN_UNJUDGED where its frame has a middle.
 * before (may be NULL) is of the same pictures after the card: rows pair by frame (but for the
 * suffix), patch and tone into proofs[i]. A condition that fails makes the row off and goes before
 * its words; the middle of a face, rows of one frame and patch, takes what fails in its other
 * tones.
 */
void carn_prove(const struct carn_readings *readings, const struct carn_aim *const *aims,
                const struct carn_readings *before, struct carn_score *scores,
                struct carn_proof *proofs);

#endif
