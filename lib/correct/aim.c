#include "correct/aim.h"

#include "base/table.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double PI = 3.14159265358979323846;

/* Bounds of one correction; over-coloured skin is the worse fault, so only a rise is bounded by a
 * share. Weighed on measured skin of every depth at photographic chroma (docs/colour.md 7). */
static const double MOVE_LIMIT = 12.0, CHROMA_RISE = 1.25;

/* Under this much cyan, per cent, a ratio says nothing; nor where black does ten times its work, as
 * in separations that print all greys with black: there only near-greys meet the ratios. */
static const double LEAST_CYAN = 5.0, LEAST_SHARE = 0.1;

static const struct {
    const char *name;
    enum carn_quantity quantity;
} quantities[] = {
    {"magenta/cyan", CARN_MAGENTA_BY_CYAN},
    {"yellow/magenta", CARN_YELLOW_BY_MAGENTA},
    {"hue", CARN_HUE},
    {"chroma", CARN_CHROMA},
    {"a", CARN_A},
    {"b", CARN_B},
    {"ciede2000", CARN_DIFFERENCE},
};

static const struct carn_aim built_in[] = {
    {.name = "common",
     .values =
         {[CARN_MAGENTA_BY_CYAN] = {true, 2.0, 8.0}, [CARN_YELLOW_BY_MAGENTA] = {true, 1.25, 8.0}}},
    {.name = "hue", .values = {[CARN_HUE] = {true, 56.0, 3.0}}},
    {.name = "skin", .by_lightness = true, .values = {[CARN_DIFFERENCE] = {true, 0.0, 3.0}}},
};

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

static void skin_at(double L, double *chroma, double *hue)
{
    size_t n = sizeof skin / sizeof *skin, i = 1;
    while (i < n - 1 && skin[i].L < L)
        i++;
    double t = (L - skin[i - 1].L) / (skin[i].L - skin[i - 1].L);
    t = t < 0 ? 0 : t > 1 ? 1 : t; /* outside the table: its end */
    *chroma = skin[i - 1].chroma + t * (skin[i].chroma - skin[i - 1].chroma);
    *hue = skin[i - 1].hue + t * (skin[i].hue - skin[i - 1].hue);
}

bool carn_aim_has_ratios(const struct carn_aim *aim)
{
    return aim->values[CARN_MAGENTA_BY_CYAN].set && aim->values[CARN_YELLOW_BY_MAGENTA].set;
}

/* ---- the house's own aims ---- */

/* The number of a cell that may be empty or missing; else fallback. */
static int take_end(const struct carn_table *table, size_t row, const char *name, double fallback,
                    double *end, struct carn_error *err)
{
    int column = carn_table_find(table, name);
    *end = fallback;
    if (carn_table_number(table, row, column, end, err) < 0)
        return -1;
    if (!(*end >= 0 && *end <= 100))
        return carn_table_fail(table, row, column, err, "an L* from 0 to 100, not %g", *end);
    return 0;
}

/* The tone of the row; CARN_UNTONED for any. */
static int take_tone(const struct carn_table *table, size_t row, enum carn_tone *tone,
                     struct carn_error *err)
{
    int column = carn_table_find(table, "tone");
    const char *word = carn_table_cell(table, row, column);
    *tone = carn_tone_of(word);
    if (*tone == CARN_UNTONED && word[0] != '\0' && strcmp(word, "-") != 0)
        return carn_table_fail(table, row, column, err,
                               "'%s' is not one of light, middle, shade, -", word);
    return 0;
}

/* Where the row's value goes: the aim's own, or a range of L* that no other row overlaps. */
static struct carn_aim_value *find_place(const struct carn_table *table, size_t row,
                                         struct carn_aim *aim, enum carn_quantity quantity,
                                         const char *name, struct carn_error *err)
{
    double from, to;
    enum carn_tone tone;
    int column = carn_table_find(table, "quantity"), start = carn_table_find(table, "from");
    if (take_tone(table, row, &tone, err) != 0 ||
        take_end(table, row, "from", 0, &from, err) != 0 ||
        take_end(table, row, "to", 100, &to, err) != 0)
        return NULL;
    if (from == 0 && to == 100 && tone == CARN_UNTONED) {
        if (aim->values[quantity].set)
            carn_table_fail(table, row, column, err, "'%s' stands twice for aim '%s'", name,
                            aim->name);
        return aim->values[quantity].set ? NULL : &aim->values[quantity];
    }
    if (!(to > from)) {
        carn_table_fail(table, row, start >= 0 ? start : column, err,
                        "the range from %g to %g is empty", from, to);
        return NULL;
    }
    for (size_t i = 0; i < aim->range_count; i++) {
        const struct carn_aim_range *other = &aim->ranges[i];
        if (other->quantity == quantity && other->tone == tone && from < other->to &&
            other->from < to) {
            carn_table_fail(table, row, column, err,
                            "'%s' from L* %g to %g overlaps that from %g to %g of aim '%s'", name,
                            from, to, other->from, other->to, aim->name);
            return NULL;
        }
    }
    if (aim->range_count == CARN_AIM_RANGES) {
        carn_table_fail(table, row, column, err, "aim '%s' has more than %d ranges", aim->name,
                        CARN_AIM_RANGES);
        return NULL;
    }
    struct carn_aim_range *range = &aim->ranges[aim->range_count++];
    *range = (struct carn_aim_range){.quantity = quantity, .tone = tone, .from = from, .to = to};
    return &range->value;
}

static int take_row(const struct carn_table *table, size_t row, struct carn_aim *aim,
                    struct carn_error *err)
{
    int quantity = carn_table_need(table, "quantity", err);
    int value = carn_table_need(table, "value", err);
    int tolerance = carn_table_need(table, "tolerance", err);
    if (quantity < 0 || value < 0 || tolerance < 0)
        return -1;
    const char *name = carn_table_cell(table, row, quantity);
    for (size_t i = 0; i < sizeof quantities / sizeof *quantities; i++) {
        if (strcmp(quantities[i].name, name) != 0)
            continue;
        struct carn_aim_value *v = find_place(table, row, aim, quantities[i].quantity, name, err);
        if (v == NULL)
            return -1;
        int asked = carn_table_number(table, row, carn_table_find(table, "asked"), &v->asked, err);
        v->tolerance = INFINITY;
        int a = carn_table_number(table, row, value, &v->value, err);
        int b = a < 0 ? a : carn_table_number(table, row, tolerance, &v->tolerance, err);
        if (asked < 0 || a < 0 || b < 0)
            return -1;
        v->cut = asked == 1;
        bool ratio = i <= CARN_YELLOW_BY_MAGENTA;
        if (a == 0 && i != CARN_DIFFERENCE)
            return carn_table_fail(table, row, value, err, "no value");
        if (b == 0 && i != CARN_A && i != CARN_B)
            return carn_table_fail(table, row, tolerance, err, "needs a tolerance of 0 or more");
        if (v->tolerance < 0)
            return carn_table_fail(table, row, tolerance, err, "a tolerance of 0 or more, not %g",
                                   v->tolerance);
        if (ratio && !(v->value > 0.05 && v->value < 20))
            return carn_table_fail(table, row, value, err, "a ratio from 0.05 to 20, not %g",
                                   v->value);
        if (i == CARN_CHROMA && v->value < 0)
            return carn_table_fail(table, row, value, err, "a chroma of 0 or more, not %g",
                                   v->value);
        if (i == CARN_HUE && !(v->value >= -360 && v->value <= 360))
            return carn_table_fail(table, row, value, err, "degrees from -360 to 360, not %g",
                                   v->value);
        v->set = true;
        return 0;
    }
    return carn_table_fail(table, row, quantity, err,
                           "'%s' is not one of magenta/cyan, yellow/magenta, hue, chroma, a, b, "
                           "ciede2000",
                           name);
}

/* Puts the values of ranges of this tone at this L* into at. */
static void take_ranges(const struct carn_aim *aim, enum carn_tone tone, double L,
                        struct carn_aim *at)
{
    for (size_t i = 0; i < aim->range_count; i++) {
        const struct carn_aim_range *r = &aim->ranges[i];
        if (r->tone == tone && r->from <= L && (L < r->to || (L == 100 && r->to == 100)))
            at->values[r->quantity] = r->value;
    }
}

struct carn_aim carn_aim_at(const struct carn_aim *aim, enum carn_tone tone, double L)
{
    struct carn_aim at = *aim;
    take_ranges(aim, CARN_UNTONED, L, &at);
    if (tone != CARN_UNTONED)
        take_ranges(aim, tone, L, &at);
    at.range_count = 0;
    return at;
}

bool carn_aim_has_tone(const struct carn_aim *aim, enum carn_tone tone)
{
    for (size_t i = 0; i < aim->range_count; i++)
        if (aim->ranges[i].tone == tone)
            return true;
    return false;
}

/* Says nothing of where the colour lies. */
static bool is_empty(const struct carn_aim *aim)
{
    for (size_t i = 0; i < CARN_DIFFERENCE; i++)
        if (aim->values[i].set)
            return false;
    return !aim->by_lightness;
}

/* Says where the colour lies: two ratios, or hue or chroma, or a and b. */
static bool is_whole(const struct carn_aim *aim)
{
    const struct carn_aim_value *v = aim->values;
    bool one = v[CARN_MAGENTA_BY_CYAN].set || v[CARN_YELLOW_BY_MAGENTA].set;
    bool polar = v[CARN_HUE].set || v[CARN_CHROMA].set;
    bool plane = v[CARN_A].set && v[CARN_B].set;
    bool half = v[CARN_A].set != v[CARN_B].set;
    if (one && !carn_aim_has_ratios(aim))
        return false;
    return !half && one + polar + plane == 1;
}

/* Does anything of it judge? */
static bool is_judged(const struct carn_aim *aim)
{
    for (size_t i = 0; i < CARN_QUANTITIES; i++)
        if (aim->values[i].set && isfinite(aim->values[i].tolerance))
            return true;
    return aim->by_lightness;
}

/* What the aim says changes only at the ends of ranges: each start is looked at, and 0, for every
 * tone. An aim may say nothing at some L*, not at all of them. */
static int check_whole(const struct carn_aim *aim, const char *file, struct carn_error *err)
{
    static const char need[] = "magenta/cyan and yellow/magenta, or hue and chroma or one of them, "
                               "or a and b";
    bool any = false;
    for (size_t k = 0; k < (2 * aim->range_count + 1) * (CARN_TONES + 1); k++) {
        size_t i = k / (CARN_TONES + 1);
        const struct carn_aim_range *r = i > 0 ? &aim->ranges[(i - 1) / 2] : NULL;
        double L = r == NULL ? 0 : i % 2 == 1 ? r->from : r->to;
        struct carn_aim at = carn_aim_at(aim, (enum carn_tone)(k % (CARN_TONES + 1)), L);
        bool empty = is_empty(&at);
        if (!empty && !is_judged(&at))
            return carn_fail_at(err, CARN_INPUT, file, "aim '%s' needs a tolerance", aim->name);
        any = any || !empty;
        if (!empty && !is_whole(&at) && aim->range_count > 0)
            return carn_fail_at(err, CARN_INPUT, file, "aim '%s' needs %s; not so at L* %g",
                                aim->name, need, L);
        if (!empty && !is_whole(&at))
            any = false;
    }
    return any ? 0 : carn_fail_at(err, CARN_INPUT, file, "aim '%s' needs %s", aim->name, need);
}

int carn_aim_find(const char *name, const char *file, struct carn_aim *aim, struct carn_error *err)
{
    *aim = (struct carn_aim){0};
    if (strlen(name) >= sizeof aim->name)
        return carn_fail(err, CARN_INPUT, "the aim's name is longer than %zu bytes",
                         sizeof aim->name - 1);
    strcpy(aim->name, name);
    struct carn_table *table = carn_table_read(file, err);
    if (table == NULL)
        return -1;
    int column = carn_table_need(table, "aim", err), found = column < 0 ? -1 : 0;
    for (size_t row = 0; found >= 0 && row < carn_table_rows(table); row++) {
        if (strcmp(carn_table_cell(table, row, column), name) != 0)
            continue;
        found = take_row(table, row, aim, err) == 0 ? 1 : -1;
    }
    carn_table_close(table);
    if (found == 1 && check_whole(aim, file, err) != 0)
        return -1;
    return found;
}

int carn_aim_open(const char *name, const char *file, struct carn_aim *aim, struct carn_error *err)
{
    int found = file != NULL ? carn_aim_find(name, file, aim, err) : 0;
    if (found != 0)
        return found < 0 ? -1 : 0;
    for (size_t i = 0; i < sizeof built_in / sizeof *built_in; i++) {
        if (strcmp(built_in[i].name, name) == 0) {
            *aim = built_in[i];
            return 0;
        }
    }
    return carn_fail(err, CARN_USAGE, "no aim '%s'%s%s; built in are common, hue, skin", name,
                     file != NULL ? " in " : "", file != NULL ? file : "");
}

/* ---- the aim colour ---- */

/* How far the inks at (a, b) are from the ratios, in units of cyan. */
static void residuals(const struct carn_aim *aim, const struct carn_separation *separation,
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

static double between(double v, double low, double high)
{
    return v < low ? low : v > high ? high : v;
}

/* Levenberg and Marquardt's damped steps in the a*b* plane, from *at; true when it converged.
 * Profiles are only piecewise smooth: slopes are taken over a twentieth of a unit, which is a few
 * hundredths of a per cent of ink. */
static bool iterate(const struct carn_aim *aim, const struct carn_separation *separation,
                    struct carn_lab *at)
{
    const double h = 0.05, close = 1e-5, enough = 2e-3;
    double r[2], damping = 1e-3;
    residuals(aim, separation, *at, r);
    for (int round = 0; round < 60 && norm(r) > close; round++) {
        double ra[2], rb[2];
        residuals(aim, separation, (struct carn_lab){at->L, at->a + h, at->b}, ra);
        residuals(aim, separation, (struct carn_lab){at->L, at->a, at->b + h}, rb);
        double j00 = (ra[0] - r[0]) / h, j10 = (ra[1] - r[1]) / h;
        double j01 = (rb[0] - r[0]) / h, j11 = (rb[1] - r[1]) / h;
        double g0 = j00 * r[0] + j10 * r[1], g1 = j01 * r[0] + j11 * r[1];
        bool better = false;
        for (int attempt = 0; attempt < 12 && !better; attempt++) {
            double m00 = (j00 * j00 + j10 * j10) * (1 + damping) + 1e-12;
            double m11 = (j01 * j01 + j11 * j11) * (1 + damping) + 1e-12;
            double m01 = j00 * j01 + j10 * j11, det = m00 * m11 - m01 * m01;
            struct carn_lab next = *at;
            next.a = between(at->a - between((m11 * g0 - m01 * g1) / det, -8, 8), -20, 60);
            next.b = between(at->b - between((m00 * g1 - m01 * g0) / det, -8, 8), -20, 80);
            double rn[2];
            residuals(aim, separation, next, rn);
            better = norm(rn) < norm(r);
            if (better) {
                *at = next;
                r[0] = rn[0];
                r[1] = rn[1];
            }
            damping = better ? damping / 5 : damping * 4;
        }
        if (!better)
            break;
    }
    return norm(r) < enough;
}

static struct carn_lab polar(double L, double chroma, double hue)
{
    return (struct carn_lab){L, chroma * cos(hue * PI / 180), chroma * sin(hue * PI / 180)};
}

/* From the reading, then from points along the hue where skin lies, for readings so far off that
 * the inks tell no direction. */
static int solve_ratios(const struct carn_aim *aim, const struct carn_separation *separation,
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
    struct carn_aim at = carn_aim_at(aim, tone, reading.L);
    const struct carn_aim_value *v = at.values;
    aim = &at;
    if (is_empty(aim))
        return carn_fail(err, CARN_INPUT, "aim '%s' says nothing at L* %.1f", aim->name, reading.L);
    double chroma = v[CARN_CHROMA].set ? v[CARN_CHROMA].value : carn_chroma(reading);
    double hue = v[CARN_HUE].set ? v[CARN_HUE].value : carn_hue(reading);
    if (carn_aim_has_ratios(aim)) {
        if (solve_ratios(aim, separation, reading, colour, err) != 0)
            return -1;
    } else if (v[CARN_A].set && v[CARN_B].set) {
        *colour = (struct carn_lab){reading.L, v[CARN_A].value, v[CARN_B].value};
    } else {
        if (aim->by_lightness)
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

bool carn_aim_has_chroma(const struct carn_aim *aim, enum carn_tone tone, double L)
{
    struct carn_aim at = carn_aim_at(aim, tone, L);
    return at.by_lightness || at.values[CARN_CHROMA].set || at.values[CARN_A].set ||
           at.values[CARN_B].set;
}

struct carn_lab carn_aim_bound(struct carn_lab reading, struct carn_lab colour, bool falls)
{
    double from = carn_chroma(reading), to = carn_chroma(colour);
    double most = from * CHROMA_RISE;
    colour.L = reading.L;
    if (carn_cie76(reading, colour) <= MOVE_LIMIT && to <= most)
        return colour;
    double turn = carn_hue_difference(carn_hue(reading), carn_hue(colour));
    if (2 * from * sin(fabs(turn) / 2 * PI / 180) > MOVE_LIMIT)
        turn = copysign(2 * asin(MOVE_LIMIT / (2 * from)) * 180 / PI, turn);
    double hue = carn_hue(reading) + turn;
    falls = falls && to <= from;
    return polar(reading.L, falls ? to : reach(reading, hue, from, fmin(to, most)), hue);
}
