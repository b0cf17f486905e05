/*
 * strays: files of out/ that no row of job.tsv asks for.
 */
#ifndef CARN_STRAYS_H
#define CARN_STRAYS_H

#include "base/error.h"
#include "job/plan.h"

#include <stdbool.h>
#include <stdio.h>

/* work/.delivered: what this job ever delivered, so that nothing else is taken away. */
int carn_strays_remember(const struct carn_plan *plan, struct carn_error *err);

/* Takes away the strays that this job delivered, and says so on `to`; or leaves them, and writes a
 * note on each to work/strays.tsv for the report. -1 with a message. */
int carn_strays_look(const struct carn_plan *plan, bool remove_them, FILE *to,
                     struct carn_error *err);

#endif
