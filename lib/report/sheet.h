/*
 * sheet: frames as one contact sheet: all of them small, side by side, with where they were
 * measured, what was measured, and their names. In memory: the sheet.
 */
#ifndef CARN_SHEET_H
#define CARN_SHEET_H

#include "base/error.h"
#include "correct/reading.h"
#include "frame/patch.h"
#include "frame/stream.h"

#include <stddef.h>

/* What the caller owns has to stay until the sheet is closed. */
struct carn_sheet_ask {
    size_t width;                       /* of a cell, pixels; no frame is enlarged */
    size_t columns;                     /* cells side by side; 0: as many as lines */
    const struct carn_readings *tables; /* swatches in their order, up to CARN_SHEET_TABLES */
    size_t table_count;
};

enum { CARN_SHEET_WIDTH = 240, CARN_SHEET_TABLES = 8 }; /* of a cell, for letters of scale 1 */

struct carn_sheet;
/* letters: the file of letters (letters.h). NULL with a message. */
struct carn_sheet *carn_sheet_open(const struct carn_sheet_ask *ask, const char *letters,
                                   struct carn_error *err);
void carn_sheet_close(struct carn_sheet *sheet);

/* Takes the rows of the stream's frame; boxes: count of them, where it was measured. -1 with a
 * message. */
int carn_sheet_add(struct carn_sheet *sheet, struct carn_stream *stream,
                   const struct carn_box *boxes, size_t count, struct carn_error *err);

/* Writes the sheet, an sRGB frame of 8 bits a sample; nothing when no frame was added. */
int carn_sheet_write(const struct carn_sheet *sheet, struct carn_stream *stream,
                     struct carn_error *err);

#endif
