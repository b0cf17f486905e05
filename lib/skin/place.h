/*
 * place: the outline of the face that a row of a patch table means.
 */
#ifndef CARN_PLACE_H
#define CARN_PLACE_H

#include "frame/patch.h"
#include "skin/detector.h"
#include "skin/outline.h"

#include <stddef.h>

/*
 * From the box's points, where it has them. Else that of the detected face whose oval is nearest to
 * the box's, so that a box drawn a little off by hand gives the same face. Else the box's own oval.
 * found: count detections; the caller leaves out those of too low a score.
 */
struct carn_outline carn_place(size_t width, size_t height, const struct carn_box *box,
                               const struct carn_detection *found, int count);

#endif
