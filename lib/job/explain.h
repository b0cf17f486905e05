/*
 * explain: what led to one picture of a job, in ten lines.
 */
#ifndef CARN_EXPLAIN_H
#define CARN_EXPLAIN_H

#include "base/error.h"

#include <stdio.h>

/* name: of the frame, with or without suffix, or of its delivered file. The job folder is the
 * working folder. 0; 1 when there is no such frame; -1 with a message. */
int carn_explain(const char *name, FILE *to, struct carn_error *err);

#endif
