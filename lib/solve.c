#include "solve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Tones closer than this in L* are one: a move for each patch breaks the slope bound in more than
 * half of pairs of patches of one person (measured). */
static const double TONE_GAP = 10.0;

/* A cut of less than this, CIE76, is not worth telling. */
static const double CUT = 0.02;

static const char *const tones[] = {"light", "middle", "shade"};

static int compare(const void *a, const void *b)
{
    const double *x = a, *y = b;
    return *x < *y ? -1 : *x > *y;
}

static double median(double *v, size_t n)
{
    qsort(v, n, sizeof *v, compare);
    return n % 2 == 1 ? v[n / 2] : (v[n / 2 - 1] + v[n / 2]) / 2;
}

/* The median L*, a*, b* of the rows whose pick is true. */
static int pool(const struct carn_readings *readings, const bool *pick, struct carn_lab *lab,
                size_t *count, struct carn_error *err)
{
    double *v = carn_alloc(3 * readings->count, sizeof *v, err);
    if (v == NULL)
        return -1;
    double *a = v + readings->count, *b = a + readings->count;
    size_t n = 0;
    for (size_t i = 0; i < readings->count; i++) {
        if (!pick[i])
            continue;
        v[n] = readings->rows[i].lab.L;
        a[n] = readings->rows[i].lab.a;
        b[n++] = readings->rows[i].lab.b;
    }
    *count = n;
    if (n > 0)
        *lab = (struct carn_lab){median(v, n), median(a, n), median(b, n)};
    free(v);
    return 0;
}

/* ---- the card ---- */

int carn_solve_neutral(const struct carn_readings *readings, struct carn_solution *solution,
                       struct carn_error *err)
{
    *solution = (struct carn_solution){.count = 1, .why = {""}};
    bool *pick = carn_alloc(readings->count, sizeof *pick, err);
    if (pick == NULL)
        return -1;
    bool toned = false;
    for (size_t i = 0; i < readings->count; i++)
        toned = toned || strcmp(readings->rows[i].tone, "-") != 0;
    for (size_t i = 0; i < readings->count; i++)
        pick[i] = !toned || strcmp(readings->rows[i].tone, "card") == 0;
    struct carn_move *move = &solution->moves[0];
    int rc = pool(readings, pick, &move->from, &solution->readings[0], err);
    free(pick);
    if (rc == 0 && solution->readings[0] == 0)
        rc = carn_fail(err, "%s: no row of tone card", carn_table_label(readings->table));
    move->kind = CARN_NEUTRAL;
    move->to = (struct carn_lab){move->from.L, 0, 0};
    return rc;
}

/* ---- skin ---- */

/* Picks the rows to use: skin without doubts, or all skin when every row is doubtful. */
static int pick_skin(const struct carn_readings *readings, bool *pick, size_t *doubtful,
                     struct carn_error *err)
{
    size_t good = 0, skin = 0;
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        pick[i] = carn_reading_is_skin(r);
        skin += pick[i];
        good += pick[i] && (r->flags & CARN_DOUBTS) == 0;
    }
    if (skin == 0)
        return carn_fail(err, "%s: no reading of skin, only of card and backdrop",
                         carn_table_label(readings->table));
    *doubtful = skin - good;
    for (size_t i = 0; i < readings->count && good > 0; i++)
        pick[i] = pick[i] && (readings->rows[i].flags & CARN_DOUBTS) == 0;
    return 0;
}

/* Which tones become moves of their own: bit t of each group is tone t. Returns how many groups. */
static size_t group_tones(const struct carn_lab lab[CARN_TONES], const size_t count[CARN_TONES],
                          unsigned groups[CARN_TONES])
{
    size_t n = 0, last = 0;
    for (size_t t = 0; t < CARN_TONES; t++) {
        if (count[t] == 0)
            continue;
        if (n > 0 && lab[last].L - lab[t].L < TONE_GAP)
            groups[n - 1] |= 1U << t;
        else
            groups[n++] = 1U << t;
        last = t;
    }
    return n;
}

/* The from of every move. */
static int pool_tones(const struct carn_readings *readings, const bool *pick, bool *some,
                      struct carn_solution *s, struct carn_error *err)
{
    struct carn_lab lab[CARN_TONES];
    size_t count[CARN_TONES];
    unsigned groups[CARN_TONES] = {0};
    bool untoned = false;
    for (size_t i = 0; i < readings->count; i++)
        untoned = untoned || (pick[i] && strcmp(readings->rows[i].tone, "-") == 0);
    if (untoned) {
        s->count = 1;
        return pool(readings, pick, &s->moves[0].from, &s->readings[0], err);
    }
    for (size_t t = 0; t < CARN_TONES; t++) {
        for (size_t i = 0; i < readings->count; i++)
            some[i] = pick[i] && strcmp(readings->rows[i].tone, tones[t]) == 0;
        if (pool(readings, some, &lab[t], &count[t], err) != 0)
            return -1;
    }
    s->count = group_tones(lab, count, groups);
    for (size_t g = 0; g < s->count; g++) {
        for (size_t i = 0; i < readings->count; i++) {
            some[i] = false;
            for (size_t t = 0; t < CARN_TONES; t++)
                some[i] = some[i] || (pick[i] && (groups[g] & 1U << t) != 0 &&
                                      strcmp(readings->rows[i].tone, tones[t]) == 0);
        }
        if (pool(readings, some, &s->moves[g].from, &s->readings[g], err) != 0)
            return -1;
    }
    return 0;
}

static struct carn_lab part_way(struct carn_lab from, struct carn_lab to, double t)
{
    return (struct carn_lab){from.L + t * (to.L - from.L), from.a + t * (to.a - from.a),
                             from.b + t * (to.b - from.b)};
}

/* Cuts all moves by the largest share that gamut and slopes allow. */
static int cut_short(struct carn_solution *s, struct carn_profile *profile, struct carn_error *err)
{
    struct carn_move trial[CARN_TONES];
    const char *why = "", *reason = "";
    int rc = carn_curve_possible(s->moves, s->count, profile, &reason, err);
    if (rc <= 0)
        return rc;
    double low = 0, high = 1;
    for (int k = 0; k < 30; k++) {
        double t = (low + high) / 2;
        memcpy(trial, s->moves, sizeof trial);
        for (size_t i = 0; i < s->count; i++)
            trial[i].to = part_way(s->moves[i].from, s->moves[i].to, t);
        rc = carn_curve_possible(trial, s->count, profile, &why, err);
        if (rc < 0)
            return -1;
        if (rc == 0)
            low = t;
        else {
            high = t;
            reason = why;
        }
    }
    if (low == 0)
        return carn_fail(err,
                         "no curve of bounded slope can move this colour in this profile "
                         "(L* %.1f a* %.1f b* %.1f: %s)",
                         s->moves[0].from.L, s->moves[0].from.a, s->moves[0].from.b, reason);
    for (size_t i = 0; i < s->count; i++) {
        s->moves[i].to = part_way(s->moves[i].from, s->moves[i].to, low);
        s->why[i] = reason;
    }
    return 0;
}

int carn_solve_aim(const struct carn_readings *readings, const struct carn_aim *aim,
                   const struct carn_separation *separation, struct carn_profile *profile,
                   bool bound, struct carn_solution *s, struct carn_error *err)
{
    *s = (struct carn_solution){.why = {"", "", ""}};
    bool *pick = carn_alloc(readings->count, 2 * sizeof *pick, err);
    if (pick == NULL)
        return -1;
    int rc = pick_skin(readings, pick, &s->doubtful, err);
    if (rc == 0)
        rc = pool_tones(readings, pick, pick + readings->count, s, err);
    free(pick);
    struct carn_lab wanted[CARN_TONES] = {{0}};
    for (size_t i = 0; rc == 0 && i < s->count; i++) {
        struct carn_move *move = &s->moves[i];
        move->kind = CARN_MOVE;
        rc = carn_aim_colour(aim, separation, move->from, &wanted[i], NULL, err);
        if (rc == 0) {
            move->to = bound ? carn_aim_bound(move->from, wanted[i]) : wanted[i];
            s->why[i] = carn_cie76(move->to, wanted[i]) > CUT ? "bound" : "";
        }
    }
    if (rc == 0)
        rc = cut_short(s, profile, err);
    for (size_t i = 0; rc == 0 && i < s->count; i++) {
        s->moves[i].cut = carn_cie76(s->moves[i].to, wanted[i]) > CUT;
        s->moves[i].asked = wanted[i];
    }
    return rc;
}
