#include "colour/frame_profile.h"

#include "frame/keys.h"
#include <stdlib.h>
#include <string.h>

static struct carn_frame_profile kept;

void carn_frame_profile_forget(struct carn_frame_profile *last)
{
    free(last->icc);
    if (last->profile != kept.profile)
        carn_profile_close(last->profile);
    if (last->lookup != kept.lookup)
        carn_lab_lookup_close(last->lookup);
    *last = (struct carn_frame_profile){0};
}

void carn_frame_profile_keep(const struct carn_frame *frame)
{
    struct carn_error ignored = {0};
    struct carn_frame_profile made = {0};
    if (kept.profile != NULL || frame->colours != 3)
        return;
    if (carn_frame_lab_lookup(&made, frame, &ignored) != NULL)
        kept = made;
    else
        carn_frame_profile_forget(&made);
}

const char *carn_frame_profile_note(const struct carn_frame *frame)
{
    return carn_frame_get(frame, "icc") == NULL ? "no profile, taken as sRGB" : NULL;
}

int carn_frame_profile_take(struct carn_frame_profile *last, const struct carn_frame *frame,
                            struct carn_error *err)
{
    const char *icc = carn_frame_get(frame, "icc");
    const char *text = icc != NULL ? icc : "";
    if (last->icc != NULL && last->colours == frame->colours && strcmp(last->icc, text) == 0)
        return 0;
    carn_frame_profile_forget(last);
    struct carn_error why = {0};
    size_t size = 0;
    void *bytes = icc != NULL ? carn_frame_blob(frame, "icc", &size, &why) : NULL;
    last->icc = icc == NULL || bytes != NULL ? carn_copy(text, &why) : NULL;
    last->colours = frame->colours;
    bool known = last->icc != NULL && kept.icc != NULL && kept.colours == frame->colours &&
                 strcmp(kept.icc, text) == 0;
    if (known) {
        last->profile = kept.profile;
        last->lookup = kept.lookup;
    } else if (last->icc != NULL)
        last->profile = carn_profile_open(bytes, size, frame->colours, &why);
    free(bytes);
    if (last->profile != NULL)
        return 1;
    carn_frame_profile_forget(last);
    return carn_fail_from(err, &why, carn_frame_name(frame));
}

const struct carn_lab_lookup *carn_frame_lab_lookup(struct carn_frame_profile *last,
                                                    const struct carn_frame *frame,
                                                    struct carn_error *err)
{
    if (carn_frame_profile_take(last, frame, err) < 0)
        return NULL;
    struct carn_error why = {0};
    if (last->lookup == NULL)
        last->lookup = carn_lab_lookup_open(last->profile, &why);
    if (last->lookup != NULL)
        return last->lookup;
    carn_fail_from(err, &why, carn_frame_name(frame));
    carn_frame_profile_forget(last);
    return NULL;
}
