#include "colour/said_profile.h"

#include "colour/make_profile.h"
#include "frame/keys.h"

#include <stdlib.h>

int carn_said_profile(struct carn_frame *frame, const struct carn_colour *colour,
                      struct carn_error *err)
{
    bool srgb = colour->kind == CARN_COLOUR_SRGB;
    bool grey = frame->colours == 1;
    if (colour->kind == CARN_COLOUR_UNSAID || carn_frame_get(frame, "icc") != NULL)
        return 0;
    if (srgb && grey) /* what a grey frame without a profile is taken as */
        return 0;
    size_t size = 0;
    void *icc = srgb   ? carn_profile_make_srgb(&size, err)
                : grey ? carn_profile_make_grey(colour->gamma, &size, err)
                       : carn_profile_make(colour->xy, colour->gamma, &size, err);
    int result = icc == NULL ? -1 : carn_frame_set_blob(frame, "icc", icc, size, err);
    free(icc);
    return result;
}
