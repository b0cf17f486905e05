/*
 * score: a reading against an aim, in words and figures.
 */
#ifndef CARN_SCORE_H
#define CARN_SCORE_H

#include "base/error.h"
#include "colour/separation.h"
#include "correct/aim.h"
#include "correct/curve.h"
#include "correct/reading.h"
#include "correct/verdict.h"

struct carn_score {
    double magenta_by_cyan, yellow_by_magenta; /* of the reading's inks; NAN without cyan */
    double magenta_error, yellow_error;        /* standard errors of these ratios; NAN unknown */
    bool has_aim;                              /* else there is no aim colour at this L* */
    struct carn_lab aim;                       /* the aim colour at the reading's own L* */
    double difference;                         /* CIEDE2000 to it; NAN when a* and b* are unknown */
    double left;                               /* CIEDE2000 to what the aim asked, where a person's
                                                  colour had to stop short of it; else the same */
    unsigned flags;                            /* the reading's, and light */
    enum carn_verdict verdict;
    char words[256]; /* "magenta high by 8, yellow high by 8"; "-" when there is nothing to say */
};

/*
 * Scores one reading. Standard errors of the ratios come from the spread of the pixels (taken as
 * independent and equal in L*, a*, b*) through the slopes of the separation. Where one is larger
 * than the ratio's tolerance, the verdict is unsure. A reading is held, not off, within CIEDE2000
 * 1.0 of the end of a move in curve (may be NULL) that was cut short. It is held, not on, where it
 * meets an aim whose a* and b* were themselves cut short. Where the aim has no colour at this L*,
 * the verdict is unsure and the return -1 with a message; the score is filled all the same. A light
 * or shade is not judged where the aim has rows for the middle and none for that tone.
 */
int carn_score_reading(const struct carn_reading *reading, const struct carn_aim *aim,
                       const struct carn_separation *separation, const struct carn_curve *curve,
                       struct carn_score *score, struct carn_error *err);

/* 1 for off, unsure, and held with more than CARN_HELD_FAR left: a person has to look at these.
 * Else 0. */
int carn_score_status(const struct carn_score *score);

#endif
