/*
 * frame_profile: what a frame's samples mean. The frames of a shoot share a profile, so what a
 * program makes of it (tables, a transform) is made when it changes, not for every frame.
 */
#ifndef CARN_FRAME_PROFILE_H
#define CARN_FRAME_PROFILE_H

#include "frame/frame.h"
#include "colour/profile.h"
#include "base/tool.h"

/* The profile of the frame before; all zero at first, and after carn_frame_profile_forget. */
struct carn_frame_profile {
    char *icc; /* the key's text; "" is sRGB */
    size_t colours;
};

/*
 * 1 and a profile that the caller closes: it is another than the frame's before, or the first.
 * 0 and NULL: it is the same. -1 and NULL: tool->err says what is wrong with it.
 * A frame without a profile is taken as sRGB, with a note.
 */
int carn_frame_profile_take(struct carn_frame_profile *last, const struct carn_frame *frame,
                            struct carn_tool *tool, struct carn_profile **profile);

/* Frees; the next frame's profile is the first. For when nothing could be made of this one. */
void carn_frame_profile_forget(struct carn_frame_profile *last);

#endif
