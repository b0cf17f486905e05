/*
 * detector: where faces are in a small upright picture, by looks of the published network.
 *
 * The whole picture is looked at, once as it is and once smaller with a wide border, for a face
 * that fills it; then overlapping parts, for small faces. What is seen is looked at again by
 * itself, upright and always of the same size in the look, so that a face is given the same place
 * whatever the size, tilt and surroundings it has in the picture. A score says how much something
 * is like a face, be it drawn, carved or of paint; it is no share and knows nothing of skin.
 */
#ifndef CARN_DETECTOR_H
#define CARN_DETECTOR_H

#include "base/error.h"
#include "skin/outline.h"
#include "skin/thumbnail.h"

enum { CARN_DETECTIONS = 64 };

/* Places are pixels of the planes; they may lie outside of the picture. */
struct carn_detection {
    double score;      /* 0..1 */
    double x, y, side; /* the detector's square, from brows to chin: its middle, its side */
    double apart;      /* how far apart two looks at it are, in sides; 1: not known */
    double tilt;       /* of the eyes, degrees clockwise as seen */
    double points[CARN_POINTS][2]; /* x, y; outline.h makes the oval of them */
};

struct carn_detector;

/* path: lib/data's face-detector.net (carn_tool_share finds it). NULL with a message. */
struct carn_detector *carn_detector_open(const char *path, struct carn_error *err);
void carn_detector_close(struct carn_detector *detector);

/* At most CARN_DETECTIONS of a score of at least `least`, none over another, into found, the surest
 * first. How many, or -1 with a message. */
int carn_detect(struct carn_detector *detector, const struct carn_thumbnail *planes, double least,
                struct carn_detection found[CARN_DETECTIONS], struct carn_error *err);

#endif
