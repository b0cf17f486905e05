/*
 * compare: how two cameras of one shoot differ, in figures and words (carn-compare(1)).
 */
#ifndef CARN_COMPARE_H
#define CARN_COMPARE_H

#include "base/error.h"
#include "base/table.h"
#include "correct/pair.h"

#include <stdbool.h>
#include <stdio.h>

struct carn_compare {
    const char *names[2];             /* what the cameras are called */
    const struct carn_pairs *pairs;   /* readings of the first camera with those of the second */
    const struct carn_table *surface; /* of carn-surface(1), cameras by name; NULL for none */
    bool any_subject;                 /* patches of different subjects count as the same patch */
};

/* Writes the table: the names; colour by tone; exposure on the card; surface; all of it in words.
 * Nothing is written where surface has no column that is compared, a word in place of a number, or
 * no row of one of the cameras: -1 with a message, as when memory is out. */
int carn_compare_print(const struct carn_compare *compare, FILE *to, struct carn_error *err);

#endif
