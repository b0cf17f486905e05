#include "correct/solve.h"

#include "base/order.h"
#include "base/tone.h"
#include "colour/matrix.h"
#include "correct/aim_colour.h"
#include "correct/channels.h"
#include "correct/correction.h"
#include "correct/pool.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Tones closer than this in L* to the lightest of a move are part of it. Apart, noise of the
 * readings would be steep; but deep skin has its three tones within 12 L*, so that 10 would leave
 * it a single move and twice the difference (measured; docs/colour.md 9). */
static const double TONE_GAP = 5.0;

/* Of turns, light and shade closer than this in L* to the middle have its turn. */
static const double TURN_GAP = 2.0;

/* Weight of the change of slope against the distance to the wanted value; both of encoded 0..1. */
static const double SMOOTH = 1e-4;

enum { ALL_TONES = 15 }; /* of a set of 1 << enum carn_tone */

/* One colour to move; to only where it is to follow another. */
struct sample {
    struct carn_lab from, to;
    enum carn_tone tone;
    size_t rows;
};

/* ---- the card ---- */

int carn_solve_neutral(const struct carn_readings *readings, struct carn_solution *solution,
                       struct carn_error *err)
{
    *solution = (struct carn_solution){.count = 1};
    bool *pick = carn_alloc(readings->count, sizeof *pick, err);
    if (pick == NULL)
        return -1;
    bool toned = false;
    for (size_t i = 0; i < readings->count; i++)
        toned = toned || strcmp(readings->rows[i].tone, "-") != 0;
    for (size_t i = 0; i < readings->count; i++)
        pick[i] = !toned || carn_tone_of(readings->rows[i].tone) == CARN_TONE_CARD;
    struct carn_move *move = &solution->moves[0];
    int rc = carn_pool(readings, pick, &move->from, &solution->readings[0], err);
    free(pick);
    if (rc == 0 && solution->readings[0] == 0)
        rc =
            carn_fail_at(err, CARN_INPUT, carn_table_label(readings->table), "no row of tone card");
    move->kind = CARN_NEUTRAL;
    move->to = (struct carn_lab){move->from.L, 0, 0};
    return rc;
}

/* ---- which colours become one move ---- */

/* The medians of the samples whose tones are in the set; returns how many rows they stand for. */
static size_t pool(const struct sample *samples, size_t count, unsigned set, double *scratch,
                   struct carn_lab *from, struct carn_lab *to)
{
    size_t n = 0, rows = 0;
    for (size_t i = 0; i < count; i++) {
        const struct sample *s = &samples[i];
        if ((set & 1U << s->tone) == 0)
            continue;
        const double v[6] = {s->from.L, s->from.a, s->from.b, s->to.L, s->to.a, s->to.b};
        for (size_t k = 0; k < 6; k++)
            scratch[k * count + n] = v[k];
        rows += s->rows;
        n++;
    }
    if (n == 0)
        return 0;
    double m[6];
    for (size_t k = 0; k < 6; k++)
        m[k] = carn_median(scratch + k * count, n);
    *from = (struct carn_lab){m[0], m[1], m[2]};
    *to = (struct carn_lab){m[3], m[4], m[5]};
    return rows;
}

/* Fills from, to and readings of the moves, light first. */
static int pool_tones(const struct sample *samples, size_t count, struct carn_solution *s,
                      struct carn_error *err)
{
    double *scratch = carn_alloc(6 * count, sizeof *scratch, err);
    if (scratch == NULL)
        return -1;
    unsigned sets[CARN_TONES] = {ALL_TONES}, have = 0;
    for (size_t i = 0; i < count; i++)
        have |= 1U << samples[i].tone;
    s->count = 1;
    if ((have & 1U << CARN_UNTONED) == 0) {
        double lightest = 0;
        s->count = 0;
        for (unsigned t = 0; t < CARN_TONES; t++) {
            struct carn_lab from, to;
            if (pool(samples, count, 1U << t, scratch, &from, &to) == 0)
                continue;
            if (s->count > 0 && lightest - from.L < TONE_GAP)
                sets[s->count - 1] |= 1U << t;
            else {
                sets[s->count++] = 1U << t;
                lightest = from.L;
            }
        }
    }
    for (size_t g = 0; g < s->count; g++) {
        struct carn_move *m = &s->moves[g];
        m->kind = CARN_MOVE;
        s->readings[g] = pool(samples, count, sets[g], scratch, &m->from, &m->to);
    }
    free(scratch);
    return 0;
}

/* Skin without doubts, or all skin when every row is doubtful, but never what has not the colour of
 * skin; *count of samples. */
static struct sample *skin_samples(const struct carn_readings *readings, size_t *count,
                                   struct carn_solution *s, struct carn_error *err)
{
    struct sample *samples = carn_alloc(readings->count, sizeof *samples, err);
    size_t good = 0, skin = 0, n = 0;
    if (samples == NULL)
        return NULL;
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        skin += carn_reading_is_skin(r);
        good += carn_reading_is_skin(r) && (r->flags & CARN_DOUBTS) == 0;
    }
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        if (carn_reading_is_skin(r) && (r->flags & (good == 0 ? CARN_NOT_SKIN : CARN_DOUBTS)) == 0)
            samples[n++] = (struct sample){r->lab, {0, 0, 0}, carn_tone_of_face(r->tone), 1};
    }
    *count = n;
    s->doubtful = skin - good;
    s->all_doubtful = good == 0;
    if (n > 0)
        return samples;
    carn_fail_at(err, CARN_INPUT, carn_table_label(readings->table),
                 skin == 0 ? "no reading of skin, only of card and backdrop"
                           : "no reading has the colour of skin");
    free(samples);
    return NULL;
}

/* ---- one move or turn: cut short ---- */

static struct carn_lab part_way(struct carn_lab from, struct carn_lab to, double t)
{
    return (struct carn_lab){from.L + t * (to.L - from.L), from.a + t * (to.a - from.a),
                             from.b + t * (to.b - from.b)};
}

/* The largest share of move i that gamut, and slopes or turns, allow. */
static int cut_short(struct carn_solution *s, size_t i, struct carn_profile *profile,
                     struct carn_error *err)
{
    struct carn_move *move = &s->moves[i];
    enum carn_limit limit, reason;
    int rc = carn_curve_possible(move, 1, profile, &reason, err);
    if (rc <= 0)
        return rc;
    double low = 0, high = 1;
    for (int k = 0; k < 30; k++) {
        struct carn_move trial = *move;
        double t = (low + high) / 2;
        trial.to = part_way(move->from, move->to, t);
        rc = carn_curve_possible(&trial, 1, profile, &limit, err);
        if (rc < 0)
            return -1;
        if (rc == 0) {
            low = t;
        } else {
            high = t;
            reason = limit;
        }
    }
    if (low == 0)
        return carn_fail(err, CARN_NUMERIC,
                         "no %s can move this colour in this profile (L* %.1f a* %.1f b* %.1f: %s)",
                         move->kind == CARN_TURN ? "turn" : "curve of bounded slope", move->from.L,
                         move->from.a, move->from.b, carn_limit_word(reason));
    move->to = part_way(move->from, move->to, low);
    s->limit[i] = reason;
    return 0;
}

/* ---- several moves: least squares in each channel ---- */

/*
 * One channel: y for the wanted values at x (falling, as light comes first). The change of slope at
 * point i is a[i] y[i-1] + b[i] y[i] + c[i] y[i+1], where the ends of the curve are (0,0), (1,1).
 */
static void smooth_channel(const double *x, const double *wanted, size_t n, double weight,
                           double *y)
{
    double m[CARN_TONES][CARN_TONES] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, r[CARN_TONES] = {0};
    for (size_t i = 0; i < n; i++)
        r[i] = wanted[i];
    for (size_t i = 0; i < n; i++) {
        double above = i == 0 ? 1 : x[i - 1], below = i + 1 == n ? 0 : x[i + 1];
        double up = 1 / (above - x[i]), down = 1 / (x[i] - below);
        double row[CARN_TONES] = {0}, fixed = i == 0 ? up : 0; /* the end at (1,1) */
        row[i] = -up - down;
        if (i > 0)
            row[i - 1] = up;
        if (i + 1 < n)
            row[i + 1] = down;
        for (size_t j = 0; j < n; j++) {
            r[j] -= weight * row[j] * fixed;
            for (size_t k = 0; k < n; k++)
                m[j][k] += weight * row[j] * row[k];
        }
    }
    double solved[CARN_TONES];
    (void)carn_matrix_solve(m, r, 0, solved); /* ones and squares: positive definite */
    for (size_t i = 0; i < n; i++)
        y[i] = solved[i];
}

/* Joins moves i and i + 1, whose values a curve cannot tell apart. */
static void join_moves(struct carn_solution *s, size_t i, struct carn_lab *wanted)
{
    struct carn_move *a = &s->moves[i], *b = &s->moves[i + 1];
    a->from = part_way(a->from, b->from, 0.5);
    a->to = part_way(a->to, b->to, 0.5);
    wanted[i] = part_way(wanted[i], wanted[i + 1], 0.5);
    s->readings[i] += s->readings[i + 1];
    s->count--;
    for (size_t k = i + 1; k < s->count; k++) {
        s->moves[k] = s->moves[k + 1];
        wanted[k] = wanted[k + 1];
        s->readings[k] = s->readings[k + 1];
        s->limit[k] = s->limit[k + 1];
    }
}

/* Encoded from and to of the moves, channel by channel; 1 + i when moves i and i + 1 are too close
 * or out of order in a channel, 0 when all is well. */
static int encode_moves(const struct carn_solution *s, struct carn_profile *profile,
                        double from[3][CARN_TONES], double to[3][CARN_TONES],
                        struct carn_error *err)
{
    for (size_t i = 0; i < s->count; i++) {
        double f[3], t[3];
        if (carn_profile_from_lab(profile, s->moves[i].from, f, err) != 0 ||
            carn_profile_from_lab(profile, s->moves[i].to, t, err) != 0)
            return -1;
        for (size_t c = 0; c < 3; c++) {
            from[c][i] = f[c];
            to[c][i] = t[c];
        }
    }
    for (size_t c = 0; c < 3; c++)
        for (size_t i = 0; i + 1 < s->count; i++)
            if (from[c][i] - from[c][i + 1] < CARN_CLOSE)
                return 1 + (int)i;
    return 0;
}

/* Smooths until the curves are possible: the smoother, the nearer to leaving all as it is. */
static int fit(struct carn_solution *s, struct carn_profile *profile, struct carn_error *err)
{
    double from[3][CARN_TONES] = {{0}}, to[3][CARN_TONES] = {{0}};
    if (encode_moves(s, profile, from, to, err) < 0)
        return -1;
    enum carn_limit limit = CARN_NO_LIMIT;
    double weight = SMOOTH;
    for (int doubled = 0; doubled < 34; doubled++, weight *= 2) {
        struct carn_move trial[CARN_TONES];
        double y[3][CARN_TONES];
        for (size_t c = 0; c < 3; c++)
            smooth_channel(from[c], to[c], s->count, weight, y[c]);
        memcpy(trial, s->moves, sizeof trial);
        for (size_t i = 0; i < s->count; i++) {
            double rgb[3] = {y[0][i], y[1][i], y[2][i]};
            carn_profile_to_lab(profile, rgb, &trial[i].to, 1);
        }
        int rc = carn_curve_possible(trial, s->count, profile, &limit, err);
        if (rc < 0)
            return -1;
        if (rc > 0)
            continue;
        for (size_t i = 0; i < s->count; i++) {
            s->moves[i].to = trial[i].to;
            if (doubled > 0)
                s->limit[i] = CARN_LIMIT_SLOPE;
        }
        return 0;
    }
    return carn_fail(err, CARN_NUMERIC,
                     "no curve of bounded slope can move these colours in this profile (%s)",
                     carn_limit_word(limit));
}

/* ---- moves and turns ---- */

/* Makes the moves possible; wanted is where each should go, what moves[].to says how far it may. */
static int settle(struct carn_solution *s, struct carn_lab *wanted, struct carn_profile *profile,
                  struct carn_error *err)
{
    double from[3][CARN_TONES] = {{0}}, to[3][CARN_TONES] = {{0}};
    bool turns = s->moves[0].kind == CARN_TURN;
    int close = 0;
    while (!turns && s->count > 1 && (close = encode_moves(s, profile, from, to, err)) > 0)
        join_moves(s, (size_t)close - 1, wanted);
    if (close < 0)
        return -1;
    if (!turns && s->count > 1 && fit(s, profile, err) != 0)
        return -1;
    for (size_t i = 0; (turns || s->count == 1) && i < s->count; i++)
        if (cut_short(s, i, profile, err) != 0)
            return -1;
    for (size_t i = 0; i < s->count; i++) {
        s->residual[i] = carn_ciede2000(s->moves[i].to, wanted[i]).total;
        s->moves[i].cut =
            s->limit[i] != CARN_NO_LIMIT && carn_cie76(s->moves[i].to, wanted[i]) > CARN_CUT;
        s->moves[i].asked = wanted[i];
    }
    return 0;
}

/* Bounds move i, of this tone, on its way to the aim; *wanted is where the aim has it. */
static int aim_move(struct carn_solution *s, size_t i, const struct carn_aim *aim,
                    enum carn_tone tone, const struct carn_separation *separation, bool bound,
                    struct carn_lab *wanted, struct carn_error *err)
{
    struct carn_move *move = &s->moves[i];
    struct carn_lab colour;
    if (carn_aim_colour(aim, separation, tone, move->from, &colour, NULL, err) != 0)
        return -1;
    struct carn_aim_values at = carn_aim_at(aim, tone, colour.L);
    (void)carn_aim_is_short(&at, colour, wanted);
    move->to = bound ? carn_aim_bound(aim, tone, move->from, colour) : colour;
    s->limit[i] = carn_cie76(move->to, *wanted) > CARN_CUT ? CARN_LIMIT_BOUND : CARN_NO_LIMIT;
    return 0;
}

/* The rows that stand for the middle: those of tone middle, else those without a tone, else all. */
static unsigned middle_set(unsigned have)
{
    if ((have & 1U << CARN_TONE_MIDDLE) != 0)
        return 1U << CARN_TONE_MIDDLE;
    return (have & 1U << CARN_UNTONED) != 0 ? 1U << CARN_UNTONED : ALL_TONES;
}

/*
 * Fills from, to and readings of turns: the middle, and, where each tone is to have its own, light
 * and shade that lie apart from it. tones[i] of turn i; light first.
 */
static int pool_turns(const struct sample *samples, size_t count, bool each,
                      struct carn_solution *s, enum carn_tone *tones, struct carn_error *err)
{
    double *scratch = carn_alloc(6 * count, sizeof *scratch, err);
    if (scratch == NULL)
        return -1;
    unsigned have = 0;
    for (size_t i = 0; i < count; i++)
        have |= 1U << samples[i].tone;
    struct carn_lab middle = {0}, to = {0};
    pool(samples, count, middle_set(have), scratch, &middle, &to);
    s->count = 0;
    for (enum carn_tone t = CARN_TONE_LIGHT; t <= CARN_TONE_SHADE; t++) {
        struct carn_move m = {.kind = CARN_TURN};
        bool own = t != CARN_TONE_MIDDLE;
        unsigned set = own ? 1U << t : middle_set(have);
        if (own && !each)
            continue;
        size_t rows = pool(samples, count, set, scratch, &m.from, &m.to);
        if (rows == 0 || (own && fabs(m.from.L - middle.L) < TURN_GAP))
            continue;
        s->readings[s->count] = rows;
        tones[s->count] = t;
        s->moves[s->count++] = m;
    }
    free(scratch);
    return 0;
}

/* Does the aim say something of its own of each tone? */
static bool is_by_tone(const struct carn_aim *aim)
{
    return carn_aim_has_tone(aim, CARN_TONE_LIGHT) || carn_aim_has_tone(aim, CARN_TONE_SHADE);
}

int carn_solve_aim(const struct carn_readings *readings, const struct carn_aim *aim,
                   const struct carn_separation *separation, struct carn_profile *profile,
                   bool bound, bool whole, struct carn_solution *s, struct carn_error *err)
{
    *s = (struct carn_solution){0};
    size_t count = 0;
    enum carn_tone tones[CARN_TONES] = {CARN_UNTONED, CARN_UNTONED, CARN_UNTONED};
    struct sample *samples = skin_samples(readings, &count, s, err);
    int rc = samples == NULL ? -1
             : whole         ? pool_tones(samples, count, s, err)
                             : pool_turns(samples, count, is_by_tone(aim), s, tones, err);
    free(samples);
    struct carn_lab wanted[CARN_TONES] = {{0}};
    for (size_t i = 0; rc == 0 && i < s->count && i < CARN_TONES; i++)
        rc = aim_move(s, i, aim, tones[i], separation, bound, &wanted[i], err);
    return rc == 0 ? settle(s, wanted, profile, err) : -1;
}

/* Of pairs, what the correction is for: skin; or, for the whole picture, card and backdrop if both
 * tables have them. */
static size_t pair_samples(const struct carn_pairs *pairs, bool whole, struct sample *samples)
{
    bool greys = false;
    size_t count = 0;
    for (size_t i = 0; i < pairs->whole; i++)
        greys = greys || (whole && !carn_tone_is_skin(pairs->pairs[i].tone));
    for (size_t i = 0; i < pairs->whole; i++) {
        const struct carn_pair *p = &pairs->pairs[i];
        if (carn_tone_is_skin(p->tone) != greys)
            samples[count++] =
                (struct sample){p->first, p->second, carn_tone_of_face(p->tone), p->first_rows};
    }
    return count;
}

int carn_solve_follow(const struct carn_pairs *pairs, struct carn_profile *profile, bool bound,
                      bool tone, bool whole, struct carn_solution *s, struct carn_error *err)
{
    *s = (struct carn_solution){0};
    enum carn_tone tones[CARN_TONES];
    struct sample *samples = carn_alloc(pairs->whole, sizeof *samples, err);
    if (samples == NULL)
        return -1;
    size_t count = pair_samples(pairs, whole, samples);
    int rc = count == 0
                 ? carn_fail(err, CARN_INPUT, "only card and backdrop are in both tables, no skin")
             : whole || tone ? pool_tones(samples, count, s, err)
                             : pool_turns(samples, count, true, s, tones, err);
    free(samples);
    struct carn_lab wanted[CARN_TONES] = {{0}};
    for (size_t i = 0; rc == 0 && i < s->count; i++) {
        struct carn_move *move = &s->moves[i];
        wanted[i] = move->to;
        if (!tone)
            wanted[i].L = move->from.L;
        move->to = wanted[i];
        if (bound) {
            move->to = carn_aim_bound(NULL, CARN_TONE_MIDDLE, move->from, wanted[i]);
            move->to.L = wanted[i].L;
        }
        s->limit[i] = carn_cie76(move->to, wanted[i]) > CARN_CUT ? CARN_LIMIT_BOUND : CARN_NO_LIMIT;
    }
    return rc == 0 ? settle(s, wanted, profile, err) : -1;
}

int carn_solve_weaken(struct carn_solution *s, double strength, struct carn_profile *profile,
                      struct carn_error *err)
{
    enum carn_limit limit = CARN_NO_LIMIT;
    if (strength >= 1)
        return 0;
    for (size_t i = 0; i < s->count; i++) {
        struct carn_move *m = &s->moves[i];
        m->to = part_way(m->from, m->to, strength);
        s->residual[i] = carn_ciede2000(m->to, m->asked).total;
        s->limit[i] = CARN_LIMIT_STRENGTH;
        m->cut = carn_cie76(m->to, m->asked) > CARN_CUT;
    }
    int rc = carn_curve_possible(s->moves, s->count, profile, &limit, err);
    return rc > 0 ? carn_fail(err, CARN_NUMERIC,
                              "at a strength of %g no curve of bounded slope is left (%s)",
                              strength, carn_limit_word(limit))
                  : rc;
}
