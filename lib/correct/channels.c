#include "correct/channels.h"

#include "correct/spline.h"

#include <math.h>
#include <stdlib.h>

static const char *const channels[] = {"red", "green", "blue"};

/* ---- moves into the points of a channel's curve ---- */

/* One point of one channel's curve and the row it comes from. */
struct point {
    double x, y;
    bool by_hand;
    size_t line;
};

static int compare_points(const void *a, const void *b)
{
    const struct point *p = a, *q = b;
    return p->x < q->x ? -1 : p->x > q->x;
}

/* Adds the moves' RGB values. 1 with the word when one lies outside the gamut. */
static int add_moves(const struct carn_move *moves, size_t count, struct carn_profile *profile,
                     struct point at[3][CARN_KNOTS], size_t n[3], size_t *line,
                     struct carn_error *err)
{
    for (size_t i = 0; i < count; i++) {
        const struct carn_move *m = &moves[i];
        double from[3], to[3];
        if (m->kind != CARN_MOVE)
            continue;
        if (carn_profile_from_lab(profile, m->from, from, err) != 0 ||
            carn_profile_from_lab(profile, m->to, to, err) != 0)
            return -1;
        for (size_t c = 0; c < 3; c++) {
            *line = m->line;
            if (!(from[c] > 0 && from[c] < 1 && to[c] > 0 && to[c] < 1))
                return 1;
            at[c][n[c]++] = (struct point){from[c], to[c], false, m->line};
        }
    }
    return 0;
}

/* Sorts, joins points that say the same, and finds two that are too close. */
static const struct point *tidy(struct point *at, size_t *n)
{
    qsort(at, *n, sizeof *at, compare_points);
    size_t kept = 0;
    for (size_t i = 0; i < *n; i++) {
        if (kept > 0 && fabs(at[i].x - at[kept - 1].x) < 1e-6 &&
            fabs(at[i].y - at[kept - 1].y) < 1e-6)
            continue;
        if (kept > 0 && at[i].x - at[kept - 1].x < CARN_CLOSE)
            return &at[i];
        at[kept++] = at[i];
    }
    *n = kept;
    return NULL;
}

static void build(struct carn_spline *spline, const struct point *at, size_t n)
{
    double x[CARN_KNOTS], y[CARN_KNOTS];
    for (size_t i = 0; i < n; i++) {
        x[i] = at[i].x;
        y[i] = at[i].y;
    }
    carn_spline_build(spline, x, y, n);
}

/* margin: what a solver keeps clear of, so that rounding in the file breaks no bound. */
static bool slopes_hold(const struct carn_spline *spline, double margin, double *slope,
                        double *worst)
{
    double low, high;
    carn_spline_slopes(spline, &low, &high, worst);
    *slope = high / CARN_SLOPE_HIGH > CARN_SLOPE_LOW / low ? high : low;
    return low >= CARN_SLOPE_LOW * (1 + margin) - 1e-9 &&
           high <= CARN_SLOPE_HIGH * (1 - margin) + 1e-9;
}

int carn_channels_possible(const struct carn_move *moves, size_t count,
                           struct carn_profile *profile, const char **why, struct carn_error *err)
{
    struct point at[3][CARN_KNOTS];
    size_t n[3] = {0, 0, 0}, line = 0;
    if (count > CARN_KNOTS - 2)
        return carn_fail(err, CARN_LIMIT, "more than %d moves", CARN_KNOTS - 2);
    int rc = add_moves(moves, count, profile, at, n, &line, err);
    *why = "gamut";
    for (size_t c = 0; rc == 0 && c < 3; c++) {
        struct carn_spline spline;
        double slope, worst;
        *why = "close";
        if (tidy(at[c], &n[c]) != NULL)
            return 1;
        build(&spline, at[c], n[c]);
        *why = "slope";
        if (!slopes_hold(&spline, 0.01, &slope, &worst))
            return 1;
    }
    return rc;
}

/* The three splines of a file's moves and knots. */
static int make_splines(const struct carn_curve *curve, struct carn_profile *profile,
                        struct carn_spline splines[3], struct carn_error *err)
{
    struct point at[3][CARN_KNOTS];
    size_t n[3] = {0, 0, 0}, line = 0;
    if (curve->count > CARN_KNOTS - 2)
        return carn_fail_at(err, CARN_LIMIT, curve->label, "more than %d rows", CARN_KNOTS - 2);
    int rc = add_moves(curve->moves, curve->count, profile, at, n, &line, err);
    if (rc > 0)
        carn_fail_at(err, CARN_INPUT, curve->label,
                     "line %zu: the move leaves the gamut of the frame's profile", line);
    if (rc != 0)
        return -1;
    for (size_t i = 0; i < curve->count; i++) {
        const struct carn_move *m = &curve->moves[i];
        bool end = (m->x <= 0 && m->y <= 0) || (m->x >= 1 && m->y >= 1);
        if (m->kind != CARN_KNOT || end)
            continue;
        if (m->x <= 0 || m->x >= 1)
            return carn_fail_at(err, CARN_INPUT, curve->label,
                                "line %zu: a curve runs through (0,0) and (1,1), not (%g,%g)",
                                m->line, m->x, m->y);
        at[m->channel][n[m->channel]++] = (struct point){m->x, m->y, true, m->line};
    }
    for (size_t c = 0; c < 3; c++) {
        const struct point *close = tidy(at[c], &n[c]);
        double slope, worst;
        if (close != NULL)
            return carn_fail_at(err, CARN_INPUT, curve->label,
                                "lines %zu and %zu: %s values %.4f and %.4f are within %.2f of "
                                "each other",
                                close[-1].line, close->line, channels[c], close[-1].x, close->x,
                                CARN_CLOSE);
        build(&splines[c], at[c], n[c]);
        if (!slopes_hold(&splines[c], 0, &slope, &worst)) {
            size_t i = 0;
            while (i + 1 < n[c] && at[c][i].x < worst)
                i++;
            return carn_fail_at(err, CARN_INPUT, curve->label,
                                "line %zu: the %s curve would have a slope of %.3f near %.3f, "
                                "outside 1/3 to 3",
                                at[c][i].line, channels[c], slope, worst);
        }
    }
    return 0;
}

/* ---- the neutral ---- */

/* The curve is drawn straight between so many points: within half a code of 65535. */
enum { NODES = 1024 };

/* The slope of the straight run from (v, f) to (1, 1). */
static double run_slope(double v, double f)
{
    return v < 1 ? (1 - f) / (1 - v) : 1;
}

static bool run_holds(double v, double f)
{
    double slope = run_slope(v, f);
    return slope >= CARN_SLOPE_LOW && slope <= CARN_SLOPE_HIGH;
}

/* The gained value, encoded; where gain takes it over the end of the scale, 1. */
static double gained(const struct carn_profile *profile, int channel, double gain, double v)
{
    double linear = gain * carn_profile_linear(profile, channel, v);
    return linear >= 1 ? 1 : carn_profile_encoded(profile, channel, linear);
}

/* node[i] = the curve at i / NODES. Returns the value up to which the whole gain applies. */
static double neutral_nodes(const struct carn_profile *profile, int channel, double gain,
                            double node[NODES + 1])
{
    for (size_t i = 0; i <= NODES; i++)
        node[i] = gained(profile, channel, gain, (double)i / NODES);
    if (fabs(gain - 1) < 1e-9)
        return 1;
    size_t i = NODES - 1;
    while (i > 0 && !run_holds((double)i / NODES, node[i]))
        i--;
    double low = (double)i / NODES, high = (double)(i + 1) / NODES;
    for (int k = 0; k < 30; k++) {
        double middle = (low + high) / 2;
        if (run_holds(middle, gained(profile, channel, gain, middle)))
            low = middle;
        else
            high = middle;
    }
    double from = gained(profile, channel, gain, low), slope = run_slope(low, from);
    for (i++; i <= NODES; i++)
        node[i] = from + slope * ((double)i / NODES - low);
    return low;
}

static int apply_neutral(const struct carn_curve *curve, const struct carn_move *move,
                         struct carn_profile *profile, double *table[3], struct carn_gains *gains,
                         struct carn_error *err)
{
    double from[3], to[3];
    if (!carn_profile_has_curves(profile))
        return carn_fail_at(err, CARN_INPUT, curve->label,
                            "line %zu: a neutral needs a profile of curves and a matrix",
                            move->line);
    if (carn_profile_from_lab(profile, move->from, from, err) != 0 ||
        carn_profile_from_lab(profile, move->to, to, err) != 0)
        return -1;
    double *node = carn_alloc(NODES + 1, sizeof *node, err);
    if (node == NULL)
        return -1;
    gains->any = true;
    for (int c = 0; c < 3; c++) {
        double gain =
            carn_profile_linear(profile, c, to[c]) / carn_profile_linear(profile, c, from[c]);
        if (!(from[c] > 0 && from[c] < 1 && gain > 0.05 && gain < 20)) {
            free(node);
            return carn_fail_at(err, CARN_INPUT, curve->label,
                                "line %zu: a neutral from L* %.1f a* %.1f b* %.1f asks for "
                                "a gain of %.2f in %s, outside 0.05 to 20",
                                move->line, move->from.L, move->from.a, move->from.b, gain,
                                channels[c]);
        }
        gains->gain[c] = gain;
        gains->whole[c] = neutral_nodes(profile, c, gain, node);
        for (size_t i = 0; i < 65536; i++) {
            double at = table[c][i] * NODES;
            size_t cell = at < NODES ? (size_t)at : NODES - 1;
            table[c][i] = node[cell] + (at - (double)cell) * (node[cell + 1] - node[cell]);
        }
    }
    free(node);
    return 0;
}

/* ---- composing ---- */

static int apply_curve(const struct carn_curve *curve, struct carn_profile *profile,
                       double *table[3], struct carn_gains *gains, struct carn_error *err)
{
    bool bends = false;
    for (size_t i = 0; i < curve->count; i++) {
        bends = bends || curve->moves[i].kind != CARN_NEUTRAL;
        if (curve->moves[i].kind == CARN_NEUTRAL &&
            apply_neutral(curve, &curve->moves[i], profile, table, gains, err) != 0)
            return -1;
    }
    struct carn_spline splines[3];
    if (!bends)
        return 0;
    if (make_splines(curve, profile, splines, err) != 0)
        return -1;
    for (size_t c = 0; c < 3; c++) {
        size_t piece = 0;
        for (size_t i = 0; i < 65536; i++)
            table[c][i] = carn_spline_at(&splines[c], table[c][i], &piece);
    }
    return 0;
}

int carn_channels_compose(const struct carn_curve *curves, size_t count,
                          struct carn_profile *profile, struct carn_lut *lut,
                          struct carn_gains *gains, struct carn_error *err)
{
    double *memory = carn_alloc(3 * (size_t)65536, sizeof *memory, err);
    if (memory == NULL)
        return -1;
    double *table[3] = {memory, memory + 65536, memory + 2 * 65536};
    for (size_t c = 0; c < 3; c++)
        for (size_t i = 0; i < 65536; i++)
            table[c][i] = (double)i / 65535;
    int rc = 0;
    for (size_t i = 0; rc == 0 && i < count; i++)
        rc = apply_curve(&curves[i], profile, table, gains, err);
    for (size_t c = 0; rc == 0 && c < 3; c++)
        for (size_t i = 0; i < 65536; i++)
            lut->entry[c][i] = (uint16_t)(fmin(fmax(table[c][i], 0), 1) * 65535 + 0.5);
    free(memory);
    return rc;
}
