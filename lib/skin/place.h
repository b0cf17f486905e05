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
 * By the box's points, where it has them. Else by the face among count in found whose oval lies
 * most nearly where the box's does, so that a box drawn by hand a little off gives the same face;
 * else by the box's own oval. How good a score makes a face is the caller's to say, by the least of
 * found.
 */
struct carn_outline carn_place(size_t width, size_t height, const struct carn_box *box,
                               const struct carn_detection *found, int count);

#endif
