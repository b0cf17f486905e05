/*
 * view: the input of the face detector: squares of a small picture, turned and of any size.
 *
 * The picture's mean colour is brought to grey and its mean lightness to a middle one, within
 * bounds, so that a cast or a dark exposure hardly changes what is detected. No colour is measured
 * in it.
 */
#ifndef CARN_VIEW_H
#define CARN_VIEW_H

#include "base/error.h"
#include "skin/thumbnail.h"

#include <stddef.h>

struct carn_view;

/* Of the planes, which are not needed afterwards. NULL with a message when memory is out. */
struct carn_view *carn_view_open(const struct carn_thumbnail *planes, struct carn_error *err);
void carn_view_close(struct carn_view *view);

size_t carn_view_width(const struct carn_view *view);
size_t carn_view_height(const struct carn_view *view);

/* A square of the picture: its middle and side in pixels of the planes, and how far it is turned,
 * degrees clockwise as seen. It may reach over the edges. */
struct carn_square {
    double x, y, side, tilt;
};

/* The square as side x side pixels of red, green, blue, -1 (black, and what lies outside of the
 * picture) to 1, encoded as in sRGB. */
void carn_view_square(const struct carn_view *view, const struct carn_square *square, size_t side,
                      float *pixels);

/* From a place in the square, 0 to 1 from its left and its top, to pixels of the planes. */
void carn_square_place(const struct carn_square *square, double u, double v, double place[2]);

#endif
