/*
 * curve: the colour moves to apply (carn-curve(5)), and the tables they become.
 *
 * A curve file is a list of moves in CIELAB, so that the moved colour lands on the same place in
 * any RGB encoding; only here, with the frame's profile, it becomes a table a channel.
 */
#ifndef CARN_CURVE_H
#define CARN_CURVE_H

#include "base/error.h"
#include "colour/lab.h"
#include "colour/profile.h"
#include "frame/lut.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* Two values of one channel closer than this, encoded, cannot be told apart by a curve of bounded
 * slope. */
#define CARN_CLOSE 0.02

/* A turn begins at a chroma of at least CARN_TURN_CHROMA, where a hue is sure, and multiplies it by
 * at most CARN_TURN_GAIN; two turns of a run lie at least CARN_TURN_APART apart in L*. */
#define CARN_TURN_CHROMA 1.0
#define CARN_TURN_GAIN 4.0
#define CARN_TURN_APART 0.5

enum carn_kind { CARN_NEUTRAL, CARN_TURN, CARN_MOVE, CARN_KNOT };

struct carn_move {
    enum carn_kind kind;
    struct carn_lab from, to; /* neutral, turn and move; a turn keeps L* */
    bool cut;                 /* a turn or move cut short: asked is where it should have gone */
    struct carn_lab asked;
    int channel; /* of a knot: 0 red, 1 green, 2 blue */
    double x, y; /* of a knot: encoded, 0..1 */
    size_t line; /* in the file */
};

struct carn_curve {
    char *label;
    size_t count;
    struct carn_move *moves;
};

/* Checks every row; path "-" is standard input. */
int carn_curve_read(const char *path, struct carn_curve *curve, struct carn_error *err);
void carn_curve_clear(struct carn_curve *curve);

void carn_curve_print_header(FILE *to);
void carn_curve_print(FILE *to, const struct carn_move *move, const char *note);

/*
 * Can these turns and moves be made in this RGB encoding? 0; 1 with why a word for it when not:
 * "gamut" (a turn or a move begins or ends outside), "slope" and "close" (of moves), "grey" (a turn
 * of a colour with too little chroma), "chroma" (a turn that multiplies it by too much), "tones"
 * (two turns too close in L*); -1 with a message. No file, no knots: what a solver asks. Turns and
 * moves are looked at apart, as if those of each kind stood together in the file.
 */
int carn_curve_possible(const struct carn_move *moves, size_t count, struct carn_profile *profile,
                        const char **why, struct carn_error *err);

/* What the neutral of a curve became: the gain of each channel in linear light, and the encoded
 * value up to which the whole gain applies. */
struct carn_gains {
    bool any;
    double gain[3], whole[3];
};

/* Composes the curves in the order given. gains (may be NULL) tells of the last neutral. -1 with a
 * message naming file and line when a move leaves the gamut, a slope its bounds, or knots are too
 * close or contradict. */
int carn_curve_compose(const struct carn_curve *curves, size_t count, struct carn_profile *profile,
                       struct carn_lut *lut, struct carn_gains *gains, struct carn_error *err);

#endif
