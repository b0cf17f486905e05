/*
 * aim: what the colour should be (the printing trade's aim values).
 *
 * Built in are `common`, the trade's rule of thumb for skin of any complexion, magenta twice cyan
 * and yellow one and a quarter times magenta (common practice, no source); `hue`, hue 56 degrees
 * with chroma left alone; and `skin`, the hue of published skin at the reading's own L*, with
 * chroma kept within what photographs show, 1.15 to 1.6 times that of published skin.
 */
#ifndef CARN_AIM_H
#define CARN_AIM_H

#include "base/tone.h"

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

/* One quantity of an aim. On is within tolerance of value, above or below; INFINITY: not judged by
 * itself. cut: value was limited; asked is what it would have been. */
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

/* What an aim says at one tone and L*. Its name stays the aim's. */
struct carn_aim_values {
    const char *name;
    bool by_lightness;
    struct carn_aim_value values[CARN_QUANTITIES];
};

/* For a reading of this tone and lightness: values as the aim's ranges have them, those of the tone
 * before those of any. */
struct carn_aim_values carn_aim_at(const struct carn_aim *aim, enum carn_tone tone, double L);

/* Does it say something of this tone alone? */
bool carn_aim_has_tone(const struct carn_aim *aim, enum carn_tone tone);

/* Does it say at this tone and L* what chroma is wanted, and not only ratios or hue? */
bool carn_aim_has_chroma(const struct carn_aim *aim, enum carn_tone tone, double L);

/* Does it say nothing of where the colour lies? And does it ask for ratios of inks? */
bool carn_aim_is_empty(const struct carn_aim_values *at);
bool carn_aim_has_ratios(const struct carn_aim_values *at);

#endif
