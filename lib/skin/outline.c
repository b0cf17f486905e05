#include "skin/outline.h"

#include "base/maths.h"

#include <math.h>

/* In units of the distance from the eyes to the mouth: half the oval's height; its middle below the
 * eyes; its least half width. */
static const double HEIGHT = 1.36, MIDDLE = 0.33, WIDTH = 0.75;

/* The oval's middle lies this far from the middle of the eyes (0) to that of the ears (1): in a
 * face turned to the side the near ear is at the back of the head. Chosen on 252 ovals set by hand.
 */
static const double TO_EARS = 0.45;

/* Half width of the oval by half the distance between the ears; eyes from the middle, in half
 * widths. */
static const double BY_EARS = 0.92, EYES = 0.55;

/* Half axes of the ellipses that are left out, eye with brow and mouth; the first lies EYE_UP above
 * the eye. Then the band of cheeks and nose: SURE_OUT of the way from each eye to its ear, less a
 * margin, so that in a turned face it ends before the far cheek does; from SURE_TOP to SURE_LOW
 * below the eyes. */
static const double EYE_W = 0.42, EYE_H = 0.37, EYE_UP = 0.13, MOUTH_W = 0.52, MOUTH_H = 0.27;
static const double SURE_OUT = 0.5, SURE_MARGIN = 0.12, SURE_TOP = 0.22, SURE_LOW = 0.76;

static void set_tilt(struct carn_outline *o, double tilt)
{
    double t = tilt * CARN_PI / 180, c = cos(t), s = sin(t);
    o->tilt = tilt;
    o->right[0] = o->chin[1] = c;
    o->right[1] = s;
    o->chin[0] = -s;
}

static double dot(const double a[2], double x, double y)
{
    return a[0] * x + a[1] * y;
}

double carn_outline_unit(const struct carn_outline *outline)
{
    return outline->down / HEIGHT;
}

/* Adds the unit vector along x, y to the sum. */
static void add_direction(double sum[2], double x, double y)
{
    double length = hypot(x, y);
    if (length > 0) {
        sum[0] += x / length;
        sum[1] += y / length;
    }
}

struct carn_outline carn_outline_of_points(const double points[CARN_POINTS][2])
{
    const double *right = points[CARN_RIGHT_EYE], *left = points[CARN_LEFT_EYE];
    const double *mouth = points[CARN_MOUTH];
    double eyes[2] = {(right[0] + left[0]) / 2, (right[1] + left[1]) / 2}, up[2] = {0, 0};
    /* The mean of two directions: from the mouth to the eyes, and at a right angle to the line of
     * the eyes. In a head that is turned and bent, either alone leans. */
    add_direction(up, eyes[0] - mouth[0], eyes[1] - mouth[1]);
    add_direction(up, left[1] - right[1], right[0] - left[0]);
    struct carn_outline o = {0};
    set_tilt(&o, atan2(up[0], -up[1]) * 180 / CARN_PI);
    const double *r = points[CARN_RIGHT_EAR], *l = points[CARN_LEFT_EAR];
    double unit = fmax(hypot(eyes[0] - mouth[0], eyes[1] - mouth[1]), 1);
    double middle = dot(o.right, (r[0] + l[0]) / 2 - eyes[0], (r[1] + l[1]) / 2 - eyes[1]);
    o.across = fmax(BY_EARS * hypot(r[0] - l[0], r[1] - l[1]) / 2, WIDTH * unit);
    o.down = HEIGHT * unit;
    o.x = eyes[0] + TO_EARS * middle * o.right[0] + MIDDLE * unit * o.chin[0];
    o.y = eyes[1] + TO_EARS * middle * o.right[1] + MIDDLE * unit * o.chin[1];
    for (int i = 0; i < CARN_POINTS; i++)
        for (int c = 0; c < 2; c++)
            o.points[i][c] = points[i][c];
    return o;
}

struct carn_outline carn_outline_of_box(double x, double y, double w, double h, double tilt)
{
    /* Across in half widths of the oval, down in units from the eyes. */
    const double usual[CARN_POINTS][2] = {
        {-EYES, 0}, {EYES, 0}, {0, 0.55}, {0, 1}, {-1 / BY_EARS, 0.15}, {1 / BY_EARS, 0.15}};
    struct carn_outline o = {.x = x + w / 2, .y = y + h / 2, .across = w / 2, .down = h / 2};
    set_tilt(&o, tilt);
    double unit = carn_outline_unit(&o);
    for (int i = 0; i < CARN_POINTS; i++) {
        double u = usual[i][0] * o.across, v = (usual[i][1] - MIDDLE) * unit;
        o.points[i][0] = o.x + u * o.right[0] + v * o.chin[0];
        o.points[i][1] = o.y + u * o.right[1] + v * o.chin[1];
    }
    return o;
}

static bool in_ellipse(double x, double y, double across, double down)
{
    return x * x / (across * across) + y * y / (down * down) < 1;
}

/* How far the band of cheeks goes beyond an eye, toward its ear, in pixels. */
static double sure_out(const struct carn_outline *o, enum carn_point eye, enum carn_point ear)
{
    const double *from = o->points[eye], *to = o->points[ear];
    double out = dot(o->right, to[0] - from[0], to[1] - from[1]);
    return SURE_OUT * fmax(eye == CARN_LEFT_EYE ? out : -out, 0) -
           SURE_MARGIN * carn_outline_unit(o);
}

/* Whether a place lies between the ends of the band of cheeks. */
static bool is_sure(const struct carn_outline *o, double x, double y)
{
    const double *right = o->points[CARN_RIGHT_EYE], *left = o->points[CARN_LEFT_EYE];
    return dot(o->right, right[0] - x, right[1] - y) <
               sure_out(o, CARN_RIGHT_EYE, CARN_RIGHT_EAR) &&
           dot(o->right, x - left[0], y - left[1]) < sure_out(o, CARN_LEFT_EYE, CARN_LEFT_EAR);
}

enum carn_region carn_outline_region(const struct carn_outline *o, double x, double y)
{
    double u = dot(o->right, x - o->x, y - o->y), v = dot(o->chin, x - o->x, y - o->y);
    if (!in_ellipse(u, v, o->across, o->down))
        return CARN_OUTSIDE;
    double unit = carn_outline_unit(o);
    for (int i = CARN_RIGHT_EYE; i <= CARN_MOUTH; i++) {
        double dx = x - o->points[i][0], dy = y - o->points[i][1];
        double across = dot(o->right, dx, dy) / unit, down = dot(o->chin, dx, dy) / unit;
        if (i == CARN_MOUTH ? in_ellipse(across, down, MOUTH_W, MOUTH_H)
                            : i != CARN_NOSE_TIP && in_ellipse(across, down + EYE_UP, EYE_W, EYE_H))
            return CARN_FEATURE;
    }
    double under = v / unit + MIDDLE;
    bool beside = under > SURE_TOP && under < SURE_LOW;
    return beside && is_sure(o, x, y) ? CARN_SUREST : CARN_ELSEWHERE;
}
