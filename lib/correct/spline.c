#include "correct/spline.h"

#include "base/clones.h"

#include <math.h>
#include <stdbool.h>

/* With 2 % to spare: solvers want one, and would refuse a curve for an end kept right at its bound.
 */
static double within(double slope)
{
    return fmin(fmax(slope, 1.02 * CARN_SLOPE_LOW), 0.98 * CARN_SLOPE_HIGH);
}

/* The slope of the parabola through three points at the first (0), or at the middle one. */
static double three_points(double h0, double h1, double s0, double s1, bool end)
{
    return end ? ((2 * h0 + h1) * s0 - h0 * s1) / (h0 + h1) : (h1 * s0 + h0 * s1) / (h0 + h1);
}

void carn_spline_build(struct carn_spline *f, const double *x, const double *y, size_t count)
{
    f->count = count + 2;
    f->x[0] = f->y[0] = 0;
    for (size_t i = 0; i < count; i++) {
        f->x[i + 1] = x[i];
        f->y[i + 1] = y[i];
    }
    size_t n = count + 1; /* pieces; the last knot */
    f->x[n] = f->y[n] = 1;
    double h[CARN_KNOTS], s[CARN_KNOTS];
    for (size_t i = 0; i < n; i++) {
        h[i] = f->x[i + 1] - f->x[i];
        s[i] = (f->y[i + 1] - f->y[i]) / h[i];
    }
    f->slope[0] = n == 1 ? s[0] : within(three_points(h[0], h[1], s[0], s[1], true));
    f->slope[n] =
        n == 1 ? s[0] : within(three_points(h[n - 1], h[n - 2], s[n - 1], s[n - 2], true));
    for (size_t i = 1; i < n; i++)
        f->slope[i] = within(three_points(h[i - 1], h[i], s[i - 1], s[i], false));
    for (size_t i = 0; i < n; i++) {
        double alpha = f->slope[i] / s[i], beta = f->slope[i + 1] / s[i];
        double radius = hypot(alpha, beta);
        if (s[i] > 0 && radius > 3) {
            f->slope[i] = 3 / radius * alpha * s[i];
            f->slope[i + 1] = 3 / radius * beta * s[i];
        }
    }
}

/* Of one piece; x is inside it. */
static inline double piece_at(const struct carn_spline *f, size_t i, double x)
{
    double h = f->x[i + 1] - f->x[i], t = (x - f->x[i]) / h, u = 1 - t;
    return u * u * (1 + 2 * t) * f->y[i] + t * t * (1 + 2 * u) * f->y[i + 1] +
           h * t * u * (u * f->slope[i] - t * f->slope[i + 1]);
}

/* The piece of x; i is tried first. */
static size_t find_piece(const struct carn_spline *f, double x, size_t i)
{
    i = i < f->count - 1 && f->x[i] <= x ? i : 0;
    while (i + 2 < f->count && x > f->x[i + 1])
        i++;
    return i;
}

double carn_spline_at(const struct carn_spline *f, double x, size_t *piece)
{
    *piece = find_piece(f, x, *piece);
    return piece_at(f, *piece, x);
}

CARN_CLONES static void piece_row(const struct carn_spline *f, size_t i, double *x, size_t count)
{
    for (size_t k = 0; k < count; k++)
        x[k] = piece_at(f, i, x[k]);
}

void carn_spline_row(const struct carn_spline *f, double *x, size_t count)
{
    for (size_t done = 0, end, piece = 0; done < count; done = end) {
        piece = find_piece(f, x[done], piece);
        bool last = piece + 2 >= f->count;
        double from = piece > 0 ? f->x[piece] : -INFINITY, to = last ? INFINITY : f->x[piece + 1];
        for (end = done + 1; end < count && x[end] > from && x[end] <= to;)
            end++;
        piece_row(f, piece, x + done, end - done);
    }
}

void carn_spline_slopes(const struct carn_spline *f, double *low, double *high, double *worst)
{
    double excess = 0;
    *low = INFINITY;
    *high = -INFINITY;
    *worst = 0;
    for (size_t i = 0; i + 1 < f->count; i++) {
        /* The derivative over a piece is the parabola p t^2 + q t + d0. */
        double s = (f->y[i + 1] - f->y[i]) / (f->x[i + 1] - f->x[i]);
        double d0 = f->slope[i], d1 = f->slope[i + 1];
        double p = 3 * (d0 + d1 - 2 * s), q = 2 * (3 * s - 2 * d0 - d1);
        double turn = p != 0 ? -q / (2 * p) : 0;
        double at[3] = {0, 1, turn > 0 && turn < 1 ? turn : 0};
        for (size_t k = 0; k < 3; k++) {
            double d = (p * at[k] + q) * at[k] + d0;
            *low = fmin(*low, d);
            *high = fmax(*high, d);
            double over = fmax(d / CARN_SLOPE_HIGH, d > 0 ? CARN_SLOPE_LOW / d : INFINITY);
            if (over > excess) {
                excess = over;
                *worst = f->x[i] + at[k] * (f->x[i + 1] - f->x[i]);
            }
        }
    }
}
