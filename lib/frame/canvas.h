/*
 * canvas: a small picture in memory to draw on: areas, outlines, letters. 8 bit RGB in
 * the caller's encoding; what lies outside of it is not drawn.
 */
#ifndef CARN_CANVAS_H
#define CARN_CANVAS_H

#include "base/error.h"
#include "frame/letters.h"

#include <stddef.h>
#include <stdint.h>

struct carn_ink {
    uint8_t rgb[3];
};

struct carn_canvas {
    size_t width, height;
    struct carn_ink *pixels; /* row by row */
};

/* All of one colour. -1 with a message when memory is out. */
int carn_canvas_open(struct carn_canvas *canvas, size_t width, size_t height, struct carn_ink ink,
                     struct carn_error *err);
void carn_canvas_close(struct carn_canvas *canvas);

void carn_canvas_fill(struct carn_canvas *canvas, long x, long y, size_t width, size_t height,
                      struct carn_ink ink);

/* Outlines of an ellipse about cx cy with half axes rx ry, turned by tilt degrees clockwise, and of
 * a box; white with a black rim, so that they show on any background. Pixels, whole ones in the
 * middle of a pixel. */
void carn_canvas_oval(struct carn_canvas *canvas, double cx, double cy, double rx, double ry,
                      double tilt);
void carn_canvas_box(struct carn_canvas *canvas, double x0, double y0, double x1, double y1);

/* Letters from x y, their upper left, times scale; a text wider than width pixels ends in "..". */
void carn_canvas_text(struct carn_canvas *canvas, const struct carn_letters *letters, long x,
                      long y, size_t width, size_t scale, const char *text, struct carn_ink ink);

#endif
