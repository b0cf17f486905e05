/*
 * outline: the oval of a face, hairline to chin and cheek to cheek (ears left out), and the parts
 * of it that are not skin: eyes with their brows, and the mouth.
 *
 * Places are pixels of the small upright picture (thumbnail.h), x to the right, y down. The oval is
 * an ellipse turned about its middle. Proportions in units of the distance from the eyes to the
 * mouth are those of the trade's drawing books (common practice, no source): a face's height is
 * three equal parts from hairline to brows, nose and chin.
 */
#ifndef CARN_OUTLINE_H
#define CARN_OUTLINE_H

#include <stdbool.h>

/* The six points of a face; right is the person's own. */
enum carn_point {
    CARN_RIGHT_EYE,
    CARN_LEFT_EYE,
    CARN_NOSE_TIP,
    CARN_MOUTH,
    CARN_RIGHT_EAR,
    CARN_LEFT_EAR,
    CARN_POINTS
};

struct carn_outline {
    double x, y;         /* middle */
    double across, down; /* half axes, over 0 */
    double tilt;         /* degrees, clockwise as seen */
    double points[CARN_POINTS][2];
    double right[2], chin[2]; /* unit vectors of the tilted axes: across, and down to the chin */
};

/* The oval that six points give. */
struct carn_outline carn_outline_of_points(const double points[CARN_POINTS][2]);

/* The oval in a box before it is turned, with points where a face in such an oval has them. w and h
 * are over 0. */
struct carn_outline carn_outline_of_box(double x, double y, double w, double h, double tilt);

/* Where a place is: outside, on an eye, brow or the mouth, on a part of the face that beards,
 * fringes and glasses seldom cover (cheeks and nose), or elsewhere in the oval. */
enum carn_region { CARN_OUTSIDE, CARN_FEATURE, CARN_SUREST, CARN_ELSEWHERE };
enum carn_region carn_outline_region(const struct carn_outline *outline, double x, double y);

/* Distance from the eyes to the mouth of a face in this oval, pixels. */
double carn_outline_unit(const struct carn_outline *outline);

#endif
