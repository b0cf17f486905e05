#include "report/sheet.h"
#include "colour/space.h"
#include "report/sheet_own.h"

#include <math.h>
#include <stdlib.h>

/* L* 50, the neutral surround that pictures are judged on, and white letters pass 4.5:1 on it. */
const struct carn_ink sheet_surround = {{118, 118, 118}}, sheet_letters = {{255, 255, 255}};

struct carn_sheet *carn_sheet_open(const struct carn_sheet_ask *ask, const char *letters,
                                   struct carn_error *err)
{
    struct carn_sheet *sheet = carn_alloc(1, sizeof *sheet, err);
    if (sheet == NULL)
        return NULL;
    sheet->ask = *ask;
    sheet->scale = ask->width < 2 * CARN_SHEET_WIDTH ? 1 : ask->width / CARN_SHEET_WIDTH;
    sheet->high = ask->width * 5 / 4;
    sheet->icc = carn_space_profile("srgb", &sheet->icc_size, err);
    if (sheet->icc != NULL)
        sheet->srgb = carn_profile_open(sheet->icc, sheet->icc_size, 3, err);
    if (sheet->srgb != NULL)
        sheet->letters = carn_letters_open(letters, err);
    if (sheet->letters != NULL)
        return sheet;
    carn_sheet_close(sheet);
    return NULL;
}

void carn_sheet_close(struct carn_sheet *sheet)
{
    if (sheet == NULL)
        return;
    for (size_t i = 0; i < sheet->count; i++)
        carn_canvas_close(&sheet->cells[i]);
    free(sheet->cells);
    carn_letters_close(sheet->letters);
    carn_convert_close(sheet->convert);
    carn_frame_profile_forget(&sheet->last);
    carn_profile_close(sheet->srgb);
    free(sheet->icc);
    free(sheet);
}

int carn_sheet_add(struct carn_sheet *sheet, struct carn_stream *stream,
                   const struct carn_box *boxes, size_t count, struct carn_error *err)
{
    const char *name = carn_frame_name(&stream->frame);
    size_t over = (sheet->ask.table_count > 0 ? 4 + SHEET_SWATCH : 0) + 2;
    size_t below = over + SHEET_LINE * (sheet->ask.table_count > 0 ? 2u : 1u);
    struct carn_canvas *cells = carn_grow(sheet->cells, sheet->count + 1, sizeof *cells, err);
    if (cells == NULL)
        return -1;
    sheet->cells = cells;
    struct carn_canvas *cell = &sheet->cells[sheet->count];
    if (carn_canvas_open(cell, sheet->ask.width, sheet->high + below * sheet->scale, sheet_surround,
                         err) != 0)
        return -1;
    sheet->count++;
    if (sheet_picture(sheet, stream, boxes, count, cell, err) != 0)
        return -1;
    if (sheet->ask.table_count > 0)
        sheet_readings(sheet, name, cell);
    carn_canvas_text(cell, sheet->letters, 0, (long)(sheet->high + over * sheet->scale),
                     sheet->ask.width, sheet->scale, name, sheet_letters);
    return 0;
}

static void fill_row(const struct carn_sheet *sheet, size_t y, size_t columns, size_t width,
                     uint16_t *row)
{
    size_t gap = SHEET_GAP * sheet->scale, high = sheet->cells[0].height + gap;
    for (size_t x = 0; x < width; x++) {
        struct carn_ink ink = sheet_surround;
        size_t column = x / (sheet->ask.width + gap), line = y / high, at = line * columns + column;
        size_t u = x % (sheet->ask.width + gap), v = y % high;
        if (column < columns && at < sheet->count && u >= gap && v >= gap)
            ink = sheet->cells[at].pixels[(v - gap) * sheet->ask.width + u - gap];
        for (int c = 0; c < 3; c++)
            row[3 * x + (size_t)c] = (uint16_t)(ink.rgb[c] * 257);
    }
}

int carn_sheet_write(const struct carn_sheet *sheet, struct carn_stream *stream,
                     struct carn_error *err)
{
    if (sheet->count == 0)
        return 0;
    size_t columns =
        sheet->ask.columns > 0 ? sheet->ask.columns : (size_t)ceil(sqrt((double)sheet->count));
    columns = columns < sheet->count ? columns : sheet->count;
    size_t lines = (sheet->count + columns - 1) / columns, gap = SHEET_GAP * sheet->scale;
    struct carn_frame frame = {.width = columns * (sheet->ask.width + gap) + gap,
                               .height = lines * (sheet->cells[0].height + gap) + gap,
                               .colours = 3};
    uint16_t *row = carn_alloc(3 * frame.width, sizeof *row, err);
    int rc = row != NULL ? carn_frame_set_text(&frame, "name", "sheet", err) : -1;
    if (rc == 0)
        rc = carn_frame_set_depth(&frame, 8, err);
    if (rc == 0)
        rc = carn_frame_set_blob(&frame, "icc", sheet->icc, sheet->icc_size, err);
    if (rc == 0)
        rc = carn_stream_begin(stream, &frame);
    for (size_t y = 0; rc == 0 && y < frame.height; y++) {
        fill_row(sheet, y, columns, frame.width, row);
        rc = carn_stream_write(stream, row);
    }
    free(row);
    carn_frame_clear(&frame);
    return rc;
}
