#include "correct/aim_colour.h"

#include "base/maths.h"
#include "colour/matrix.h"

#include <math.h>

/* Bounds of one correction. Too much chroma looks worse than too little, so only a rise is bounded
 * by a factor. Chosen on measured skin of every depth at photographic chroma (docs/colour.md 7). */
static const double MOVE_LIMIT = 12.0, CHROMA_RISE = 1.25;

/* Under this much cyan, per cent, a ratio means nothing. Nor does it where black is ten times cyan,
 * as in separations that print all greys with black: there only near-greys meet the ratios. */
static const double LEAST_CYAN = 5.0, LEAST_SHARE = 0.1;

/*
 * Published skin, D50, 2 degree observer, deep to light. L* 73 and 66: upper and middle third of
 * the 100 forearms of C. C. Cooksey et al., J. Res. NIST 122:26 (2017). L* 59: median of nine body
 * sites, 4392 spectra, K. Xiao et al., Optics Express 24:14934 (2016). Below: exposed forearms of
 * S. Alaluf et al., Pigment Cell Research 15:119 (2002), their hue turned back 6.5 degrees from D65
 * as measured spectra turn; L* 31: tone 8 of the Monk scale (2022).
 */
static const struct {
    double L, chroma, hue;
} skin[] = {
    {31.0, 18.5, 47.0}, {38.1, 19.7, 45.0}, {43.7, 21.5, 47.0}, {51.0, 23.0, 50.0},
    {59.2, 20.4, 51.6}, {66.0, 19.5, 51.0}, {73.0, 17.9, 51.0},
};

static double between(double v, double low, double high)
{
    return v < low ? low : v > high ? high : v;
}

/*
 * Photographs show skin more chromatic than it is: published skin's chroma times these. In between,
 * chroma is left alone; to ask for the measured chroma itself makes faces grey (looked at on 62
 * portraits; docs/colour.md 6). Preferred centres, C* 25 at L* 65, are 1.28 of it.
 */
static const double LEAST_SHOWN = 1.15, MOST_SHOWN = 1.6;

/* Hue and chroma of skin at this L* for a reading of this chroma, which stays within the band. */
static void skin_at(double L, double *chroma, double *hue)
{
    size_t n = sizeof skin / sizeof *skin, i = 1;
    while (i < n - 1 && skin[i].L < L)
        i++;
    double t = (L - skin[i - 1].L) / (skin[i].L - skin[i - 1].L);
    t = t < 0 ? 0 : t > 1 ? 1 : t; /* outside the table: its end */
    double measured = skin[i - 1].chroma + t * (skin[i].chroma - skin[i - 1].chroma);
    *chroma = between(*chroma, LEAST_SHOWN * measured, MOST_SHOWN * measured);
    *hue = skin[i - 1].hue + t * (skin[i].hue - skin[i - 1].hue);
}

/* ---- the aim colour ---- */

/* How far the inks at (a, b) are from the ratios, in units of cyan. */
static void residuals(const struct carn_aim_values *aim, const struct carn_separation *separation,
                      struct carn_lab at, double r[2])
{
    struct carn_inks inks = carn_separation_inks(separation, at);
    double cyan = fmax(inks.cyan, 1.0);
    r[0] = (inks.magenta - aim->values[CARN_MAGENTA_BY_CYAN].value * inks.cyan) / cyan;
    r[1] = (inks.yellow - aim->values[CARN_YELLOW_BY_MAGENTA].value * inks.magenta) / cyan;
}

static double norm(const double r[2])
{
    return hypot(r[0], r[1]);
}

/* One damped step downhill from at: the normal equations of the residuals r and their slopes a and
 * b, at most 8 either way, inside the a*b* of any skin. */
static struct carn_lab step_from(struct carn_lab at, const double r[2], const double a[2],
                                 const double b[2], double damping)
{
    double m[3][3] = {{0}, {0}, {0, 0, 1}}, step[3];
    const double g[3] = {a[0] * r[0] + a[1] * r[1], b[0] * r[0] + b[1] * r[1], 0};
    m[0][0] = (a[0] * a[0] + a[1] * a[1]) * (1 + damping) + 1e-12;
    m[1][1] = (b[0] * b[0] + b[1] * b[1]) * (1 + damping) + 1e-12;
    m[0][1] = m[1][0] = a[0] * b[0] + a[1] * b[1];
    (void)carn_matrix_solve(m, g, 0, step); /* the damping keeps it positive definite */
    at.a = between(at.a - between(step[0], -8, 8), -20, 60);
    at.b = between(at.b - between(step[1], -8, 8), -20, 80);
    return at;
}

/* Levenberg and Marquardt's damped steps in the a*b* plane, from *at; true when it converged.
 * Profiles are only piecewise smooth: slopes are taken over a twentieth of a unit, which is a few
 * hundredths of a per cent of ink. */
static bool iterate(const struct carn_aim_values *aim, const struct carn_separation *separation,
                    struct carn_lab *at)
{
    const double h = 0.05, close = 1e-5, enough = 2e-3;
    double r[2], damping = 1e-3;
    bool better = true;
    residuals(aim, separation, *at, r);
    for (int round = 0; round < 60 && better && norm(r) > close; round++) {
        double a[2], b[2];
        residuals(aim, separation, (struct carn_lab){at->L, at->a + h, at->b}, a);
        residuals(aim, separation, (struct carn_lab){at->L, at->a, at->b + h}, b);
        for (int i = 0; i < 2; i++) {
            a[i] = (a[i] - r[i]) / h;
            b[i] = (b[i] - r[i]) / h;
        }
        better = false;
        for (int attempt = 0; attempt < 12 && !better; attempt++) {
            struct carn_lab next = step_from(*at, r, a, b, damping);
            double left[2];
            residuals(aim, separation, next, left);
            better = norm(left) < norm(r);
            if (better) {
                *at = next;
                r[0] = left[0];
                r[1] = left[1];
            }
            damping = better ? damping / 5 : damping * 4;
        }
    }
    return norm(r) < enough;
}

static struct carn_lab polar(double L, double chroma, double hue)
{
    return (struct carn_lab){L, chroma * cos(hue * CARN_PI / 180),
                             chroma * sin(hue * CARN_PI / 180)};
}

/* From the reading, then from points along the hue where skin lies, for readings so far off that
 * the inks tell no direction. */
static int solve_ratios(const struct carn_aim_values *aim, const struct carn_separation *separation,
                        struct carn_lab reading, struct carn_lab *colour, struct carn_error *err)
{
    static const double starts[] = {20, 30, 12, 38, 6};
    bool converged = false;
    double cyan = 0;
    for (size_t i = 0; i <= sizeof starts / sizeof *starts; i++) {
        struct carn_lab at = i == 0 ? reading : polar(reading.L, starts[i - 1], 57);
        if (!iterate(aim, separation, &at))
            continue;
        struct carn_inks inks = carn_separation_inks(separation, at);
        converged = converged || inks.cyan < LEAST_CYAN;
        cyan = inks.cyan;
        if (cyan >= LEAST_CYAN && cyan >= LEAST_SHARE * inks.black) {
            *colour = at;
            return 0;
        }
    }
    if (converged)
        return carn_fail(err, CARN_NUMERIC,
                         "aim '%s' has only %.1f %% of cyan at L* %.1f in separation %s, and "
                         "ratios need %.0f %%",
                         aim->name, cyan, reading.L, carn_separation_id(separation), LEAST_CYAN);
    return carn_fail(err, CARN_NUMERIC,
                     "no colour meets aim '%s' at L* %.1f in separation %s: it prints skin "
                     "with black in place of cyan",
                     aim->name, reading.L, carn_separation_id(separation));
}

int carn_aim_colour(const struct carn_aim *aim, const struct carn_separation *separation,
                    enum carn_tone tone, struct carn_lab reading, struct carn_lab *colour,
                    struct carn_inks *inks, struct carn_error *err)
{
    struct carn_aim_values at = carn_aim_at(aim, tone, reading.L);
    const struct carn_aim_value *v = at.values;
    if (carn_aim_is_empty(&at))
        return carn_fail(err, CARN_INPUT, "aim '%s' says nothing at L* %.1f", aim->name, reading.L);
    double chroma = v[CARN_CHROMA].set ? v[CARN_CHROMA].value : carn_chroma(reading);
    double hue = v[CARN_HUE].set ? v[CARN_HUE].value : carn_hue(reading);
    if (carn_aim_has_ratios(&at)) {
        if (solve_ratios(&at, separation, reading, colour, err) != 0)
            return -1;
    } else if (v[CARN_A].set && v[CARN_B].set) {
        *colour = (struct carn_lab){reading.L, v[CARN_A].value, v[CARN_B].value};
    } else {
        if (at.by_lightness)
            skin_at(reading.L, &chroma, &hue);
        *colour = polar(reading.L, chroma, hue);
    }
    if (inks != NULL)
        *inks = carn_separation_inks(separation, *colour);
    return 0;
}

/* ---- the bound ---- */

/* The farthest chroma from near toward far on a hue line whose point stays within MOVE_LIMIT of
 * the reading; near does. */
static double reach(struct carn_lab reading, double hue, double near, double far)
{
    if (carn_cie76(reading, polar(reading.L, far, hue)) <= MOVE_LIMIT)
        return far;
    for (int i = 0; i < 60; i++) {
        double middle = (near + far) / 2;
        if (carn_cie76(reading, polar(reading.L, middle, hue)) <= MOVE_LIMIT)
            near = middle;
        else
            far = middle;
    }
    return near;
}

/* colour, where ratios ask for less chroma than any photograph of skin shows, with that chroma. */
static struct carn_lab lively(const struct carn_aim *aim, enum carn_tone tone,
                              struct carn_lab reading, struct carn_lab colour)
{
    double least = 0, hue;
    struct carn_aim_values at = carn_aim_at(aim, tone, reading.L);
    if (!carn_aim_has_ratios(&at))
        return colour;
    skin_at(reading.L, &least, &hue);
    least = fmin(least, carn_chroma(reading));
    return carn_chroma(colour) < least ? polar(colour.L, least, carn_hue(colour)) : colour;
}

struct carn_lab carn_aim_bound(const struct carn_aim *aim, enum carn_tone tone,
                               struct carn_lab reading, struct carn_lab colour)
{
    bool free = aim == NULL || carn_aim_has_chroma(aim, tone, reading.L);
    colour.L = reading.L;
    if (!free)
        colour = lively(aim, tone, reading, colour);
    double from = carn_chroma(reading), to = carn_chroma(colour);
    double most = from * CHROMA_RISE;
    if (carn_cie76(reading, colour) <= MOVE_LIMIT && to <= most)
        return colour;
    double turn = carn_hue_difference(carn_hue(reading), carn_hue(colour));
    if (2 * from * sin(fabs(turn) / 2 * CARN_PI / 180) > MOVE_LIMIT)
        turn = copysign(2 * asin(MOVE_LIMIT / (2 * from)) * 180 / CARN_PI, turn);
    double hue = carn_hue(reading) + turn;
    bool falls = free && to <= from;
    return polar(reading.L, falls ? to : reach(reading, hue, from, fmin(to, most)), hue);
}

bool carn_aim_is_short(const struct carn_aim_values *at, struct carn_lab colour,
                       struct carn_lab *asked)
{
    const struct carn_aim_value *a = &at->values[CARN_A], *b = &at->values[CARN_B];
    bool cut = a->set && b->set && a->cut && b->cut;
    *asked = cut ? (struct carn_lab){colour.L, a->asked, b->asked} : colour;
    return cut;
}
