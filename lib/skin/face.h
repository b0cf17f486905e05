/*
 * face: the faces of people in a small upright picture, each with its oval and a confidence.
 *
 * The detector's score is high for masks, statues and drawings too. The face of a person in a
 * colour photograph has further features: the colour of skin, in a picture of more than one colour;
 * fine detail, neither flat as paint nor rough as stone; eyes and a mouth that differ from the skin
 * around them; and the same place in two looks. Confidence is a logistic regression on these
 * features, so about the share of such detections that are right. Depth of skin has no part in it:
 * chroma and steepness are divided by L* + 16.
 */
#ifndef CARN_FACE_H
#define CARN_FACE_H

#include "base/error.h"
#include "skin/detector.h"
#include "skin/outline.h"
#include "skin/thumbnail.h"

enum carn_feature {
    CARN_FACE_SCORE,   /* the detector's, as natural log-odds */
    CARN_FACE_AGREED,  /* how far apart two looks at it are, in sides, as log2 */
    CARN_FACE_SIZE,    /* width of the oval, pixels, as log2 */
    CARN_FACE_SHAPE,   /* how far its points are from the usual places in a face; 0: there */
    CARN_FACE_SKIN,    /* how far the colour of cheeks and nose could be skin, 0..1 */
    CARN_FACE_OWN,     /* share of the oval, eyes and mouth left out, of the colour of its cheeks */
    CARN_FACE_CHROMA,  /* of cheeks and nose, by L* + 16 */
    CARN_FACE_HUE,     /* of cheeks and nose, degrees off 47 */
    CARN_FACE_COLOURS, /* spread of a* and b* in and around the face at equal L*, as log2 */
    CARN_FACE_FLAT,    /* share of cheeks and nose without any detail */
    CARN_FACE_ROUGH,   /* steepness of L* on cheeks and nose, by L* + 16, as log2 */
    CARN_FACE_EYES,    /* root mean square difference in L* of eye and cheeks by L* + 16, as log2;
                          of the eye where it is less */
    CARN_FACE_LIPS,    /* how much redder the mouth is than the cheeks: a* by L* + 16 */
    CARN_FACE_FEATURES
};

enum { CARN_FACES = CARN_DETECTIONS };

struct carn_face {
    struct carn_detection seen;
    struct carn_outline outline;
    double features[CARN_FACE_FEATURES];
    double confidence; /* 0..1 */
};

/* Fills faces with those of a confidence of at least `least`, from left to right, in the planes of
 * carn_thumbnail_search. Returns how many, or -1 with a message. */
int carn_faces(struct carn_detector *detector, const struct carn_thumbnail *planes, double least,
               struct carn_face faces[CARN_FACES], struct carn_error *err);

/* A short name of each feature, for tables. */
extern const char *const carn_face_features[CARN_FACE_FEATURES];

#endif
