/*
 * aim: what the colour should be (the printing trade's aim values), and where that is in CIELAB.
 *
 * Built in are `common`, the trade's rule of thumb for skin of any complexion, magenta twice cyan
 * and yellow one and a quarter times magenta (common practice, no source); `hue`, hue 56 degrees
 * with chroma left alone; and `skin`, hue and chroma of published skin at the reading's own L*.
 */
#ifndef CARN_AIM_H
#define CARN_AIM_H

#include "base/error.h"
#include "colour/lab.h"
#include "colour/profile.h"
#include "colour/tone.h"

#include <stdbool.h>
#include <stddef.h>

enum carn_quantity {
    CARN_MAGENTA_BY_CYAN,   /* ratio of inks; tolerance in per cent of the aim */
    CARN_YELLOW_BY_MAGENTA, /* ratio of inks; tolerance in per cent of the aim */
    CARN_HUE,               /* degrees; tolerance in degrees */
    CARN_CHROMA,            /* C*ab */
    CARN_A,                 /* a* */
    CARN_B,                 /* b* */
    CARN_DIFFERENCE,        /* CIEDE2000 to the aim colour; value is 0 */
    CARN_QUANTITIES
};

/* One quantity of an aim. tolerance: what still counts as on, either way; INFINITY: not judged by
 * itself. cut: the value had to stop short of what was asked. */
struct carn_aim_value {
    bool set;
    double value, tolerance;
    bool cut;
    double asked;
};

/* A quantity that holds from an L* up to another (under 100 at most, 100 is in the last range), for
 * readings of one tone, or of any tone where it is CARN_UNTONED. */
struct carn_aim_range {
    enum carn_quantity quantity;
    enum carn_tone tone;
    double from, to;
    struct carn_aim_value value;
};

enum { CARN_AIM_RANGES = 64 };

struct carn_aim {
    char name[64];
    bool by_lightness; /* hue and chroma come from the table of published skin */
    struct carn_aim_value values[CARN_QUANTITIES]; /* where no range says otherwise */
    size_t range_count;
    struct carn_aim_range ranges[CARN_AIM_RANGES];
};

/* The aim for a reading of this tone and lightness: values as its ranges have them, those of the
 * tone before those of any. What it returns has no ranges left. */
struct carn_aim carn_aim_at(const struct carn_aim *aim, enum carn_tone tone, double L);

/* Does it say something of this tone alone? */
bool carn_aim_has_tone(const struct carn_aim *aim, enum carn_tone tone);

/* The built-in aim, or the one of this name in the table file (columns aim, quantity, value,
 * tolerance; tone, from, to and asked if it likes) when file is not NULL and has it. -1 with a
 * message. */
int carn_aim_open(const char *name, const char *file, struct carn_aim *aim, struct carn_error *err);

/* The aim of this name in the table file: 1, 0 when there is none, -1 with a message. */
int carn_aim_find(const char *name, const char *file, struct carn_aim *aim, struct carn_error *err);

bool carn_aim_has_ratios(const struct carn_aim *aim);

/*
 * The colour at the reading's own L* that meets the aim for this tone; inks may be NULL. 0, or -1
 * with a message: the aim says nothing at this L*, no colour with at least 5 % of cyan, and a tenth
 * of its black, meets the ratios at this L* (the separation prints skin with black, or the colour
 * is too light), or the iteration did not converge. Never a half solution.
 */
int carn_aim_colour(const struct carn_aim *aim, const struct carn_separation *separation,
                    enum carn_tone tone, struct carn_lab reading, struct carn_lab *colour,
                    struct carn_inks *inks, struct carn_error *err);

/* Does the aim say at this tone and L* what chroma is wanted, and not only ratios or hue? */
bool carn_aim_has_chroma(const struct carn_aim *aim, enum carn_tone tone, double L);

/* As far toward the aim colour as is allowed in one correction: at most 12 in the a*b* plane, hue
 * before chroma, and chroma may rise by at most a quarter. falls: it may fall as far as colour
 * asks, past 12. L* stays the reading's. */
struct carn_lab carn_aim_bound(struct carn_lab reading, struct carn_lab colour, bool falls);

#endif
