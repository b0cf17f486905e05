/*
 * meet: the one colour of a person, over all frames and cameras, where every camera meets.
 *
 * The middle tone is pooled over the cameras (medians of each camera's readings, then their mean)
 * and taken to the aim at its own L*, as far as every camera can follow within carn_aim_bound().
 * Light and shade are not judged by the aim: each camera's, its a* + i b* multiplied by what brings
 * its middle there, are averaged over the cameras. So a face keeps its own modelling, and with one
 * camera one ratio serves all tones.
 *
 * The colour is a* and b*, the same at any L*: frames of one person differ by a few L*, and the
 * nearer a* and b* the nearer the frames (docs/colour.md 18, measured).
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

/* One tone: where all meet, and where the aim would have them (cut: nearer than that). */
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
 * The meeting of one subject's readings of skin; aim NULL: where its cameras are on average. Rows
 * with doubtful flags are left out; where a subject has no row of tone middle, rows of any tone
 * stand for it. 0; 1 when no row is without doubt: there are no grounds; -1 with a message.
 */
int carn_meet(const struct carn_readings *readings, const char *subject, const struct carn_aim *aim,
              const struct carn_separation *separation, bool bound, struct carn_meeting *meeting,
              struct carn_error *err);

#endif
