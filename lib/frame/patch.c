#include "frame/patch.h"

#include "base/match.h"
#include "base/table.h"
#include "base/tone.h"
#include "frame/keys.h"
#include "frame/upright.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *const carn_patch_columns[CARN_PATCH_COLUMNS] = {
    [CARN_PATCH_FRAME] = "frame",   [CARN_PATCH_NAME] = "patch",
    [CARN_PATCH_TONE] = "tone",     [CARN_PATCH_LEFT] = "x",
    [CARN_PATCH_TOP] = "y",         [CARN_PATCH_WIDTH] = "w",
    [CARN_PATCH_HEIGHT] = "h",      [CARN_PATCH_TILT] = "tilt",
    [CARN_PATCH_POINTS] = "points", [CARN_PATCH_CONFIDENCE] = "confidence",
    [CARN_PATCH_KIND] = "kind",
};

void carn_patch_print_header(FILE *to)
{
    for (size_t i = 0; i < CARN_PATCH_COLUMNS; i++)
        fprintf(to, "%s%s", i > 0 ? "\t" : "", carn_patch_columns[i]);
    fputc('\n', to);
}

/* A length as typed: pixels or per cent. */
struct length {
    double value;
    bool percent;
};

struct patch {
    const char *frame, *name, *tone;
    struct length x, y, w, h;
    bool face; /* tone all */
    double tilt;
    bool pointed;
    double points[CARN_FACE_POINTS][2]; /* per cent */
    bool used;
};

struct carn_patches {
    struct carn_table *table;
    size_t count;
    struct patch *patches;
};

/* In pixels: the upright full-size picture, and this frame as it is seen. */
struct sizes {
    double full_w, full_h;
    size_t wide, high;
    unsigned orientation;
};

/* What a length may be: over 0, 0 or more, or anything. */
enum extent { OVER_0, FROM_0, ANY };

static int take_length(const struct carn_table *table, size_t row, int column, enum extent extent,
                       struct length *length, struct carn_error *err)
{
    const char *cell = carn_table_cell(table, row, column);
    char *end = NULL;
    double v = strtod(cell, &end);
    end += strspn(end, " ");
    bool percent = *end == '%';
    if (end == cell || end[percent] != '\0' || !isfinite(v) || strpbrk(cell, "xX") != NULL)
        return carn_table_fail(table, row, column, err,
                               "'%s' is not a number of pixels or per cent", cell);
    if ((v < 0 && extent != ANY) || (v == 0 && extent == OVER_0))
        return carn_table_fail(table, row, column, err, "%s is %s", cell,
                               extent == OVER_0 ? "not over 0" : "under 0");
    *length = (struct length){v, percent};
    return 0;
}

static int take_face(const struct carn_table *table, size_t row, const int *columns,
                     struct patch *patch, struct carn_error *err)
{
    int tilt = columns[CARN_PATCH_TILT];
    patch->face = carn_tone_of(patch->tone) == CARN_TONE_ALL;
    if (!patch->face)
        return 0;
    if (carn_table_number(table, row, tilt, &patch->tilt, err) < 0)
        return -1;
    if (!(fabs(patch->tilt) <= 360))
        return carn_table_fail(table, row, tilt, err, "%g is not -360 to 360", patch->tilt);
    int points = carn_table_numbers(table, row, columns[CARN_PATCH_POINTS], &patch->points[0][0],
                                    2 * CARN_FACE_POINTS, err);
    patch->pointed = points > 0;
    return points < 0 ? -1 : 0;
}

static int take_patch(const struct carn_table *table, size_t row, const int *columns,
                      struct patch *patch, struct carn_error *err)
{
    patch->frame = carn_table_cell(table, row, columns[CARN_PATCH_FRAME]);
    patch->name = carn_table_cell(table, row, columns[CARN_PATCH_NAME]);
    patch->tone = carn_table_cell(table, row, columns[CARN_PATCH_TONE]);
    if (!carn_tone_is_known(patch->tone))
        return carn_table_fail(table, row, columns[CARN_PATCH_TONE], err,
                               "'%s' is not one of light, middle, shade, all, card, backdrop, -",
                               patch->tone);
    if (patch->tone[0] == '\0')
        patch->tone = carn_tone_word(CARN_UNTONED);
    if (take_face(table, row, columns, patch, err) != 0)
        return -1;
    enum extent place = patch->face ? ANY : FROM_0;
    if (take_length(table, row, columns[CARN_PATCH_LEFT], place, &patch->x, err) != 0 ||
        take_length(table, row, columns[CARN_PATCH_TOP], place, &patch->y, err) != 0 ||
        take_length(table, row, columns[CARN_PATCH_WIDTH], OVER_0, &patch->w, err) != 0 ||
        take_length(table, row, columns[CARN_PATCH_HEIGHT], OVER_0, &patch->h, err) != 0)
        return -1;
    return 0;
}

static int take_patches(struct carn_patches *patches, struct carn_error *err)
{
    const struct carn_table *table = patches->table;
    int columns[CARN_PATCH_COLUMNS];
    for (size_t i = 0; i < CARN_PATCH_COLUMNS; i++) {
        bool needed = i <= CARN_PATCH_HEIGHT && i != CARN_PATCH_TONE;
        columns[i] = needed ? carn_table_need(table, carn_patch_columns[i], err)
                            : carn_table_find(table, carn_patch_columns[i]);
        if (needed && columns[i] < 0)
            return -1;
    }
    patches->count = carn_table_rows(table);
    patches->patches = carn_alloc(patches->count, sizeof *patches->patches, err);
    if (patches->patches == NULL)
        return -1;
    for (size_t row = 0; row < patches->count; row++)
        if (take_patch(table, row, columns, &patches->patches[row], err) != 0)
            return -1;
    return 0;
}

struct carn_patches *carn_patches_read(const char *path, struct carn_error *err)
{
    struct carn_patches *patches = carn_alloc(1, sizeof *patches, err);
    if (patches == NULL)
        return NULL;
    patches->table = carn_table_read(path, err);
    if (patches->table == NULL || take_patches(patches, err) != 0) {
        carn_patches_close(patches);
        return NULL;
    }
    return patches;
}

void carn_patches_close(struct carn_patches *patches)
{
    if (patches == NULL)
        return;
    carn_table_close(patches->table);
    free(patches->patches);
    free(patches);
}

const char *carn_patches_unused(const struct carn_patches *patches, size_t *row, size_t *line)
{
    for (; *row < patches->count; (*row)++) {
        if (patches->patches[*row].used)
            continue;
        *line = carn_table_line(patches->table, *row);
        return patches->patches[(*row)++].name;
    }
    return NULL;
}

const char *carn_patches_fractions(const struct carn_patches *patches, size_t *line)
{
    for (size_t i = 0; i < patches->count; i++) {
        const struct patch *p = &patches->patches[i];
        const struct length lengths[] = {p->x, p->y, p->w, p->h};
        bool fractions = true;
        for (size_t k = 0; k < 4; k++)
            fractions = fractions && !lengths[k].percent && lengths[k].value < 1;
        if (fractions) {
            *line = carn_table_line(patches->table, i);
            return p->name;
        }
    }
    return NULL;
}

static struct sizes find_sizes(const struct carn_frame *frame)
{
    struct sizes sizes = {.orientation = carn_frame_orientation(frame)};
    bool turned = carn_upright_lies(sizes.orientation);
    size_t w, h;
    carn_frame_full(frame, &w, &h);
    sizes.full_w = (double)(turned ? h : w);
    sizes.full_h = (double)(turned ? w : h);
    sizes.wide = turned ? frame->height : frame->width;
    sizes.high = turned ? frame->width : frame->height;
    return sizes;
}

static double pixels(struct length length, double whole)
{
    return length.percent ? length.value / 100 * whole : length.value;
}

/* Rounds two shares to a range of pixels. */
static int range(double a, double b, size_t whole, size_t *from, size_t *to)
{
    double low = fmax(round(a * (double)whole), 0);
    double high = fmin(round(b * (double)whole), (double)whole);
    if (!(high > low))
        return -1;
    *from = (size_t)low;
    *to = (size_t)high;
    return 0;
}

static int make_box(const struct patch *patch, const struct sizes *sizes, const char *frame,
                    struct carn_box *box, struct carn_error *err)
{
    const double slack = 1e-6; /* per cents that sum to a hundred but for rounding */
    double W = sizes->full_w, H = sizes->full_h;
    double x = pixels(patch->x, W), y = pixels(patch->y, H);
    double w = pixels(patch->w, W), h = pixels(patch->h, H);
    bool inside = x + w / 2 >= 0 && x + w / 2 <= W && y + h / 2 >= 0 && y + h / 2 <= H;
    if (patch->face && !inside)
        return carn_fail_at(err, CARN_INPUT, frame,
                            "the middle of the face '%s' lies outside the frame", patch->name);
    if (!patch->face && x + w > W + slack)
        return carn_fail_at(err, CARN_INPUT, frame,
                            "patch '%s' lies outside the frame (%g+%g > %g)", patch->name, x, w, W);
    if (!patch->face && y + h > H + slack)
        return carn_fail_at(err, CARN_INPUT, frame,
                            "patch '%s' lies outside the frame (%g+%g > %g)", patch->name, y, h, H);
    *box = (struct carn_box){.patch = patch->name,
                             .tone = patch->tone,
                             .face = patch->face,
                             .x = x / W,
                             .y = y / H,
                             .w = w / W,
                             .h = h / H,
                             .tilt = patch->tilt,
                             .pointed = patch->pointed};
    for (int i = 0; i < CARN_FACE_POINTS; i++)
        for (int c = 0; c < 2; c++)
            box->points[i][c] = patch->points[i][c] / 100;
    /* Rounded as it is seen, so that a picture is read at the same pixels however it is stored. */
    struct carn_area area;
    if (range(x / W, (x + w) / W, sizes->wide, &area.x0, &area.x1) != 0 ||
        range(y / H, (y + h) / H, sizes->high, &area.y0, &area.y1) != 0)
        return carn_fail_at(err, CARN_INPUT, frame,
                            "patch '%s' of %g x %g is smaller than a pixel of this frame",
                            patch->name, w, h);
    area = carn_upright_area(carn_upright_back(sizes->orientation), sizes->wide, sizes->high, area);
    box->x0 = area.x0;
    box->y0 = area.y0;
    box->x1 = area.x1;
    box->y1 = area.y1;
    box->scale = W * H / ((double)sizes->wide * (double)sizes->high);
    return 0;
}

struct carn_box *carn_patches_boxes(struct carn_patches *patches, const struct carn_frame *frame,
                                    size_t *count, struct carn_error *err)
{
    const char *name = carn_frame_name(frame);
    const struct sizes sizes = find_sizes(frame);
    int best = 0;
    for (size_t i = 0; i < patches->count; i++) {
        int rank = carn_table_serves(patches->patches[i].frame, name);
        best = rank > best ? rank : best;
    }
    if (best == 0) {
        carn_fail_at(err, CARN_INPUT, name, "no row of %s is for this frame",
                     carn_table_label(patches->table));
        return NULL;
    }
    struct carn_box *boxes = carn_alloc(patches->count, sizeof *boxes, err);
    if (boxes == NULL)
        return NULL;
    *count = 0;
    for (size_t i = 0; i < patches->count; i++) {
        if (carn_table_serves(patches->patches[i].frame, name) != best)
            continue;
        patches->patches[i].used = true;
        if (make_box(&patches->patches[i], &sizes, name, &boxes[(*count)++], err) != 0) {
            free(boxes);
            return NULL;
        }
    }
    return boxes;
}
