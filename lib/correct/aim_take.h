/*
 * aim_take: what an aim taken from a finished picture's readings asks for (carn-aim-take(1)).
 */
#ifndef CARN_AIM_TAKE_H
#define CARN_AIM_TAKE_H

#include "base/error.h"
#include "base/tone.h"
#include "colour/lab.h"
#include "correct/reading.h"

#include <stddef.h>

/* The colour of one tone. */
struct carn_taken {
    enum carn_tone tone;    /* light, middle, shade, or CARN_UNTONED */
    struct carn_lab colour; /* the mean over the patches of this tone, to 4 decimals */
    double reach[2];        /* what counts as on in a* and b*: 2, or as far as a row of it lies */
};
enum { CARN_TAKEN = CARN_TONES + 1 };

/* The rows of skin without doubts; all that have skin's colour when every one has doubts. The
 * caller frees skin->rows. -1 with a message when there are none. */
int carn_take_skin(const struct carn_readings *readings, struct carn_readings *skin,
                   struct carn_error *err);

/* The tones of skin, the lightest first, count of them in *count. -1 with a message. */
int carn_take_tones(const struct carn_readings *skin, struct carn_taken taken[CARN_TAKEN],
                    size_t *count, struct carn_error *err);

/* The median ratios of inks over the rows with cyan and magenta. -1 with a message when there are
 * none. */
int carn_take_ratios(const struct carn_readings *skin, double *magenta_by_cyan,
                     double *yellow_by_magenta, struct carn_error *err);

#endif
