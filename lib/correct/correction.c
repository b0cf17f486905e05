#include "correct/correction.h"

#include "correct/turn.h"
#include "frame/lut.h"

#include <math.h>
#include <stdlib.h>

/* ---- what can be made ---- */

/* Of turns: 1 with the limit when one cannot be made. */
static int turns_possible(const struct carn_move *moves, size_t count, struct carn_profile *profile,
                          enum carn_limit *limit, struct carn_error *err)
{
    for (size_t i = 0; i < count; i++) {
        const struct carn_move *m = &moves[i];
        double rgb[2][3];
        if (m->kind != CARN_TURN)
            continue;
        double from = carn_chroma(m->from);
        *limit = from < CARN_TURN_CHROMA ? CARN_LIMIT_GREY : CARN_LIMIT_CHROMA;
        if (from < CARN_TURN_CHROMA || carn_chroma(m->to) > CARN_TURN_GAIN * from)
            return 1;
        if (carn_profile_from_lab(profile, m->from, rgb[0], err) != 0 ||
            carn_profile_from_lab(profile, m->to, rgb[1], err) != 0)
            return -1;
        *limit = CARN_LIMIT_GAMUT;
        for (size_t c = 0; c < 6; c++)
            if (!(rgb[c / 3][c % 3] > 0 && rgb[c / 3][c % 3] < 1))
                return 1;
        *limit = CARN_LIMIT_TONES;
        for (size_t k = 0; k < i; k++)
            if (moves[k].kind == CARN_TURN && fabs(moves[k].from.L - m->from.L) < CARN_TURN_APART)
                return 1;
    }
    return 0;
}

int carn_curve_possible(const struct carn_move *moves, size_t count, struct carn_profile *profile,
                        enum carn_limit *limit, struct carn_error *err)
{
    int rc = turns_possible(moves, count, profile, limit, err);
    return rc != 0 ? rc : carn_channels_possible(moves, count, profile, limit, err);
}

/* ---- making it ---- */

/* One of both. */
struct step {
    struct carn_lut *lut;
    struct carn_turn *turn;
};

struct carn_correction {
    size_t count;
    struct step *steps;
};

/* Rows of one curve that follow one another and are turns, or are none: a curve of their own, whose
 * moves stay the whole one's. */
static size_t cut_run(const struct carn_curve *curve, size_t from, struct carn_curve *run)
{
    size_t to = from;
    while (to < curve->count &&
           (curve->moves[to].kind == CARN_TURN) == (curve->moves[from].kind == CARN_TURN))
        to++;
    *run = (struct carn_curve){curve->label, to - from, curve->moves + from};
    return to;
}

static bool is_turn(const struct carn_curve *run)
{
    return run->moves[0].kind == CARN_TURN;
}

static int add_turns(struct carn_turn *turn, const struct carn_curve *run, struct carn_error *err)
{
    struct carn_turn_at at[CARN_TURNS];
    if (run->count > CARN_TURNS)
        return carn_fail_at(err, CARN_INPUT, run->label, "more than %d turns", CARN_TURNS);
    for (size_t i = 0; i < run->count; i++)
        at[i] = (struct carn_turn_at){run->moves[i].from, run->moves[i].to};
    return carn_turn_add(turn, at, run->count, err);
}

/* The first runs that are alike become one step; returns how many, or 0 with a message. */
static size_t make_step(const struct carn_curve *runs, size_t count, struct carn_profile *profile,
                        struct step *step, struct carn_gains *gains, struct carn_error *err)
{
    size_t alike = 1;
    while (alike < count && is_turn(&runs[alike]) == is_turn(&runs[0]))
        alike++;
    if (!is_turn(&runs[0])) {
        step->lut = carn_alloc(1, sizeof *step->lut, err);
        int rc = step->lut != NULL
                     ? carn_channels_compose(runs, alike, profile, step->lut, gains, err)
                     : -1;
        return rc == 0 ? alike : 0;
    }
    step->turn = carn_turn_open(profile, err);
    for (size_t i = 0; i < alike; i++)
        if (step->turn == NULL || add_turns(step->turn, &runs[i], err) != 0)
            return 0;
    return alike;
}

struct carn_correction *carn_correction_open(const struct carn_curve *curves, size_t count,
                                             struct carn_profile *profile, struct carn_gains *gains,
                                             struct carn_error *err)
{
    size_t rows = 0, runs = 0;
    for (size_t i = 0; i < count; i++)
        rows += curves[i].count;
    struct carn_correction *correction = carn_alloc(1, sizeof *correction, err);
    struct carn_curve *run = carn_alloc(rows + 1, sizeof *run, err);
    if (correction != NULL)
        correction->steps = carn_alloc(rows + 1, sizeof *correction->steps, err);
    bool good = run != NULL && correction != NULL && correction->steps != NULL;
    for (size_t i = 0; good && i < count; i++)
        for (size_t at = 0; at < curves[i].count;)
            at = cut_run(&curves[i], at, &run[runs++]);
    *gains = (struct carn_gains){0};
    for (size_t i = 0; good && i < runs;) {
        size_t taken = make_step(run + i, runs - i, profile,
                                 &correction->steps[correction->count++], gains, err);
        good = taken > 0;
        i += taken;
    }
    free(run);
    if (good)
        return correction;
    carn_correction_close(correction);
    return NULL;
}

void carn_correction_close(struct carn_correction *correction)
{
    if (correction == NULL)
        return;
    for (size_t i = 0; i < correction->count; i++) {
        free(correction->steps[i].lut);
        carn_turn_close(correction->steps[i].turn);
    }
    free(correction->steps);
    free(correction);
}

void carn_correction_row(struct carn_correction *correction, const struct carn_frame *frame,
                         uint16_t *row)
{
    for (size_t i = 0; i < correction->count; i++) {
        if (correction->steps[i].turn != NULL)
            carn_turn_row(correction->steps[i].turn, frame, row);
        else
            carn_lut_row(correction->steps[i].lut, frame, row);
    }
}
