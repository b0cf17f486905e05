#include "colour/frame_profile.h"

#include <stdlib.h>
#include <string.h>

void carn_frame_profile_forget(struct carn_frame_profile *last)
{
    free(last->icc);
    carn_profile_close(last->profile);
    carn_quick_close(last->quick);
    *last = (struct carn_frame_profile){0};
}

int carn_frame_profile_take(struct carn_frame_profile *last, const struct carn_frame *frame,
                            struct carn_tool *tool)
{
    const char *icc = carn_frame_get(frame, "icc");
    const char *text = icc != NULL ? icc : "";
    if (icc == NULL)
        carn_tool_note(tool, "untagged", "%s: no profile, taken as sRGB", carn_frame_name(frame));
    if (last->icc != NULL && last->colours == frame->colours && strcmp(last->icc, text) == 0)
        return 0;
    carn_frame_profile_forget(last);
    struct carn_error why = {{0}};
    size_t size = 0;
    void *bytes = icc != NULL ? carn_frame_blob(frame, "icc", &size, &why) : NULL;
    last->icc = icc == NULL || bytes != NULL ? carn_copy(text, &why) : NULL;
    last->colours = frame->colours;
    if (last->icc != NULL)
        last->profile = carn_profile_open(bytes, size, frame->colours, &why);
    free(bytes);
    if (last->profile != NULL)
        return 1;
    carn_frame_profile_forget(last);
    return carn_fail(&tool->err, "%s: %s", carn_frame_name(frame), why.text);
}

const struct carn_quick *carn_frame_quick(struct carn_frame_profile *last,
                                          const struct carn_frame *frame, struct carn_tool *tool)
{
    if (carn_frame_profile_take(last, frame, tool) < 0)
        return NULL;
    struct carn_error why = {{0}};
    if (last->quick == NULL)
        last->quick = carn_quick_open(last->profile, &why);
    if (last->quick != NULL)
        return last->quick;
    carn_fail(&tool->err, "%s: %s", carn_frame_name(frame), why.text);
    carn_frame_profile_forget(last);
    return NULL;
}
