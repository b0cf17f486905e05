/*
 * correct: one picture the whole way, as carn-correct(1) has it: card, readings, curves, the
 * corrected picture, and the proof.
 *
 * The steps are runs of the same filters that a pipeline joins. What they leave (readings, curves,
 * scores) are files of one folder, and carn_correct_show tells them as a table.
 */
#ifndef CARN_CORRECT_H
#define CARN_CORRECT_H

#include "base/error.h"
#include "job/run.h"

#include <signal.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* Texts that were not given are NULL; each is as the option of its name has it. */
struct carn_correct {
    const char *in, *out;
    const char *patches, *card, *neutral, *aim, *aims, *separation, *bound, *profile;
    const char *bits, *quality, *compression;
    bool no_black_point, whole;
    const char *folder; /* for what is between; there */
    const char *bin;    /* the folder of the programs */
    const struct carn_filter *filters;
    const volatile sig_atomic_t *stop; /* not 0: a signal asks for the end */
};

/* What became of it. Starts as all zero. */
struct carn_corrected {
    bool delivered; /* as it is: no face, or nothing of skin's colour */
    int status;     /* 0, or 1: a verdict is off or unsure, or nothing to correct */
    char *said;     /* lines that the filters wrote to standard error; grown as needed */
    size_t size;
    size_t people; /* over 1: each has a curve of its own */
    char **names;  /* their patches */
};

/* -1 with a message; what a filter said of it is in said as well. */
int carn_correct(const struct carn_correct *asked, struct carn_corrected *corrected,
                 struct carn_error *err);
void carn_corrected_clear(struct carn_corrected *corrected);

/* The table: before and after; then card and backdrop, which should not move with the skin, L*, and
 * the turns. From the files of the folder. */
int carn_correct_show(const char *folder, const struct carn_corrected *corrected, FILE *to,
                      struct carn_error *err);

#endif
