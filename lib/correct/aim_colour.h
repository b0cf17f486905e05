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

/* As far toward the aim colour as is allowed in one correction: at most 12 in the a*b* plane, hue
 * before chroma, and chroma may rise by at most a quarter. falls: it may fall as far as colour
 * asks, past 12. L* stays the reading's. */
struct carn_lab carn_aim_bound(struct carn_lab reading, struct carn_lab colour, bool falls);

/* What --bound says: "default" true, "none" false. -1 with a message. */
int carn_aim_take_bound(const char *text, bool *bound, struct carn_error *err);

#endif
