#include "skin/person.h"

#include "base/maths.h"

#include <math.h>

/* The area of a person, in half axes of the face's oval from its middle: UP above and to each side;
 * below the middle the sides grow by WIDER for each half axis, to WIDEST at most; LOW below. The
 * numbers of this file are chosen; tests/weight.c and tests/skin-weight.sh hold them. */
static const double UP = 1.25, WIDER = 0.75, WIDEST = 4, LOW = 6;

/* Beside a face, where no ear is, there is hair, which can have skin's own colour: farther out than
 * BESIDE half axes the distance grows by STEEP a half axis more, down to CHIN half axes under the
 * middle; from there to THROAT this fades. So it does around an ear, from its edge to AROUND. */
static const double BESIDE = 1.15, STEEP = 3, CHIN = 0.8, THROAT = 1.3, AROUND = 1.8;

/* The inside of a face counts 1 up to INSIDE, in half axes from the oval's middle, and 0 from
 * OUTSIDE; the ears belong to it, eyes with brows do not, and the mouth counts LIPS: lips that
 * stayed as they were looked violet in a face that turned, but they have a colour of their own. The
 * half axes of ears, eyes and mouth are in distances from the eyes to the mouth; EYE_UP: the
 * ellipse lies this far above the eye. EDGE_IN, EDGE_OUT: where these ellipses begin and end to
 * fade, in their half axes. */
static const double INSIDE = 1.0, OUTSIDE = 1.45, EAR_W = 0.45, EAR_H = 0.75;
static const double EYE_W = 0.36, EYE_H = 0.30, EYE_UP = 0.12, MOUTH_W = 0.42, MOUTH_H = 0.20;
static const double LIPS = 0.45;
static const double EDGE_IN = 0.8, EDGE_OUT = 1.25;

/* fmin, fmax and hypot are calls into the library: slow when made some millions of times. */
static inline double least(double x, double y)
{
    return x < y ? x : y;
}

static inline double most(double x, double y)
{
    return x > y ? x : y;
}

static inline double length(double x, double y)
{
    return sqrt(x * x + y * y);
}

/* Distance of a place from an ellipse's middle, 1 at its edge. The middle lies `down` below the
 * point. size: half axes across and along the face. down and size are in distances from the eyes to
 * the mouth. */
static double off_point(const struct carn_outline *face, enum carn_point point, double x, double y,
                        const double size[2], double down)
{
    double px = x - face->points[point][0], py = y - face->points[point][1];
    double unit = carn_outline_unit(face);
    double u = (px * face->right[0] + py * face->right[1]) / unit;
    double v = (px * face->chin[0] + py * face->chin[1]) / unit;
    return length(u / size[0], (v - down) / size[1]);
}

/* Distance from the middle of the nearer ear, 1 at its edge. */
static double off_ear(const struct carn_outline *face, double x, double y)
{
    const double ear[2] = {EAR_W, EAR_H};
    return least(off_point(face, CARN_RIGHT_EAR, x, y, ear, 0),
                 off_point(face, CARN_LEFT_EAR, x, y, ear, 0));
}

double carn_person_distance(const struct carn_outline *face, double x, double y)
{
    double dx = x - face->x, dy = y - face->y;
    double u = (dx * face->right[0] + dy * face->right[1]) / face->across;
    double v = (dx * face->chin[0] + dy * face->chin[1]) / face->down;
    double own = v < 0 ? length(u, v) / UP : length(u / least(UP + WIDER * v, WIDEST), v / LOW);
    double beside = STEEP * (fabs(u) - BESIDE) * (1 - carn_rise(v, CHIN, THROAT));
    return beside > 0 ? own + beside * carn_rise(off_ear(face, x, y), EDGE_OUT, AROUND) : own;
}

double carn_person_inside(const struct carn_outline *face, double x, double y)
{
    const double eye[2] = {EYE_W, EYE_H}, mouth[2] = {MOUTH_W, MOUTH_H};
    double dx = x - face->x, dy = y - face->y;
    double u = (dx * face->right[0] + dy * face->right[1]) / face->across;
    double v = (dx * face->chin[0] + dy * face->chin[1]) / face->down;
    double inside = 1 - carn_rise(length(u, v), INSIDE, OUTSIDE);
    if (inside < 1)
        inside = most(inside, 1 - carn_rise(off_ear(face, x, y), EDGE_IN, EDGE_OUT));
    if (inside <= 0)
        return 0;
    for (int i = CARN_RIGHT_EYE; i <= CARN_LEFT_EYE; i++)
        inside *=
            carn_rise(off_point(face, (enum carn_point)i, x, y, eye, -EYE_UP), EDGE_IN, EDGE_OUT);
    double lips = 1 - carn_rise(off_point(face, CARN_MOUTH, x, y, mouth, 0), EDGE_IN, EDGE_OUT);
    return inside * (1 - (1 - LIPS) * lips);
}

double carn_person_reach(const struct carn_outline *face)
{
    double reach = OUTSIDE * most(face->across, face->down);
    for (int i = CARN_RIGHT_EAR; i <= CARN_LEFT_EAR; i++)
        reach = most(reach, length(face->points[i][0] - face->x, face->points[i][1] - face->y) +
                                EDGE_OUT * EAR_H * carn_outline_unit(face));
    return reach;
}
