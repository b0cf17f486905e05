#include "job/result.h"

#include "base/order.h"
#include "base/tone.h"
#include "colour/lab.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *const carn_result_names[CARN_RESULTS] = {
    "L",
    "a",
    "b",
    "chroma",
    "hue",
    "ita",
    "cyan",
    "magenta",
    "yellow",
    "black",
    "magenta_by_cyan",
    "yellow_by_magenta",
    "aim_L",
    "aim_a",
    "aim_b",
    "ciede2000",
    "hue_spread",
    "greened",
};

struct carn_result carn_result_none(void)
{
    struct carn_result none = {.words = "-", .flags = "-", .separation = "-"};
    for (int i = 0; i < CARN_RESULTS; i++)
        none.value[i] = (double)NAN;
    return none;
}

/* A table before it is scored has no ratios, but inks to make them of. */
static double value_at(const struct carn_table *table, size_t row, enum carn_result_value which)
{
    double v = carn_table_value(table, row, carn_result_names[which]);
    bool by_cyan = which == CARN_RESULT_MAGENTA_BY_CYAN;
    if (!isnan(v) || (!by_cyan && which != CARN_RESULT_YELLOW_BY_MAGENTA))
        return v;
    double cyan = carn_table_value(table, row, "cyan"),
           magenta = carn_table_value(table, row, "magenta");
    if (!(cyan > 0 && magenta > 0))
        return v;
    return by_cyan ? magenta / cyan : carn_table_value(table, row, "yellow") / magenta;
}

static bool serves(const struct carn_table *table, size_t row, const char *subject,
                   const char *frame)
{
    const char *tone = carn_table_text(table, row, "tone");
    return carn_tone_is_skin(tone) &&
           (subject == NULL || strcmp(carn_table_text(table, row, "subject"), subject) == 0) &&
           (frame == NULL || strcmp(carn_table_text(table, row, "frame"), frame) == 0);
}

static void take_verdict(const struct carn_table *table, size_t row, struct carn_result *result)
{
    enum carn_verdict verdict = carn_verdict_of(carn_table_text(table, row, "verdict"));
    double difference = carn_table_value(table, row, "ciede2000");
    if (verdict == CARN_HELD && difference > result->held_difference)
        result->held_difference = difference;
    if (verdict <= result->verdict)
        return;
    result->verdict = verdict;
    snprintf(result->words, sizeof result->words, "%s", carn_table_text(table, row, "words"));
    snprintf(result->flags, sizeof result->flags, "%s", carn_table_text(table, row, "flags"));
}

static bool is_middle(const struct carn_table *table, size_t row)
{
    return carn_tone_of(carn_table_text(table, row, "tone")) == CARN_TONE_MIDDLE;
}

void carn_result_of(const struct carn_table *table, const char *subject, const char *frame,
                    struct carn_result *result)
{
    size_t rows = carn_table_rows(table), served = 0, middle = 0;
    struct carn_error ignored = {0};
    double *v = carn_alloc(rows + 1, sizeof *v, &ignored);
    size_t *mine = carn_alloc(rows + 1, sizeof *mine, &ignored);
    *result = carn_result_none();
    for (size_t i = 0; mine != NULL && i < rows; i++)
        if (serves(table, i, subject, frame))
            mine[served++] = i;
    for (size_t i = 0; i < served; i++) {
        if (i == 0)
            snprintf(result->separation, sizeof result->separation, "%s",
                     carn_table_text(table, mine[i], "separation"));
        middle += is_middle(table, mine[i]);
        take_verdict(table, mine[i], result);
    }
    result->rows = served;
    for (int k = 0; v != NULL && k < CARN_RESULTS; k++) {
        size_t count = 0;
        for (size_t i = 0; i < served; i++) {
            if (middle > 0 && !is_middle(table, mine[i]))
                continue;
            v[count] = value_at(table, mine[i], (enum carn_result_value)k);
            count += !isnan(v[count]) ? 1 : 0;
        }
        if (count > 0)
            result->value[k] =
                k == CARN_RESULT_HUE ? carn_hue_median(v, count) : carn_median(v, count);
    }
    free(v);
    free(mine);
}

int carn_result_read(const char *path, const char *subject, struct carn_result *result,
                     struct carn_error *err)
{
    struct carn_table *table = carn_table_read(path, err);
    *result = carn_result_none();
    if (table == NULL)
        return -1;
    carn_result_of(table, subject, NULL, result);
    carn_table_close(table);
    return 0;
}

const char *const carn_depths[CARN_DEPTHS] = {"light", "medium", "deep"};

int carn_depth(double L)
{
    return L > 60 ? 0 : L >= 45 ? 1 : 2;
}

const char *carn_depth_of(double L)
{
    return isnan(L) ? "-" : carn_depths[carn_depth(L)];
}
