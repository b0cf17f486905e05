/*
 * frame_profile: what a frame's samples mean. The frames of a shoot share a profile, so what a
 * program makes of it (tables, a transform) is made when it changes, not for every frame.
 */
#ifndef CARN_FRAME_PROFILE_H
#define CARN_FRAME_PROFILE_H

#include "base/error.h"
#include "colour/lab_lookup.h"
#include "colour/profile.h"
#include "frame/frame.h"

/* The profile of the frame before; all zero at first, and after carn_frame_profile_forget. */
struct carn_frame_profile {
    char *icc; /* the key's text; "" is sRGB */
    size_t colours;
    struct carn_profile *profile;
    struct carn_lab_lookup *lookup; /* NULL until carn_frame_lab_lookup */
};

/*
 * last->profile becomes the frame's: 1 when it is another than the frame's before, or the first; 0
 * when it is the same; -1 with a message. A frame without a profile is taken as sRGB: main says so
 * (carn_frame_profile_note).
 */
int carn_frame_profile_take(struct carn_frame_profile *last, const struct carn_frame *frame,
                            struct carn_error *err);

/* What to tell the user of the profile of a frame, for carn_tool_note_of; NULL for nothing. */
const char *carn_frame_profile_note(const struct carn_frame *frame);

/* The same, and the table from it to CIELAB for an RGB frame; it stays last's. NULL with a message.
 */
const struct carn_lab_lookup *carn_frame_lab_lookup(struct carn_frame_profile *last,
                                                    const struct carn_frame *frame,
                                                    struct carn_error *err);

/* Opens the profile of a frame and the table to CIELAB once for all that read frames of it in this
 * process and in its forks. The first one is kept; it has colours for CIELAB, so of RGB frames
 * alone.
 */
void carn_frame_profile_keep(const struct carn_frame *frame);

/* Frees; the next frame's profile counts as new. Call it too when a profile could not be used. */
void carn_frame_profile_forget(struct carn_frame_profile *last);

#endif
