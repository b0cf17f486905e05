/*
 * skin_patch: evenly lit squares of skin inside a face, for readings.
 *
 * The face's own colour is the median of a* / (L* + 16) and b* / (L* + 16) over pixels of its
 * cheeks and nose that could be skin: shading changes neither. A square and a margin around it must
 * be of that colour. It lies on the forehead or a cheek, never on eyes, nose or mouth. Of those the
 * most even and innermost ones are taken: one each for light, middle and shade. Light and shade are
 * left out where they are doubtful.
 */
#ifndef CARN_SKIN_PATCH_H
#define CARN_SKIN_PATCH_H

#include "base/error.h"
#include "skin/face.h"
#include "skin/thumbnail.h"

#include <stddef.h>

struct carn_skin_patch {
    const char *tone;  /* "light", "middle", "shade" */
    double x, y, side; /* the square, pixels of the planes */
    double confidence; /* 0..1 */
};

enum { CARN_SKIN_PATCHES = 3 };

/* Up to count (1 to 3) squares in the planes of carn_thumbnail_search into found, which has room
 * for three: middle before light before shade when fewer are wanted, in the order light, middle,
 * shade. How many (0: no even skin), or -1 with a message. */
int carn_skin_patches(const struct carn_thumbnail *planes, const struct carn_face *face, int count,
                      struct carn_skin_patch found[CARN_SKIN_PATCHES], struct carn_error *err);

#endif
