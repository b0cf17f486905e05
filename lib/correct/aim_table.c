#include "correct/aim_table.h"

#include "base/table.h"

#include <math.h>
#include <string.h>

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
     .values = {[CARN_MAGENTA_BY_CYAN] = {.set = true, .value = 2.0, .tolerance = 8.0},
                [CARN_YELLOW_BY_MAGENTA] = {.set = true, .value = 1.25, .tolerance = 8.0}}},
    {.name = "hue", .values = {[CARN_HUE] = {.set = true, .value = 56.0, .tolerance = 3.0}}},
    {.name = "skin",
     .by_lightness = true,
     .values = {[CARN_DIFFERENCE] = {.set = true, .value = 0.0, .tolerance = 3.0}}},
};

/* ---- a row ---- */

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
    if (*tone > CARN_UNTONED || !carn_tone_is_known(word))
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

/* ---- is it whole? ---- */

/* Says where the colour lies: two ratios, or hue or chroma, or a and b. */
static bool is_whole(const struct carn_aim_values *at)
{
    const struct carn_aim_value *v = at->values;
    bool one = v[CARN_MAGENTA_BY_CYAN].set || v[CARN_YELLOW_BY_MAGENTA].set;
    bool polar = v[CARN_HUE].set || v[CARN_CHROMA].set;
    bool plane = v[CARN_A].set && v[CARN_B].set;
    bool half = v[CARN_A].set != v[CARN_B].set;
    if (one && !carn_aim_has_ratios(at))
        return false;
    return !half && one + polar + plane == 1;
}

/* Does anything of it judge? */
static bool is_judged(const struct carn_aim_values *at)
{
    for (size_t i = 0; i < CARN_QUANTITIES; i++)
        if (at->values[i].set && isfinite(at->values[i].tolerance))
            return true;
    return at->by_lightness;
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
        struct carn_aim_values at = carn_aim_at(aim, (enum carn_tone)(k % (CARN_TONES + 1)), L);
        bool empty = carn_aim_is_empty(&at);
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

/* ---- the aim of a name ---- */

int carn_aim_find(const char *name, const struct carn_table *table, struct carn_aim *aim,
                  struct carn_error *err)
{
    *aim = (struct carn_aim){0};
    if (strlen(name) >= sizeof aim->name)
        return carn_fail(err, CARN_INPUT, "the aim's name is longer than %zu bytes",
                         sizeof aim->name - 1);
    strcpy(aim->name, name);
    int column = carn_table_need(table, "aim", err), found = column < 0 ? -1 : 0;
    for (size_t row = 0; found >= 0 && row < carn_table_rows(table); row++) {
        if (strcmp(carn_table_cell(table, row, column), name) != 0)
            continue;
        found = take_row(table, row, aim, err) == 0 ? 1 : -1;
    }
    if (found == 1 && check_whole(aim, carn_table_label(table), err) != 0)
        return -1;
    return found;
}

static int find_in_file(const char *name, const char *file, struct carn_aim *aim,
                        struct carn_error *err)
{
    struct carn_table *table = carn_table_read(file, err);
    int found = table != NULL ? carn_aim_find(name, table, aim, err) : -1;
    carn_table_close(table);
    return found;
}

int carn_aim_open(const char *name, const char *file, struct carn_aim *aim, struct carn_error *err)
{
    int found = file != NULL ? find_in_file(name, file, aim, err) : 0;
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
