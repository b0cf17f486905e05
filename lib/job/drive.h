/*
 * drive: runs the steps through make, and prints progress and the time left from what they report.
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
    bool terminal; /* standard output is a terminal: show a line with the time left, and rewrite it
                    */
};

/* The job folder is the working folder. The exit status of make, 128 and more when a signal ended
 * it; -1 with a message. Lines go to standard output. */
int carn_drive_make(const struct carn_drive *drive, struct carn_error *err);

/* Seconds left when `done` of `all` work took `passed` seconds; under 0: not known yet. */
double carn_drive_left(double done, double all, double passed);

#endif
