/*
 * pair: which colours of two reading tables belong together.
 *
 * Rows pair by subject, patch and tone, after the rows of each key are pooled (median L*, a*, b*);
 * "-" matches only "-".
 */
#ifndef CARN_PAIR_H
#define CARN_PAIR_H

#include "base/error.h"
#include "base/tone.h"
#include "colour/lab.h"
#include "correct/reading.h"

#include <stdbool.h>
#include <stddef.h>

struct carn_pair {
    const char *subject, *patch,
        *tone; /* owned by the tables; subject "*" where it does not count */
    struct carn_lab first, second;
    size_t first_rows, second_rows; /* pooled; 0: the other table alone has this key */
};

struct carn_pairs {
    size_t count, whole; /* whole ones come first, in the order of the first table */
    struct carn_pair *pairs;
};

/* Two tables into pairs; any_subject: subjects do not count. -1 with a message when no key is in
 * both, or memory is out. */
int carn_pairs_make(const struct carn_readings *first, const struct carn_readings *second,
                    bool any_subject, struct carn_pairs *pairs, struct carn_error *err);
void carn_pairs_clear(struct carn_pairs *pairs);

/* The mean colours of the whole pairs of one tone: how many there are; first and second untouched
 * for none. */
size_t carn_pairs_mean(const struct carn_pairs *pairs, enum carn_tone tone, struct carn_lab *first,
                       struct carn_lab *second);

#endif
