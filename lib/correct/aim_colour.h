/*
 * aim_colour: where an aim is in CIELAB, and how far toward it one correction may go.
 */
#ifndef CARN_AIM_COLOUR_H
#define CARN_AIM_COLOUR_H

#include "base/error.h"
#include "colour/lab.h"
#include "colour/separation.h"
#include "correct/aim.h"

/*
 * The colour at the reading's own L* that meets the aim for this tone; inks may be NULL. Returns 0,
 * or -1 with a message and no colour: the aim has nothing for this L*; no colour here meets the
 * ratios with cyan of at least 5 % and at least a tenth of black (the separation prints skin with
 * black, or the colour is too light); or the iteration did not converge.
 */
int carn_aim_colour(const struct carn_aim *aim, const struct carn_separation *separation,
                    enum carn_tone tone, struct carn_lab reading, struct carn_lab *colour,
                    struct carn_inks *inks, struct carn_error *err);

/*
 * Limits a correction from reading to colour, the aim's for this tone, and returns where it may go.
 * At most 12 in the a*b* plane, hue before chroma; chroma may rise by at most a quarter. Toward
 * another reading (aim NULL), or an aim that gives a chroma, chroma may fall as far as asked, past
 * 12. Toward ratios chroma falls no further than 1.15 times that of published skin at this L*, the
 * least that photographs show: in light tones the rule asks for so little that skin looks grey
 * (docs/colour.md 7). L* stays the reading's.
 */
struct carn_lab carn_aim_bound(const struct carn_aim *aim, enum carn_tone tone,
                               struct carn_lab reading, struct carn_lab colour);

/* Where the colour that an aim names had to stop short of another (carn-aim-meet(1)): true, and
 * what was asked at this L*. Else *asked is colour. */
bool carn_aim_is_short(const struct carn_aim_values *at, struct carn_lab colour,
                       struct carn_lab *asked);

#endif
