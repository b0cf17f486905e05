/*
 * carn-sheet: frames as one contact sheet: a frame with all of them small, side by side, with where
 * they were measured, what was measured, and their names.
 */
#include "base/match.h"
#include "base/tone.h"
#include "base/tool.h"
#include "colour/convert.h"
#include "colour/frame_profile.h"
#include "colour/space.h"
#include "correct/reading.h"
#include "frame/average.h"
#include "frame/canvas.h"
#include "frame/patch.h"
#include "frame/stream.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Pixels. A letter is doubled on cells of twice the usual width, and so on. */
enum { WIDTH = 240, NARROWEST = 96, WIDEST = 4096, GAP = 12, SWATCH = 28, LINE = 16, TABLES = 8 };

/* L* 50, the neutral surround that pictures are judged on, and white letters pass 4.5:1 on it. */
static const struct carn_ink SURROUND = {{118, 118, 118}}, LETTERS = {{255, 255, 255}};

struct job {
    struct carn_tool *tool;
    struct carn_error *err;
    size_t width, columns, scale;
    struct carn_patches *patches;
    size_t table_count;
    struct carn_readings tables[TABLES];
    struct carn_letters *letters;
    struct carn_profile *srgb;
    void *icc;
    size_t icc_size;
    struct carn_frame_profile last;
    struct carn_convert *convert;
    struct carn_stream stream;
    size_t cell_count;
    struct carn_canvas *cells;
};

/* Where the small picture of a frame lies in its cell, upright. */
struct place {
    size_t x, y, width, height;
    unsigned orientation;
};

static size_t picture_height(const struct job *job)
{
    return job->width * 5 / 4;
}

/* ---- the picture ---- */

/* A stored pixel's place in the upright picture (Exif, tag 274). */
static void upright(const struct place *at, double x, double y, double *u, double *v)
{
    double right = (double)at->width - 1, bottom = (double)at->height - 1;
    bool lies = at->orientation >= 5;
    double across = lies ? y : x, down = lies ? x : y;
    bool mirrored = at->orientation == 2 || at->orientation == 3 || at->orientation == 6 ||
                    at->orientation == 7;
    bool upset = at->orientation == 3 || at->orientation == 4 || at->orientation == 7 ||
                 at->orientation == 8;
    *u = (double)at->x + (mirrored ? right - across : across);
    *v = (double)at->y + (upset ? bottom - down : down);
}

/* One row of the small picture, in sRGB; alpha lets the surround through. */
static void draw_row(const struct job *job, const struct place *at, const uint16_t *row,
                     size_t width, size_t y, struct carn_canvas *cell)
{
    const struct carn_frame *frame = &job->stream.frame;
    size_t channels = 3u + (frame->alpha ? 1u : 0u) + (frame->weight ? 1u : 0u);
    for (size_t x = 0; x < width; x++) {
        const uint16_t *pixel = row + x * channels;
        double alpha = frame->alpha ? pixel[3] / 65535.0 : 1, u, v;
        struct carn_ink ink;
        for (int c = 0; c < 3; c++) {
            double own = pixel[c] / 257.0;
            own =
                (carn_frame_associated(frame) ? own : own * alpha) + (1 - alpha) * SURROUND.rgb[c];
            ink.rgb[c] = (uint8_t)lround(fmin(own, 255));
        }
        upright(at, (double)x, (double)y, &u, &v);
        carn_canvas_fill(cell, (long)u, (long)v, 1, 1, ink);
    }
}

static int take_profile(struct job *job)
{
    const struct carn_frame *frame = &job->stream.frame;
    struct carn_error why = {0};
    carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                      carn_frame_profile_note(frame));
    int taken = carn_frame_profile_take(&job->last, frame, job->err);
    if (taken <= 0)
        return taken;
    carn_convert_close(job->convert);
    job->convert = carn_convert_open(job->last.profile, job->srgb, CARN_RELATIVE, true, &why);
    if (job->convert != NULL)
        return 0;
    carn_frame_profile_forget(&job->last);
    return carn_fail_from(job->err, &why, carn_frame_name(frame));
}

static int draw_picture(struct job *job, struct place *at, struct carn_canvas *cell)
{
    const struct carn_frame *frame = &job->stream.frame;
    at->orientation = carn_frame_orientation(frame);
    bool lies = at->orientation >= 5;
    double wide = (double)(lies ? frame->height : frame->width);
    double high = (double)(lies ? frame->width : frame->height);
    double room = (double)picture_height(job);
    double scale = fmin(fmin((double)job->width / wide, room / high), 1); /* never enlarged */
    size_t width = (size_t)fmax(floor(scale * (double)frame->width + 1e-6), 1);
    size_t height = carn_average_height(frame->width, frame->height, width);
    at->width = lies ? height : width;
    at->height = lies ? width : height;
    at->x = job->width > at->width ? (job->width - at->width) / 2 : 0;
    at->y = picture_height(job) > at->height ? (picture_height(job) - at->height) / 2 : 0;
    if (take_profile(job) != 0)
        return -1;
    uint16_t *row = carn_alloc(width * (carn_frame_channels(frame) + 2), sizeof *row, job->err);
    struct carn_average *average =
        row != NULL ? carn_average_open(frame->width, frame->height, carn_frame_channels(frame),
                                        width, job->err)
                    : NULL;
    struct carn_frame small = *frame; /* as wide as what is converted */
    small.width = width;
    size_t y = 0;
    for (const uint16_t *whole;
         average != NULL && (whole = carn_stream_row(&job->stream)) != NULL;) {
        const uint16_t *done = carn_average_push(average, whole);
        if (done == NULL)
            continue;
        (void)carn_convert_row(job->convert, &small, done, row);
        draw_row(job, at, row, width, y++, cell);
    }
    carn_average_close(average);
    free(row);
    return average != NULL && !job->stream.failed ? 0 : -1;
}

/* ---- where it was measured ---- */

static int draw_patches(struct job *job, const struct place *at, struct carn_canvas *cell)
{
    const struct carn_frame *frame = &job->stream.frame;
    struct carn_error why = {0};
    size_t count = 0;
    struct carn_box *boxes = carn_patches_boxes(job->patches, frame, &count, &why);
    if (boxes == NULL && why.kind == CARN_MEMORY)
        return carn_fail_from(job->err, &why, NULL);
    if (boxes == NULL)
        carn_tool_note_of(job->tool, "no patch", why.where, why.text);
    for (size_t i = 0; boxes != NULL && i < count; i++) {
        const struct carn_box *b = &boxes[i];
        bool lies = at->orientation >= 5;
        double sx = (double)(lies ? at->height : at->width) / (double)frame->width;
        double sy = (double)(lies ? at->width : at->height) / (double)frame->height;
        double u[2], v[2];
        if (b->face) {
            carn_canvas_oval(cell, (double)at->x + (b->x + b->w / 2) * (double)at->width - 0.5,
                             (double)at->y + (b->y + b->h / 2) * (double)at->height - 0.5,
                             b->w * (double)at->width / 2, b->h * (double)at->height / 2, b->tilt);
            continue;
        }
        upright(at, (double)b->x0 * sx - 0.5, (double)b->y0 * sy - 0.5, &u[0], &v[0]);
        upright(at, (double)b->x1 * sx - 0.5, (double)b->y1 * sy - 0.5, &u[1], &v[1]);
        carn_canvas_box(cell, u[0], v[0], u[1], v[1]);
    }
    free(boxes);
    return 0;
}

/* ---- what was measured ---- */

/* One a patch: the middle of a face, or the patch as it is. */
static bool is_main(const struct job *job, const struct carn_reading *r)
{
    enum carn_tone tone = carn_tone_of_face(r->tone);
    return carn_tone_is_skin(r->tone) && (tone == CARN_TONE_MIDDLE || tone == CARN_UNTONED) &&
           carn_table_serves(r->frame, carn_frame_name(&job->stream.frame)) > 0;
}

static bool ink_of(struct job *job, struct carn_lab lab, struct carn_ink *ink)
{
    struct carn_error ignored = {0};
    double rgb[3];
    if (isnan(lab.L) || isnan(lab.a) || isnan(lab.b) ||
        carn_profile_from_lab(job->srgb, lab, rgb, &ignored) != 0)
        return false;
    for (int c = 0; c < 3; c++)
        ink->rgb[c] = (uint8_t)lround(255 * fmin(fmax(rgb[c], 0), 1));
    return true;
}

static double cell_of(const struct carn_readings *t, size_t row, const char *column)
{
    struct carn_error ignored = {0};
    double v = (double)NAN;
    (void)carn_table_number(t->table, row, carn_table_find(t->table, column), &v, &ignored);
    return v;
}

/* The colours of a patch in the tables' order, and the aim of the last. */
static size_t swatches_of(struct job *job, const char *patch, struct carn_ink inks[TABLES + 1])
{
    size_t count = 0;
    for (size_t t = 0; t < job->table_count; t++)
        for (size_t i = 0; i < job->tables[t].count; i++) {
            const struct carn_reading *r = &job->tables[t].rows[i];
            if (!is_main(job, r) || strcmp(r->patch, patch) != 0)
                continue;
            count += ink_of(job, r->lab, &inks[count]) ? 1 : 0;
            const struct carn_lab aim = {cell_of(&job->tables[t], i, "aim_L"),
                                         cell_of(&job->tables[t], i, "aim_a"),
                                         cell_of(&job->tables[t], i, "aim_b")};
            if (t + 1 == job->table_count)
                count += ink_of(job, aim, &inks[count]) ? 1 : 0;
            break;
        }
    return count;
}

/* Side by side without a gap, as colours are compared; and who it is, with the verdict. */
static void draw_readings(struct job *job, struct carn_canvas *cell)
{
    const struct carn_readings *last = &job->tables[job->table_count - 1];
    const long top = (long)picture_height(job);
    int verdict = carn_table_find(last->table, "verdict");
    char words[400] = "";
    size_t people = 0, person = 0, used = 0;
    for (size_t i = 0; i < last->count; i++)
        people += is_main(job, &last->rows[i]) ? 1 : 0;
    for (size_t i = 0; i < last->count; i++) {
        struct carn_ink inks[TABLES + 1];
        if (people == 0 || !is_main(job, &last->rows[i]))
            continue;
        size_t count = swatches_of(job, last->rows[i].patch, inks);
        size_t x = job->width * person / people, end = job->width * ++person / people;
        size_t gap = person < people ? 4 * job->scale : 0;
        for (size_t k = 0; k < count; k++) {
            size_t from = x + (end - gap - x) * k / count,
                   to = x + (end - gap - x) * (k + 1) / count;
            carn_canvas_fill(cell, (long)from, top + (long)(4 * job->scale), to - from,
                             SWATCH * job->scale, inks[k]);
        }
        if (used < sizeof words - 1)
            used += (size_t)snprintf(words + used, sizeof words - used, "%s%s%s%s",
                                     used > 0 ? ", " : "", last->rows[i].subject,
                                     verdict >= 0 ? " " : "",
                                     verdict >= 0 ? carn_table_cell(last->table, i, verdict) : "");
    }
    carn_canvas_text(cell, job->letters, 0, top + (long)((4 + SWATCH + 2 + LINE) * job->scale),
                     job->width, job->scale, people > 0 ? words : "not measured", LETTERS);
}

/* ---- one frame, and all of them ---- */

static int draw_cell(struct job *job)
{
    size_t below = (job->table_count > 0 ? 4 + SWATCH + LINE : 0) + 2 + LINE;
    struct carn_canvas *cells = carn_grow(job->cells, job->cell_count + 1, sizeof *cells, job->err);
    struct place at;
    if (cells == NULL)
        return -1;
    job->cells = cells;
    struct carn_canvas *cell = &job->cells[job->cell_count];
    if (carn_canvas_open(cell, job->width, picture_height(job) + below * job->scale, SURROUND,
                         job->err) != 0)
        return -1;
    job->cell_count++;
    if (draw_picture(job, &at, cell) != 0 ||
        (job->patches != NULL && draw_patches(job, &at, cell) != 0))
        return -1;
    if (job->table_count > 0)
        draw_readings(job, cell);
    size_t over = (job->table_count > 0 ? 4 + SWATCH : 0) + 2;
    carn_canvas_text(cell, job->letters, 0, (long)(picture_height(job) + over * job->scale),
                     job->width, job->scale, carn_frame_name(&job->stream.frame), LETTERS);
    return 0;
}

static void fill_row(const struct job *job, size_t y, size_t columns, size_t width, uint16_t *row)
{
    size_t gap = GAP * job->scale, high = job->cells[0].height + gap;
    for (size_t x = 0; x < width; x++) {
        struct carn_ink ink = SURROUND;
        size_t column = x / (job->width + gap), line = y / high, at = line * columns + column;
        size_t u = x % (job->width + gap), v = y % high;
        if (column < columns && at < job->cell_count && u >= gap && v >= gap)
            ink = job->cells[at].pixels[(v - gap) * job->width + u - gap];
        for (int c = 0; c < 3; c++)
            row[3 * x + (size_t)c] = (uint16_t)(ink.rgb[c] * 257);
    }
}

static int write_sheet(struct job *job)
{
    size_t columns = job->columns > 0 ? job->columns : (size_t)ceil(sqrt((double)job->cell_count));
    columns = columns < job->cell_count ? columns : job->cell_count;
    size_t lines = (job->cell_count + columns - 1) / columns, gap = GAP * job->scale;
    struct carn_frame sheet = {.width = columns * (job->width + gap) + gap,
                               .height = lines * (job->cells[0].height + gap) + gap,
                               .colours = 3};
    uint16_t *row = carn_alloc(3 * sheet.width, sizeof *row, job->err);
    int rc = row != NULL ? carn_frame_set_text(&sheet, "name", "sheet", job->err) : -1;
    if (rc == 0)
        rc = carn_frame_set_depth(&sheet, 8, job->err);
    if (rc == 0)
        rc = carn_frame_set_blob(&sheet, "icc", job->icc, job->icc_size, job->err);
    if (rc == 0)
        rc = carn_stream_begin(&job->stream, &sheet);
    for (size_t y = 0; rc == 0 && y < sheet.height; y++) {
        fill_row(job, y, columns, sheet.width, row);
        rc = carn_stream_write(&job->stream, row);
    }
    free(row);
    carn_frame_clear(&sheet);
    return rc;
}

/* ---- arguments ---- */

static int take_option(struct job *job, int key)
{
    struct carn_tool *tool = job->tool;
    if (key == 'w')
        return carn_tool_whole(tool, "width", NARROWEST, WIDEST, &job->width);
    if (key == 'c')
        return carn_tool_whole(tool, "columns", 1, 10000, &job->columns);
    if (key == 'p') {
        carn_patches_close(job->patches);
        job->patches = carn_patches_read(tool->value, job->err);
        return job->patches != NULL ? 0 : -1;
    }
    if (job->table_count == TABLES)
        return carn_fail(job->err, CARN_USAGE, "more than %d tables of readings", TABLES);
    return carn_readings_read(tool->value, CARN_NEED_LAB, &job->tables[job->table_count++],
                              job->err);
}

static int prepare(struct job *job)
{
    char path[4200];
    job->scale = job->width < 2 * WIDTH ? 1 : job->width / WIDTH;
    job->icc = carn_space_profile("srgb", &job->icc_size, job->err);
    job->srgb = job->icc != NULL ? carn_profile_open(job->icc, job->icc_size, 3, job->err) : NULL;
    if (job->srgb == NULL || carn_tool_share("letters.hex", path, sizeof path, job->err) != 0)
        return -1;
    job->letters = carn_letters_open(path, job->err);
    return job->letters != NULL ? carn_stream_open(&job->stream, true, job->err) : -1;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'p', "patches", "PATCHES", "draw where frames are measured"},
        {'r', "readings", "READINGS", "show what was measured; several: before, after"},
        {'w', "width", "WIDTH", "of a cell, 240 pixels; no frame is enlarged"},
        {'c', "columns", "COLUMNS", "cells side by side; as many as lines"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-sheet",
                             .operands = "<FRAMES >FRAME",
                             .purpose = "Shows frames small, side by side on one contact sheet.",
                             .options = options};
    struct job job = {.tool = &tool, .err = &tool.err, .width = WIDTH};

    /* arguments */
    int key;
    bool go = true;
    while (go && (key = carn_tool_option(&tool, argc, argv)) != 0)
        go = key > 0 && take_option(&job, key) == 0;
    go = go && carn_tool_no_operand(&tool, argc, argv) == 0;

    /* prepare */
    go = go && prepare(&job) == 0;

    /* data */
    while (go && carn_stream_next(&job.stream))
        go = draw_cell(&job) == 0;
    if (go && job.stream.ended && job.cell_count > 0)
        (void)write_sheet(&job);

    /* clean up */
    carn_stream_close(&job.stream);
    for (size_t i = 0; i < job.cell_count; i++)
        carn_canvas_close(&job.cells[i]);
    free(job.cells);
    for (size_t i = 0; i < job.table_count; i++)
        carn_readings_clear(&job.tables[i]);
    carn_patches_close(job.patches);
    carn_letters_close(job.letters);
    carn_convert_close(job.convert);
    carn_frame_profile_forget(&job.last);
    carn_profile_close(job.srgb);
    free(job.icc);
    return carn_tool_end(&tool);
}
