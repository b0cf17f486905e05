/*
 * picture: a scene as a frame on standard output, row by row.
 */
#include "frame.h"
#include "io.h"
#include "maths.h"
#include "scene.h"

#include <math.h>
#include <stdlib.h>
#include <unistd.h>

static int begin(struct scene *s, struct carn_out *out, struct carn_frame *frame, const char *name,
                 struct carn_error *err)
{
    frame->width = s->is.width;
    frame->height = s->is.height;
    frame->colours = 3;
    frame->maxval = 65535;
    const char *subject = s->persons > 0 ? s->is.singer->name : NULL; /* a chart has none */
    bool bad = carn_frame_set_text(frame, "name", name, err) != 0 ||
               carn_frame_set(frame, "depth", "16", err) != 0 ||
               (subject != NULL &&
                (carn_frame_set_text(frame, "subject", subject, err) != 0 ||
                 carn_frame_set(frame, "camera", camera_names[s->is.camera], err) != 0)) ||
               carn_frame_set_blob(frame, "icc", s->icc, s->icc_size, err) != 0;
    return bad || carn_frame_begin(out, frame, false, err) != 0 ? -1 : 0;
}

typedef void pixel_maker(const struct scene *s, size_t x, size_t y, double rgb[3]);

static int write_rows(struct scene *s, struct carn_out *out, struct carn_frame *frame,
                      pixel_maker *make, struct carn_error *err)
{
    uint16_t *row = carn_alloc(s->is.width * 3, sizeof *row, err);
    int bad = row == NULL ? -1 : 0;
    for (size_t y = 0; y < s->is.height && bad == 0; y++) {
        double rgb[3];
        for (size_t x = 0; x < s->is.width; x++) {
            make(s, x, y, rgb);
            for (size_t c = 0; c < 3; c++)
                row[3 * x + c] = (uint16_t)lround(limit(rgb[c], 0, 1) * 65535);
        }
        bad = carn_frame_write(out, frame, row, err);
    }
    free(row);
    return bad;
}

static int write_picture(struct scene *s, const char *name, pixel_maker *make,
                         struct carn_error *err)
{
    struct carn_frame frame = {0};
    struct carn_out *out = carn_out_open(STDOUT_FILENO, "<stdout>", err);
    int bad = out == NULL || begin(s, out, &frame, name, err) != 0 ||
              write_rows(s, out, &frame, make, err) != 0 || carn_out_finish(out, err) != 0;
    carn_frame_clear(&frame);
    carn_out_close(out);
    return bad ? -1 : 0;
}

