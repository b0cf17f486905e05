/*
 * scored: a table of readings, all of them judged, and printed as it came with the score's columns.
 */
#ifndef CARN_SCORED_H
#define CARN_SCORED_H

#include "base/table.h"
#include "correct/aim.h"
#include "correct/curve.h"
#include "correct/proof.h"
#include "correct/reading.h"
#include "correct/score.h"

#include <stdio.h>

/* What readings are judged by. */
struct carn_judges {
    const struct carn_aim *aim; /* of all rows; NULL: each row's is that of people by subject */
    const struct carn_table *people; /* of aims named as subjects */
    const struct carn_separation *separation;
    const struct carn_curve *curve;     /* that was applied; NULL for none */
    const struct carn_readings *before; /* of the same pictures after the card; NULL for none */
};

struct carn_scored {
    const struct carn_readings *readings;
    bool proved;                /* against readings before */
    const struct carn_aim **of; /* row by row; NULL: it has none */
    struct carn_score *scores;
    struct carn_proof *proofs;
    struct carn_aim *opened; /* one a name */
    size_t opened_count;
};

/* Judges every reading of skin. readings and by stay the caller's, who keeps them. Returns 0 when
 * at least one has an aim colour, -1 when none has or memory is out. In both cases err names the
 * first that has none, and scored has to be cleared. */
int carn_scored_make(struct carn_scored *scored, const struct carn_judges *by,
                     const struct carn_readings *readings, struct carn_error *err);

/* The table: earlier columns of a score are left out, card and backdrop have - in the new ones. */
void carn_scored_print(FILE *to, const struct carn_scored *scored);

/* The exit status that the verdicts ask for: 0 to 2. */
int carn_scored_status(const struct carn_scored *scored);

void carn_scored_clear(struct carn_scored *scored);

#endif
