/*
 * picture: a scene as a frame on standard output, row by row.
 */
#include "base/io.h"
#include "frame/frame.h"
#include "frame/keys.h"
#include "maths.h"
#include "scene.h"

#include <math.h>
#include <stdlib.h>
#include <unistd.h>

static int set_keys(struct carn_frame *frame, const struct scene *s, const char *name,
                    struct carn_error *err)
{
    bool bad = carn_frame_set_text(frame, "name", name, err) != 0 ||
               carn_frame_set(frame, "depth", "16", err) != 0;
    if (!bad && s->persons > 0) /* a chart has no subject and no camera */
        bad = carn_frame_set_text(frame, "subject", s->is.singer->name, err) != 0 ||
              carn_frame_set(frame, "camera", scene_camera_names[s->is.camera], err) != 0;
    return bad ? -1 : carn_frame_set_blob(frame, "icc", s->icc, s->icc_size, err);
}

static int write_rows(const struct scene *s, struct carn_out *out, const struct carn_frame *frame,
                      scene_maker *make, struct carn_error *err)
{
    uint16_t *row = carn_alloc(s->is.width * 3, sizeof *row, err);
    int rc = row == NULL ? -1 : 0;
    for (size_t y = 0; y < s->is.height && rc == 0; y++) {
        double rgb[3];
        for (size_t x = 0; x < s->is.width; x++) {
            make(s, x, y, rgb);
            for (size_t c = 0; c < 3; c++)
                row[3 * x + c] = (uint16_t)lround(limit(rgb[c], 0, 1) * 65535);
        }
        rc = carn_frame_write(out, frame, row, err);
    }
    free(row);
    return rc;
}

int scene_write_picture(struct scene *s, const char *name, scene_maker *make,
                        struct carn_error *err)
{
    struct carn_frame frame = {
        .width = s->is.width, .height = s->is.height, .colours = 3, .maxval = 65535};
    scene_load_codes(s);
    struct carn_out *out = carn_out_open(STDOUT_FILENO, "<stdout>", err);
    bool bad = out == NULL ||
               set_keys(&frame, s, s->is.name != NULL ? s->is.name : name, err) != 0 ||
               carn_frame_begin(out, &frame, false, err) != 0 ||
               write_rows(s, out, &frame, make, err) != 0 || carn_out_finish(out, err) != 0;
    carn_frame_clear(&frame);
    carn_out_close(out);
    return bad ? -1 : 0;
}
