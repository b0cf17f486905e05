/*
 * face_fit: the numbers of face's network, fitted and not typed; see face_fit.c.
 */
#ifndef CARN_FACE_FIT_H
#define CARN_FACE_FIT_H

#include "skin/face.h"

extern const double carn_face_scale[CARN_FACE_FEATURES][2]; /* what to take off, then multiply by */
extern const double carn_face_in[CARN_FACE_UNITS][CARN_FACE_FEATURES + 1]; /* and the unit's own */
extern const double carn_face_out[CARN_FACE_UNITS + 1];

#endif
