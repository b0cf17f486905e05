#include "colour/frame_profile.h"
#include "frame/average.h"
#include "frame/upright.h"
#include "report/sheet_own.h"

#include <math.h>
#include <stdlib.h>

/* Where the small picture of a frame lies in its cell, upright. */
struct place {
    size_t x, y, width, height;
    bool lies;
    struct carn_upright upright; /* of a stored pixel of the small picture */
};

/* A pixel's place in the cell. */
static void put_upright(const struct place *at, double x, double y, double *u, double *v)
{
    carn_upright_place(&at->upright, x, y, u, v);
    *u += (double)at->x;
    *v += (double)at->y;
}

/* One row of the small picture, in sRGB; alpha lets the surround through. */
static void draw_row(const struct carn_frame *frame, const struct place *at, const uint16_t *row,
                     size_t width, size_t y, struct carn_canvas *cell)
{
    size_t channels = 3u + (frame->alpha ? 1u : 0u) + (frame->weight ? 1u : 0u);
    for (size_t x = 0; x < width; x++) {
        const uint16_t *pixel = row + x * channels;
        double alpha = frame->alpha ? pixel[3] / 65535.0 : 1, u, v;
        struct carn_ink ink;
        for (int c = 0; c < 3; c++) {
            double own = pixel[c] / 257.0;
            own = (carn_frame_associated(frame) ? own : own * alpha) +
                  (1 - alpha) * sheet_surround.rgb[c];
            ink.rgb[c] = (uint8_t)lround(fmin(own, 255));
        }
        put_upright(at, (double)x, (double)y, &u, &v);
        carn_canvas_fill(cell, (long)u, (long)v, 1, 1, ink);
    }
}

static int take_profile(struct carn_sheet *sheet, const struct carn_frame *frame,
                        struct carn_error *err)
{
    struct carn_error why = {0};
    int taken = carn_frame_profile_take(&sheet->last, frame, err);
    if (taken <= 0)
        return taken;
    carn_convert_close(sheet->convert);
    sheet->convert = carn_convert_open(sheet->last.profile, sheet->srgb, CARN_RELATIVE, true, &why);
    if (sheet->convert != NULL)
        return 0;
    carn_frame_profile_forget(&sheet->last);
    return carn_fail_from(err, &why, carn_frame_name(frame));
}

/* The small picture in the middle of its room; small: the frame as wide and high as it is stored.
 */
static struct place find_place(const struct carn_sheet *sheet, const struct carn_frame *frame,
                               struct carn_frame *small)
{
    unsigned orientation = carn_frame_orientation(frame);
    struct place at = {.lies = carn_upright_lies(orientation)};
    double wide = (double)(at.lies ? frame->height : frame->width);
    double high = (double)(at.lies ? frame->width : frame->height);
    double scale = fmin(fmin((double)sheet->ask.width / wide, (double)sheet->high / high), 1);
    *small = *frame; /* its keys are looked at, never changed or cleared */
    small->width = (size_t)fmax(floor(scale * (double)frame->width + 1e-6), 1);
    small->height = carn_average_height(frame->width, frame->height, small->width);
    at.width = at.lies ? small->height : small->width;
    at.height = at.lies ? small->width : small->height;
    at.x = sheet->ask.width > at.width ? (sheet->ask.width - at.width) / 2 : 0;
    at.y = sheet->high > at.height ? (sheet->high - at.height) / 2 : 0;
    at.upright = carn_upright(orientation, (double)small->width - 1, (double)small->height - 1);
    return at;
}

static void draw_boxes(const struct carn_frame *frame, const struct carn_frame *small,
                       const struct place *at, const struct carn_box *boxes, size_t count,
                       struct carn_canvas *cell)
{
    double sx = (double)small->width / (double)frame->width;
    double sy = (double)small->height / (double)frame->height;
    for (size_t i = 0; i < count; i++) {
        const struct carn_box *b = &boxes[i];
        double u[2], v[2];
        if (b->face) {
            carn_canvas_oval(cell, (double)at->x + (b->x + b->w / 2) * (double)at->width - 0.5,
                             (double)at->y + (b->y + b->h / 2) * (double)at->height - 0.5,
                             b->w * (double)at->width / 2, b->h * (double)at->height / 2, b->tilt);
            continue;
        }
        put_upright(at, (double)b->x0 * sx - 0.5, (double)b->y0 * sy - 0.5, &u[0], &v[0]);
        put_upright(at, (double)b->x1 * sx - 0.5, (double)b->y1 * sy - 0.5, &u[1], &v[1]);
        carn_canvas_box(cell, u[0], v[0], u[1], v[1]);
    }
}

int sheet_picture(struct carn_sheet *sheet, struct carn_stream *stream,
                  const struct carn_box *boxes, size_t count, struct carn_canvas *cell,
                  struct carn_error *err)
{
    const struct carn_frame *frame = &stream->frame;
    const size_t channels = carn_frame_channels(frame);
    struct carn_frame small;
    struct place at = find_place(sheet, frame, &small);
    if (take_profile(sheet, frame, err) != 0)
        return -1;
    uint16_t *row = carn_alloc(small.width * (channels + 2), sizeof *row, err);
    struct carn_average *average =
        row != NULL ? carn_average_open(frame->width, frame->height, channels, small.width, err)
                    : NULL;
    size_t y = 0;
    for (const uint16_t *whole; average != NULL && (whole = carn_stream_row(stream)) != NULL;) {
        const uint16_t *done = carn_average_push(average, whole);
        if (done == NULL)
            continue;
        (void)carn_convert_row(sheet->convert, &small, done, row);
        draw_row(frame, &at, row, small.width, y++, cell);
    }
    bool drawn = average != NULL && !stream->failed;
    carn_average_close(average);
    free(row);
    if (drawn)
        draw_boxes(frame, &small, &at, boxes, count, cell);
    return drawn ? 0 : -1;
}
