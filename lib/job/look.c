#include "job/look.h"

#include "codec/codec.h"
#include "colour/convert.h"
#include "colour/frame_profile.h"
#include "colour/space.h"
#include "frame/keys.h"

#include <stdlib.h>

/* The most pixels of a small picture. A larger one keeps several cores busy at once, and what
 * passes between its filters is too much to hold. */
enum { SMALL = 1 << 20 };

static void keep_way_to_pages(const struct carn_frame *frame)
{
    struct carn_error ignored = {0};
    size_t from_size = 0, to_size = 0;
    void *from = carn_frame_blob(frame, "icc", &from_size, &ignored);
    void *to = carn_space_profile("srgb", &to_size, &ignored);
    if (frame->colours == 3 && from != NULL && to != NULL)
        carn_convert_keep(from, from_size, to, to_size);
    free(from);
    free(to);
}

int carn_look(const char *path, bool keep, bool pages, struct carn_look_at *look,
              struct carn_error *err)
{
    struct carn_frame frame = {0};
    int rc = carn_codec_header(path, NULL, &frame, NULL, err);
    *look = (struct carn_look_at){.colours = frame.colours,
                                  .small = rc == 0 && frame.width * frame.height <= SMALL};
    if (rc == 0 && keep)
        carn_frame_profile_keep(&frame);
    if (rc == 0 && keep && pages)
        keep_way_to_pages(&frame);
    carn_frame_clear(&frame);
    return rc;
}
