/*
 * curve: the colour moves to apply, as a file (carn-curve(5)).
 *
 * They are in CIELAB, so that the moved colour lands on the same place in any RGB encoding. What
 * they become, with a frame's profile, is correction.h's.
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

/* A turn begins at a chroma of at least CARN_TURN_CHROMA, where a hue is sure, and multiplies it by
 * at most CARN_TURN_GAIN; two turns of a run lie at least CARN_TURN_APART apart in L*. */
#define CARN_TURN_CHROMA 1.0
#define CARN_TURN_GAIN 4.0
#define CARN_TURN_APART 0.5

/* A move or colour that stops short by no more than this, CIE76, is not told to. */
#define CARN_CUT 0.02

/* What keeps a move or turn from going all the way, or from being made at all. */
enum carn_limit {
    CARN_NO_LIMIT,
    CARN_LIMIT_BOUND,    /* carn_aim_bound() */
    CARN_LIMIT_STRENGTH, /* only a share of the way was asked for */
    CARN_LIMIT_GAMUT,    /* it begins or ends outside the gamut of the profile */
    CARN_LIMIT_SLOPE,    /* the curve of a channel would leave its bounds (spline.h) */
    CARN_LIMIT_CLOSE,    /* two points of a channel are too close (CARN_CLOSE) */
    CARN_LIMIT_END,      /* a knot would move an end of its curve */
    CARN_LIMIT_GREY,     /* the turned colour has too little chroma (CARN_TURN_CHROMA) */
    CARN_LIMIT_CHROMA,   /* the turn multiplies chroma by too much (CARN_TURN_GAIN) */
    CARN_LIMIT_TONES,    /* two turns lie too close in L* (CARN_TURN_APART) */
    CARN_LIMITS
};

/* "", bound, strength, gamut, slope, close, end, grey, chroma, tones. */
const char *carn_limit_word(enum carn_limit limit);

enum carn_move_kind { CARN_NEUTRAL, CARN_TURN, CARN_MOVE, CARN_KNOT };

struct carn_move {
    enum carn_move_kind kind;
    int channel;              /* of a knot: 0 red, 1 green, 2 blue */
    struct carn_lab from, to; /* neutral, turn and move; a turn keeps L* */
    struct carn_lab asked;    /* where a turn or move that was cut short should have gone */
    double x, y;              /* of a knot: encoded, 0..1 */
    size_t line;              /* in the file */
    bool cut;
};

struct carn_curve {
    char *label;
    size_t count;
    struct carn_move *moves;
};

/* Checks every row; path "-" is standard input. */
int carn_curve_read(const char *path, struct carn_curve *curve, struct carn_error *err);
void carn_curve_clear(struct carn_curve *curve);

/* The columns of the file. */
enum { CARN_CURVE_COLUMNS = 5 };
extern const char *const carn_curve_columns[CARN_CURVE_COLUMNS];

void carn_curve_print_header(FILE *to);
void carn_curve_print(FILE *to, const struct carn_move *move, const char *note);

#endif
