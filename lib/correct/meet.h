/*
 * meet: the one colour of a person, over all frames and cameras, where every camera meets.
 *
 * Middle: the median of each camera's readings, then the mean of the cameras. It is moved to the
 * aim at its own L*, as far as every camera can follow within carn_aim_bound(). Light and shade:
 * the aim does not apply. Each camera has a complex ratio that moves the a* + i b* of its middle to
 * the common middle. Its light and shade are multiplied by this ratio and then averaged over the
 * cameras. So a face keeps its own modelling; with one camera one ratio serves all tones.
 *
 * The colour is a* and b* and holds at any L*. Frames of one person differ by a few L*; with equal
 * a* and b* they look most alike (docs/colour.md 7, measured).
 */
#ifndef CARN_MEET_H
#define CARN_MEET_H

#include "base/error.h"
#include "base/tone.h"
#include "colour/lab.h"
#include "colour/separation.h"
#include "correct/aim.h"
#include "correct/reading.h"

#include <stdbool.h>
#include <stddef.h>

/* One tone: the colour where all meet, and what the aim asked, which differs where it was cut. */
struct carn_meeting_tone {
    bool known;
    struct carn_lab colour, asked; /* L* is the mean of the cameras' own */
};

struct carn_meeting {
    size_t cameras, readings, doubtful; /* used, used, left out */
    bool cut;                           /* by the bound */
    struct carn_meeting_tone tones[CARN_TONES];
};

/*
 * For one subject's readings of skin; aim NULL: the average of its cameras. Rows with doubtful
 * flags are left out. Where a subject has no row of tone middle, rows of any tone stand for it.
 * Returns 0; 1 when every row is doubtful, so there is no colour; -1 with a message.
 */
int carn_meet(const struct carn_readings *readings, const char *subject, const struct carn_aim *aim,
              const struct carn_separation *separation, bool bound, struct carn_meeting *meeting,
              struct carn_error *err);

#endif
