#include "correct/channels.h"

#include "base/clones.h"
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

/* Adds the moves' RGB values. 1 with the line of a move that leaves the gamut. */
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

/* Why curves cannot be made, and where. */
struct fault {
    enum carn_limit limit;
    size_t line, before, channel;
    double x, y, slope; /* y: the other value that is close; slope: which is out of bounds, at x */
};

/* Adds the points made by hand. 1 with the fault when one would move an end. */
static int add_knots(const struct carn_move *moves, size_t count, struct point at[3][CARN_KNOTS],
                     size_t n[3], struct fault *fault)
{
    for (size_t i = 0; i < count; i++) {
        const struct carn_move *m = &moves[i];
        bool end = (m->x <= 0 && m->y <= 0) || (m->x >= 1 && m->y >= 1);
        if (m->kind != CARN_KNOT || end)
            continue;
        if (m->x <= 0 || m->x >= 1) {
            *fault = (struct fault){.limit = CARN_LIMIT_END, .line = m->line, .x = m->x, .y = m->y};
            return 1;
        }
        at[m->channel][n[m->channel]++] = (struct point){m->x, m->y, true, m->line};
    }
    return 0;
}

static int make_spline(struct point *at, size_t n, double margin, struct carn_spline *spline,
                       struct fault *fault)
{
    const struct point *close = tidy(at, &n);
    if (close != NULL) {
        *fault = (struct fault){.limit = CARN_LIMIT_CLOSE,
                                .before = close[-1].line,
                                .line = close->line,
                                .x = close[-1].x,
                                .y = close->x};
        return 1;
    }
    double slope, worst;
    build(spline, at, n);
    if (slopes_hold(spline, margin, &slope, &worst))
        return 0;
    size_t i = 0;
    while (i + 1 < n && at[i].x < worst)
        i++;
    *fault =
        (struct fault){.limit = CARN_LIMIT_SLOPE, .line = at[i].line, .x = worst, .slope = slope};
    return 1;
}

/* The three splines of moves and knots, count of CARN_KNOTS - 2 at most; 1 with what is wrong. */
static int make_splines(const struct carn_move *moves, size_t count, struct carn_profile *profile,
                        double margin, struct carn_spline splines[3], struct fault *fault,
                        struct carn_error *err)
{
    struct point at[3][CARN_KNOTS];
    size_t n[3] = {0, 0, 0};
    *fault = (struct fault){.limit = CARN_LIMIT_GAMUT};
    int rc = add_moves(moves, count, profile, at, n, &fault->line, err);
    if (rc == 0)
        rc = add_knots(moves, count, at, n, fault);
    for (size_t c = 0; rc == 0 && c < 3; c++) {
        rc = make_spline(at[c], n[c], margin, &splines[c], fault);
        fault->channel = c;
    }
    return rc;
}

int carn_channels_possible(const struct carn_move *moves, size_t count,
                           struct carn_profile *profile, enum carn_limit *limit,
                           struct carn_error *err)
{
    struct carn_spline splines[3];
    struct fault fault;
    if (count > CARN_KNOTS - 2)
        return carn_fail(err, CARN_LIMIT, "more than %d moves", CARN_KNOTS - 2);
    int rc = make_splines(moves, count, profile, 0.01, splines, &fault, err);
    *limit = fault.limit;
    return rc;
}

static int tell(const struct carn_curve *curve, const struct fault *f, struct carn_error *err)
{
    const char *where = curve->label, *channel = channels[f->channel];
    if (f->limit == CARN_LIMIT_GAMUT)
        return carn_fail_at(err, CARN_INPUT, where,
                            "line %zu: the move leaves the gamut of the frame's profile", f->line);
    if (f->limit == CARN_LIMIT_END)
        return carn_fail_at(err, CARN_INPUT, where,
                            "line %zu: a curve runs through (0,0) and (1,1), not (%g,%g)", f->line,
                            f->x, f->y);
    if (f->limit == CARN_LIMIT_CLOSE)
        return carn_fail_at(
            err, CARN_INPUT, where,
            "lines %zu and %zu: %s values %.4f and %.4f are within %.2f of each other", f->before,
            f->line, channel, f->x, f->y, CARN_CLOSE);
    return carn_fail_at(err, CARN_INPUT, where,
                        "line %zu: the %s curve would have a slope of %.3f near %.3f, "
                        "outside 1/3 to 3",
                        f->line, channel, f->slope, f->x);
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

/* Linear light, encoded; over the end of the scale, 1. near: as of carn_profile_encoded. */
static double encoded(const struct carn_profile *profile, int channel, double linear, double near)
{
    return linear >= 1 ? 1 : carn_profile_encoded(profile, channel, linear, near);
}

static double gained(const struct carn_profile *profile, int channel, double gain, double v,
                     double near)
{
    return encoded(profile, channel, gain * carn_profile_linear(profile, channel, v), near);
}

/* node[i] = the curve at i / NODES, where linear[i] is without the gain. Returns the value up to
 * which the whole gain applies. */
static double neutral_nodes(const struct carn_profile *profile, int channel, double gain,
                            const double linear[NODES + 1], double node[NODES + 1])
{
    for (size_t i = 0; i <= NODES; i++) {
        double near = i > 2 ? 3 * (node[i - 1] - node[i - 2]) + node[i - 3] : -1;
        node[i] = encoded(profile, channel, gain * linear[i], near);
    }
    if (fabs(gain - 1) < 1e-9)
        return 1;
    size_t i = NODES - 1;
    while (i > 0 && !run_holds((double)i / NODES, node[i]))
        i--;
    double low = (double)i / NODES, high = (double)(i + 1) / NODES, near = node[i];
    for (int k = 0; k < 30; k++) {
        double middle = (low + high) / 2;
        double value = gained(profile, channel, gain, middle, near);
        if (run_holds(middle, value)) {
            low = middle;
            near = value;
        } else {
            high = middle;
        }
    }
    double from = gained(profile, channel, gain, low, near), slope = run_slope(low, from);
    for (i++; i <= NODES; i++)
        node[i] = from + slope * ((double)i / NODES - low);
    return low;
}

/* The nodes of all channels. */
static int make_neutral(const struct carn_curve *curve, const struct carn_move *move,
                        struct carn_profile *profile, double node[3][NODES + 1],
                        struct carn_gains *gains, struct carn_error *err)
{
    double from[3], to[3], linear[3][NODES + 1];
    if (!carn_profile_has_curves(profile))
        return carn_fail_at(err, CARN_INPUT, curve->label,
                            "line %zu: a neutral needs a profile of curves and a matrix; "
                            "carn-to-profile brings a frame into one",
                            move->line);
    if (carn_profile_from_lab(profile, move->from, from, err) != 0 ||
        carn_profile_from_lab(profile, move->to, to, err) != 0)
        return -1;
    gains->any = true;
    for (int c = 0; c < 3; c++) {
        double gain =
            carn_profile_linear(profile, c, to[c]) / carn_profile_linear(profile, c, from[c]);
        if (!(from[c] > 0 && from[c] < 1 && gain > 0.05 && gain < 20))
            return carn_fail_at(err, CARN_INPUT, curve->label,
                                "line %zu: a neutral from L* %.1f a* %.1f b* %.1f asks for "
                                "a gain of %.2f in %s, outside 0.05 to 20",
                                move->line, move->from.L, move->from.a, move->from.b, gain,
                                channels[c]);
        gains->gain[c] = gain;
        int like = carn_profile_like(profile, c);
        for (size_t i = 0; like == c && i <= NODES; i++)
            linear[c][i] = carn_profile_linear(profile, c, (double)i / NODES);
        gains->whole[c] = neutral_nodes(profile, c, gain, linear[like], node[c]);
    }
    return 0;
}

static inline size_t cell_of(double at)
{
    return at < NODES ? (size_t)at : NODES - 1;
}

CARN_CLONES static void cell_row(const double node[NODES + 1], size_t cell, double *x, size_t count)
{
    double base = (double)cell, from = node[cell], rise = node[cell + 1] - node[cell];
    for (size_t i = 0; i < count; i++)
        x[i] = from + (x[i] * NODES - base) * rise;
}

/* Straight between nodes. x rises: of a few whose ends lie in one cell all do. */
static void neutral_row(const double node[NODES + 1], double *x, size_t count)
{
    enum { FEW = 32 };
    for (size_t from = 0, part; from < count; from += part) {
        part = count - from < FEW ? count - from : FEW;
        size_t cell = cell_of(x[from] * NODES);
        while (cell_of(x[from + part - 1] * NODES) != cell)
            part = (part + 1) / 2;
        cell_row(node, cell, x + from, part);
    }
}

/* ---- composing ---- */

/* What a curve does to the channels, one after the other. */
struct stage {
    bool neutral, bends;
    double node[3][NODES + 1];
    struct carn_spline spline[3];
};

static int make_stage(const struct carn_curve *curve, struct carn_profile *profile,
                      struct stage *stage, struct carn_gains *gains, struct carn_error *err)
{
    for (size_t i = 0; i < curve->count; i++) {
        const struct carn_move *move = &curve->moves[i];
        if (move->kind == CARN_NEUTRAL) {
            stage->neutral = true;
            if (make_neutral(curve, move, profile, stage->node, gains, err) != 0)
                return -1;
        }
        stage->bends = stage->bends || move->kind != CARN_NEUTRAL;
    }
    if (!stage->bends)
        return 0;
    if (curve->count > CARN_KNOTS - 2)
        return carn_fail_at(err, CARN_LIMIT, curve->label, "more than %d rows", CARN_KNOTS - 2);
    struct fault fault;
    int rc = make_splines(curve->moves, curve->count, profile, 0, stage->spline, &fault, err);
    return rc > 0 ? tell(curve, &fault, err) : rc;
}

CARN_CLONES static void round_row(const double *x, uint16_t *code, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        double v = x[i] > 0 ? x[i] : 0;
        code[i] = (uint16_t)(int32_t)((v < 1 ? v : 1) * 65535 + 0.5);
    }
}

/* In chunks, which stay in the processor's cache through all stages. */
static void fill_table(const struct stage *stages, size_t count, size_t c, uint16_t table[65536])
{
    enum { CHUNK = 1024 };
    double x[CHUNK];
    for (size_t from = 0; from < 65536; from += CHUNK) {
        for (size_t i = 0; i < CHUNK; i++)
            x[i] = (double)(int32_t)(from + i) / 65535;
        for (size_t s = 0; s < count; s++) {
            if (stages[s].neutral)
                neutral_row(stages[s].node[c], x, CHUNK);
            if (stages[s].bends)
                carn_spline_row(&stages[s].spline[c], x, CHUNK);
        }
        round_row(x, table + from, CHUNK);
    }
}

int carn_channels_compose(const struct carn_curve *curves, size_t count,
                          struct carn_profile *profile, struct carn_lut *lut,
                          struct carn_gains *gains, struct carn_error *err)
{
    struct stage *stages = carn_alloc(count, sizeof *stages, err);
    int rc = stages != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < count; i++)
        rc = make_stage(&curves[i], profile, &stages[i], gains, err);
    for (size_t c = 0; rc == 0 && c < 3; c++)
        fill_table(stages, count, c, lut->entry[c]);
    free(stages);
    return rc;
}
