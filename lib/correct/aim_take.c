#include "correct/aim_take.h"

#include "base/order.h"
#include "correct/pair.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The least that counts as on in a* and b*, either way (common practice, no source). */
static const double LEAST = 2;

/* ---- which rows ---- */

static bool is_skin(const struct carn_reading *r, const void *doubts)
{
    return carn_reading_is_skin(r) && (r->flags & *(const unsigned *)doubts) == 0;
}

int carn_take_skin(const struct carn_readings *readings, struct carn_readings *skin,
                   struct carn_error *err)
{
    static const unsigned doubts[] = {CARN_DOUBTS, CARN_NOT_SKIN};
    for (size_t i = 0; i < 2; i++) {
        if (carn_readings_pick(readings, is_skin, &doubts[i], skin, err) != 0)
            return -1;
        if (skin->count > 0)
            return 0;
        free(skin->rows);
    }
    *skin = (struct carn_readings){0};
    return carn_fail_at(err, CARN_INPUT, carn_table_label(readings->table), "no reading of skin");
}

/* ---- tones ---- */

static int lighter_first(const void *a, const void *b)
{
    const struct carn_taken *x = a, *y = b;
    if (x->colour.L > y->colour.L || x->colour.L < y->colour.L)
        return x->colour.L > y->colour.L ? -1 : 1;
    return strcmp(carn_tone_word(x->tone), carn_tone_word(y->tone));
}

/* As the table will have it. */
static double rounded(double v)
{
    return rint(v * 1e4) / 1e4;
}

/* To the next tenth over the farthest row, so that the picture is on its own aim. */
static void find_reach(const struct carn_readings *skin, struct carn_taken *taken)
{
    taken->reach[0] = taken->reach[1] = LEAST;
    for (size_t i = 0; i < skin->count; i++) {
        const struct carn_reading *r = &skin->rows[i];
        if (strcmp(r->tone, carn_tone_word(taken->tone)) != 0)
            continue;
        const double far[2] = {fabs(r->lab.a - taken->colour.a), fabs(r->lab.b - taken->colour.b)};
        for (size_t k = 0; k < 2; k++)
            if (far[k] > taken->reach[k])
                taken->reach[k] = floor(far[k] * 10 + 1) / 10;
    }
}

int carn_take_tones(const struct carn_readings *skin, struct carn_taken taken[CARN_TAKEN],
                    size_t *count, struct carn_error *err)
{
    static const enum carn_tone tones[CARN_TAKEN] = {CARN_UNTONED, CARN_TONE_LIGHT,
                                                     CARN_TONE_MIDDLE, CARN_TONE_SHADE};
    struct carn_pairs pairs = {0};
    *count = 0;
    /* With themselves, so that rows of one patch are pooled. */
    if (carn_pairs_make(skin, skin, false, &pairs, err) != 0)
        return -1;
    for (size_t t = 0; t < CARN_TAKEN; t++) {
        struct carn_lab mean, same;
        if (carn_pairs_mean(&pairs, tones[t], &mean, &same) == 0)
            continue;
        struct carn_taken *one = &taken[(*count)++];
        *one = (struct carn_taken){.tone = tones[t],
                                   .colour = {rounded(mean.L), rounded(mean.a), rounded(mean.b)}};
        find_reach(skin, one);
    }
    carn_pairs_clear(&pairs);
    qsort(taken, *count, sizeof *taken, lighter_first);
    return *count > 0 ? 0
                      : carn_fail_at(err, CARN_INPUT, carn_table_label(skin->table),
                                     "no reading of skin of tone light, middle, shade or -");
}

/* ---- ratios ---- */

int carn_take_ratios(const struct carn_readings *skin, double *magenta_by_cyan,
                     double *yellow_by_magenta, struct carn_error *err)
{
    static const char *const inks_read[] = {"cyan", "magenta", "yellow"};
    for (size_t i = 0; i < 3; i++)
        if (carn_table_need(skin->table, inks_read[i], err) < 0)
            return -1;
    double *ratios = carn_alloc(2 * skin->count, sizeof *ratios, err);
    size_t n = 0;
    if (ratios == NULL)
        return -1;
    for (size_t i = 0; i < skin->count; i++) {
        const struct carn_inks *inks = &skin->rows[i].inks;
        if (!(inks->cyan > 0 && inks->magenta > 0) || isnan(inks->yellow))
            continue;
        ratios[n] = inks->magenta / inks->cyan;
        ratios[skin->count + n++] = inks->yellow / inks->magenta;
    }
    if (n > 0) {
        *magenta_by_cyan = carn_median(ratios, n);
        *yellow_by_magenta = carn_median(ratios + skin->count, n);
    }
    free(ratios);
    return n > 0 ? 0
                 : carn_fail_at(err, CARN_INPUT, carn_table_label(skin->table),
                                "no row with cyan, magenta and yellow");
}
