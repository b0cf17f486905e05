/*
 * drive: make runs the steps; what they say becomes lines for people, with progress and the time
 * that is left.
 */
#ifndef CARN_DRIVE_H
#define CARN_DRIVE_H

#include "base/error.h"
#include "job/plan.h"

#include <stdbool.h>

struct carn_drive {
    const struct carn_plan *plan;
    const char *const *argv; /* make and its words, ends with NULL */
    bool audit;
    bool terminal; /* standard output is one: a line that goes, with the time left */
};

/* The job folder is the working folder. The exit status of make, 128 and more when a signal ended
 * it; -1 with a message. Lines go to standard output. */
int carn_drive_make(const struct carn_drive *drive, struct carn_error *err);

/* Seconds left when `done` of `all` work took `passed` seconds; under 0: not known yet. */
double carn_drive_left(double done, double all, double passed);

#endif
