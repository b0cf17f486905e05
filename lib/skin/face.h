/*
 * face: where faces are, by a fitted look at colour, light and detail of the parts of a square.
 *
 * A square that holds a face from the brow to the chin has its eyes at 0.39 of its height and 0.36
 * of its width apart. Seventeen parts (eyes, cheeks, nose, mouth, chin, forehead, and what lies
 * around) are compared in lightness, in how far they could be skin, and in detail, each against the
 * whole square, so that deep, medium and light skin look alike. The comparison is a small neural
 * network (face_fit.c), which says how much more likely a face is than none. It knows upright faces
 * seen from the front or nearly so.
 */
#ifndef CARN_FACE_H
#define CARN_FACE_H

#include "base/error.h"
#include "skin/thumbnail.h"

#include <stddef.h>

struct carn_face {
    double x, y, size; /* the square, pixels of the planes; it may reach over the edges */
    double odds;       /* natural logarithm of the odds for a face */
};

enum { CARN_FACES = 16, CARN_FACE_FEATURES = 60, CARN_FACE_UNITS = 8 };

/* At most CARN_FACES with odds of at least `least`, none over another, into faces; the largest
 * first. How many, or -1 with a message. */
int carn_faces(const struct carn_thumbnail *planes, double least, struct carn_face *faces,
               struct carn_error *err);

/* What the network looks at in a square, and what it makes of it. */
void carn_face_features(const struct carn_thumbnail *planes, double x, double y, double size,
                        double features[CARN_FACE_FEATURES]);
double carn_face_odds(const double features[CARN_FACE_FEATURES]);

#endif
