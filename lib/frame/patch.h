/*
 * patch: where on a picture to measure. Patch tables (carn-tables(5)) give squares in pixels or per
 * cent of the upright full-size picture; here they become boxes of stored pixels of the frame at
 * hand, through its `orientation` and `full` keys.
 */
#ifndef CARN_PATCH_H
#define CARN_PATCH_H

#include "base/error.h"
#include "frame/frame.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* The columns of a patch table, as carn-patch-find(1) writes them. Needed are frame, patch, x, y, w
 * and h. */
enum carn_patch_column {
    CARN_PATCH_FRAME,
    CARN_PATCH_NAME,
    CARN_PATCH_TONE,
    CARN_PATCH_LEFT,
    CARN_PATCH_TOP,
    CARN_PATCH_WIDTH,
    CARN_PATCH_HEIGHT,
    CARN_PATCH_TILT,
    CARN_PATCH_POINTS,
    CARN_PATCH_CONFIDENCE,
    CARN_PATCH_KIND,
    CARN_PATCH_COLUMNS
};
extern const char *const carn_patch_columns[CARN_PATCH_COLUMNS];
void carn_patch_print_header(FILE *to);

struct carn_patches;

enum { CARN_FACE_POINTS = 6 };

/* One patch on one frame. x0 <= x < x1 and y0 <= y < y1 in stored pixels, never empty. */
struct carn_box {
    const char *patch, *tone; /* owned by the table; tone is "-" where the table has none */
    size_t x0, y0, x1, y1;
    double scale; /* full-size pixels a pixel of this frame */
    bool face;    /* tone is all: the rest holds, in shares (0..1) of the upright picture */
    double x, y, w, h;
    double tilt; /* degrees, clockwise as seen */
    bool pointed;
    double points[CARN_FACE_POINTS][2]; /* right eye, left eye, nose tip, mouth, right, left ear */
};

/* Checks every row: numbers, tone (light, middle, shade, all, card, backdrop or -). A face's box
 * (tone all) may reach over the picture's edges while its middle is inside. */
struct carn_patches *carn_patches_read(const char *path, struct carn_error *err);
void carn_patches_close(struct carn_patches *patches);

/* The frame's boxes in table order, count of them in *count; the caller frees. NULL with a message
 * when no row serves the frame or a patch lies outside it. */
struct carn_box *carn_patches_boxes(struct carn_patches *patches, const struct carn_frame *frame,
                                    size_t *count, struct carn_error *err);

/* The first row whose x, y, w and h are all under 1 and none in per cent, as when 0.38 was written
 * for 38%: its patch and line. NULL when there is none. */
const char *carn_patches_fractions(const struct carn_patches *patches, size_t *line);

/* The next row from *row on that no frame has used, or NULL; *row then is its place after. */
const char *carn_patches_unused(const struct carn_patches *patches, size_t *row, size_t *line);

#endif
