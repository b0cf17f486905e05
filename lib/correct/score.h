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

/* Unjudged: light and shade, of which the aim says nothing, beside a middle tone. */
enum carn_verdict { CARN_ON, CARN_HELD, CARN_UNSURE, CARN_OFF, CARN_UNJUDGED };

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
 * Scores one reading. The standard errors are what the spread of the pixels leaves open of their
 * mean, taken as independent and alike in L*, a*, b*, through the slopes of the separation: a ratio
 * whose tolerance is smaller is not known well enough, and the verdict is unsure. curve (may be
 * NULL) tells held from off: the reading lies within CIEDE2000 1.0 of the end of a move that was
 * cut short; and where the aim's own a* and b* had to stop short of what was asked, to be there is
 * to be held. Where the aim has no colour at this L*, the verdict is unsure, and the return -1 with
 * a message; the score is good all the same. A light or shade for which the aim has no row, while
 * it has one for the middle, is not judged.
 */
int carn_score_reading(const struct carn_reading *reading, const struct carn_aim *aim,
                       const struct carn_separation *separation, const struct carn_curve *curve,
                       struct carn_score *score, struct carn_error *err);

const char *carn_verdict_word(enum carn_verdict verdict);

/* 1 for off and unsure, and for held with more than CIEDE2000 3 left to the aim, which a person has
 * to look at; else 0. */
int carn_score_status(const struct carn_score *score);

#endif
