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
 * The colour at the reading's own L* that meets the aim for this tone; inks may be NULL. 0, or -1
 * with a message: the aim says nothing at this L*, no colour with at least 5 % of cyan, and a tenth
 * of its black, meets the ratios at this L* (the separation prints skin with black, or the colour
 * is too light), or the iteration did not converge. Never a half solution.
 */
int carn_aim_colour(const struct carn_aim *aim, const struct carn_separation *separation,
                    enum carn_tone tone, struct carn_lab reading, struct carn_lab *colour,
                    struct carn_inks *inks, struct carn_error *err);

/*
 * As far toward colour, where the aim has it for this tone, as is allowed in one correction: at
 * most 12 in the a*b* plane, hue before chroma, and chroma may rise by at most a quarter. Toward
 * another reading (aim NULL), or an aim that says chroma, it may fall as far as is asked, past 12.
 * Toward ratios it falls no further than to 1.15 times the chroma of published skin at this L*, the
 * least that photographs show: in the lights the rule asks for so little that skin looks dead
 * (docs/colour.md 7). L* stays the reading's.
 */
struct carn_lab carn_aim_bound(const struct carn_aim *aim, enum carn_tone tone,
                               struct carn_lab reading, struct carn_lab colour);

/* What --bound says: "default" true, "none" false. -1 with a message. */
int carn_aim_take_bound(const char *text, bool *bound, struct carn_error *err);

#endif
