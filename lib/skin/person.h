/*
 * person: which part of a picture is a person's, by the outline of the face.
 *
 * Places and results are of the upright picture, in pixels of the outline's own. All numbers are
 * chosen, on scenes and photographs; no source.
 */
#ifndef CARN_PERSON_H
#define CARN_PERSON_H

#include "skin/outline.h"

/* How far a place is from a person (face, neck, shoulders, down to the hands): 0 in the middle of
 * the face, 1 where the person's area ends. */
double carn_person_distance(const struct carn_outline *face, double x, double y);

/* How far a place counts as inside of the face, 0..1: with the ears, without eyes and brows. */
double carn_person_inside(const struct carn_outline *face, double x, double y);

/* How far from the middle of the face, across or down, its inside can reach. */
double carn_person_reach(const struct carn_outline *face);

#endif
