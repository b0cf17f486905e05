/* What the files of sheet share. */
#ifndef CARN_SHEET_OWN_H
#define CARN_SHEET_OWN_H

#include "colour/convert.h"
#include "colour/frame_profile.h"
#include "frame/canvas.h"
#include "report/sheet.h"

struct carn_sheet {
    struct carn_sheet_ask ask;
    size_t scale, high; /* pixels of the page a pixel of the letters; of the room for a picture */
    struct carn_letters *letters;
    struct carn_profile *srgb;
    void *icc;
    size_t icc_size;
    struct carn_frame_profile last;
    struct carn_convert *convert;
    size_t count;
    struct carn_canvas *cells;
};

/* Pixels at scale 1, between cells, of swatches and of a line of letters. */
enum { SHEET_GAP = 12, SHEET_SWATCH = 28, SHEET_LINE = 16 };

extern const struct carn_ink sheet_surround, sheet_letters;

/* sheet_picture.c: the frame's picture, small, and where it was measured. */
int sheet_picture(struct carn_sheet *sheet, struct carn_stream *stream,
                  const struct carn_box *boxes, size_t count, struct carn_canvas *cell,
                  struct carn_error *err);

/* sheet_readings.c: the colours that were read, and who it is with the verdict. */
void sheet_readings(struct carn_sheet *sheet, const char *frame, struct carn_canvas *cell);

#endif
