/*
 * detector: where faces are in a small upright picture, by runs of the published network
 * (network.h).
 *
 * A look is one run of the network on a square. The first look is at the whole picture; the second
 * has a wide border, for a face that fills the picture; then come overlapping parts, for small
 * faces. Each candidate is looked at again by itself, upright and at one fixed size, so that its
 * place does not depend on its size, tilt and surroundings in the picture. The score says how much
 * something resembles a face, also a drawn, carved or painted one. It is not a probability, and
 * skin has no part in it.
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

/* Fills found with at most CARN_DETECTIONS of a score of at least `least` that do not overlap,
 * highest score first. Returns how many, or -1 with a message. */
int carn_detect(struct carn_detector *detector, const struct carn_thumbnail *planes, double least,
                struct carn_detection found[CARN_DETECTIONS], struct carn_error *err);

#endif
