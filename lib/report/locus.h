/*
 * locus: where the job's aim lies in CIELAB, by L*, as the scoring has it.
 */
#ifndef CARN_LOCUS_H
#define CARN_LOCUS_H

#include "base/error.h"
#include "correct/aim.h"
#include "report/shown.h"

enum { CARN_LOCUS_FROM = 20, CARN_LOCUS_TO = 90, CARN_LOCUS_STEP = 5, CARN_LOCUS_MOST = 15 };

struct carn_locus {
    struct carn_aim aim; /* for its ratios and tolerances */
    size_t count;        /* 0: the aim has no locus of its own, or its table cannot be read now */
    struct carn_lab at[CARN_LOCUS_MOST];
};

/* Only lack of memory is an error; else count is 0 and the page shows no locus. */
int carn_locus_find(const struct carn_shown *shown, struct carn_locus *locus,
                    struct carn_error *err);

#endif
