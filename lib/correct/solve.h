/*
 * solve: from readings to the moves that bring skin onto an aim at its own lightness, or onto other
 * readings.
 */
#ifndef CARN_SOLVE_H
#define CARN_SOLVE_H

#include "base/error.h"
#include "colour/profile.h"
#include "colour/separation.h"
#include "correct/aim.h"
#include "correct/curve.h"
#include "correct/pair.h"
#include "correct/reading.h"

#include <stdbool.h>
#include <stddef.h>

struct carn_solution {
    size_t count;
    struct carn_move moves[CARN_TONES];
    enum carn_limit limit[CARN_TONES]; /* what cut the move short */
    double residual[CARN_TONES]; /* CIEDE2000 between where the move goes and where it should */
    size_t readings[CARN_TONES]; /* pooled into the move */
    size_t doubtful;             /* readings of skin with doubtful flags, left out */
    bool all_doubtful;           /* but used when there is no other */
};

/* The move that makes a card's readings neutral at their own lightness: the median of the rows of
 * tone card, or of all rows when no row has a tone. -1 with a message. */
int carn_solve_neutral(const struct carn_readings *readings, struct carn_solution *solution,
                       struct carn_error *err);

/*
 * The turns onto the aim. One turn, solved for the middle, serves the whole face: the median of
 * rows of tone middle, else of rows without a tone, else of all. Where the aim has rows for light
 * or shade, as a person's own aim does, each tone has a turn of its own unless it is within 2 L* of
 * the middle. bound: keep within carn_aim_bound(). What would leave the gamut of profile is cut
 * short.
 *
 * whole: moves, points of channel curves for a cast over the whole picture, in place of turns. Rows
 * without a tone are pooled into one move; else one a tone, tones closer than 5 L* pooled.
 * A single move that the gamut or the slopes of the curves in profile cannot do is cut short.
 * Several are met by least squares in each channel: the error at each point, plus the change of
 * slope at each point weighted 1e-4 (encoded values of 0..1). The weight doubles until the slopes
 * are within bounds.
 */
int carn_solve_aim(const struct carn_readings *readings, const struct carn_aim *aim,
                   const struct carn_separation *separation, struct carn_profile *profile,
                   bool bound, bool whole, struct carn_solution *solution, struct carn_error *err);

/* The turns that bring the first colours of pairs onto the second, one a tone; L* is left alone.
 * Pairs of card and backdrop take no part. tone: moves, which follow L* too. whole: moves, and of
 * the card and backdrop alone where both tables have them. */
int carn_solve_follow(const struct carn_pairs *pairs, struct carn_profile *profile, bool bound,
                      bool tone, bool whole, struct carn_solution *solution,
                      struct carn_error *err);

/* Takes every move only so far, a share of 0..1, in a straight line in CIELAB. Below 1 the moves
 * count as cut short, by CARN_LIMIT_STRENGTH. -1 with a message when curves cannot do that. */
int carn_solve_weaken(struct carn_solution *solution, double strength, struct carn_profile *profile,
                      struct carn_error *err);

#endif
