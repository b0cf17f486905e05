/*
 * look: at a picture's header before filters are started for it.
 */
#ifndef CARN_LOOK_H
#define CARN_LOOK_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct carn_look_at {
    size_t colours; /* 1 or 3 */
    bool small;     /* its filters best run one after another (run.h) */
};

/*
 * keep: also open once, for all filters that are forked after, what each would make of the
 * picture's profile; pages: and the way to sRGB, for pictures that pages show. The first picture's
 * are kept in a process (colour/frame_profile.h, colour/convert.h). -1 with a message when it
 * cannot be read.
 */
int carn_look(const char *path, bool keep, bool pages, struct carn_look_at *look,
              struct carn_error *err);

#endif
