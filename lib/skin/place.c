#include "skin/place.h"

#include <math.h>

/* A box means a detected face when their ovals differ by no more than this: distance of the
 * middles, in half axes; ratio of the heights. */
static const double AWAY = 0.75, TALLER = 2;

/* How far apart two ovals are: 0 for the same, HUGE_VAL where a box does not mean the face. */
static double unlike(const struct carn_outline *box, const struct carn_outline *face)
{
    double away = hypot((face->x - box->x) / box->across, (face->y - box->y) / box->down);
    double taller = fabs(log(face->down / box->down));
    return away > AWAY || taller > log(TALLER) ? HUGE_VAL : away + taller;
}

struct carn_outline carn_place(size_t width, size_t height, const struct carn_box *box,
                               const struct carn_detection *found, int count)
{
    double W = (double)width, H = (double)height, points[CARN_POINTS][2];
    if (box->pointed) {
        for (int i = 0; i < CARN_POINTS; i++) {
            points[i][0] = box->points[i][0] * W;
            points[i][1] = box->points[i][1] * H;
        }
        return carn_outline_of_points((const double(*)[2])points);
    }
    struct carn_outline own =
        carn_outline_of_box(box->x * W, box->y * H, box->w * W, box->h * H, box->tilt);
    struct carn_outline best = own;
    double least = HUGE_VAL;
    for (int i = 0; i < count; i++) {
        struct carn_outline face = carn_outline_of_points(found[i].points);
        double off = unlike(&own, &face);
        if (off < least)
            best = face;
        least = fmin(off, least);
    }
    return best;
}
