#include "correct/turn.h"

#include "base/clones.h"
#include "correct/turn_way.h"
#include "frame/alpha.h"
#include "frame/keys.h"

#include <complex.h>
#include <stdlib.h>
#include <string.h>

struct carn_turn {
    struct carn_profile *profile;
    struct carn_turn_matrix *matrix; /* NULL: through lcms2 */
    struct carn_turn_runs runs;
    /* What is being worked on: pixels of the row, their colours, and their weights. */
    size_t at[CARN_TURN_CHUNK];
    uint16_t rgb[CARN_TURN_CHUNK][3];
    float weight[CARN_TURN_CHUNK];
};

struct carn_turn *carn_turn_open(struct carn_profile *profile, struct carn_error *err)
{
    struct carn_turn *turn = carn_alloc(1, sizeof *turn, err);
    if (turn == NULL)
        return NULL;
    turn->profile = profile;
    if (carn_turn_matrix_open(profile, &turn->matrix, err) < 0) {
        carn_turn_close(turn);
        return NULL;
    }
    return turn;
}

void carn_turn_close(struct carn_turn *turn)
{
    if (turn == NULL)
        return;
    carn_turn_matrix_close(turn->matrix);
    free(turn->runs.run);
    free(turn);
}

/* ---- ratios ---- */

static int compare_lightness(const void *a, const void *b)
{
    const struct carn_turn_at *p = a, *q = b;
    return p->from.L < q->from.L ? -1 : p->from.L > q->from.L;
}

static double complex ratio_of(const struct carn_turn_at *at)
{
    return (at->to.a + at->to.b * I) / (at->from.a + at->from.b * I);
}

int carn_turn_add(struct carn_turn *turn, const struct carn_turn_at *at, size_t count,
                  struct carn_error *err)
{
    struct carn_turn_at sorted[CARN_TURNS];
    struct carn_turn_run *runs =
        carn_grow(turn->runs.run, turn->runs.count + 1, sizeof *turn->runs.run, err);
    if (runs == NULL)
        return -1;
    turn->runs.run = runs;
    struct carn_turn_run *run = &runs[turn->runs.count++];
    memcpy(sorted, at, count * sizeof *at);
    qsort(sorted, count, sizeof *sorted, compare_lightness);
    run->re = (float)creal(ratio_of(&sorted[0]));
    run->im = (float)cimag(ratio_of(&sorted[0]));
    run->count = count - 1;
    for (size_t i = 0; i + 1 < count; i++) {
        double complex more = ratio_of(&sorted[i + 1]) - ratio_of(&sorted[i]);
        run->stretch[i] = (struct carn_turn_stretch){
            .from = (float)((sorted[i].from.L + 16) / 116),
            .length = (float)((sorted[i + 1].from.L - sorted[i].from.L) / 116),
            .re = (float)creal(more),
            .im = (float)cimag(more)};
    }
    return 0;
}

CARN_CLONES static void add_stretch(const struct carn_turn_stretch *s, const float *f, float *re,
                                    float *im, size_t count)
{
    float per = 1 / s->length;
    for (size_t i = 0; i < count; i++) {
        float t = (f[i] - s->from) * per;
        t = t > 0 ? t : 0;
        t = t < 1 ? t : 1;
        re[i] += t * s->re;
        im[i] += t * s->im;
    }
}

CARN_CLONES void carn_turn_ratios(const struct carn_turn_runs *runs, const float *f,
                                  const float *weight, float *re, float *im, size_t count)
{
    float r[CARN_TURN_CHUNK], j[CARN_TURN_CHUNK];
    for (size_t i = 0; i < count; i++) {
        re[i] = 1;
        im[i] = 0;
    }
    for (size_t k = 0; k < runs->count; k++) {
        const struct carn_turn_run *run = &runs->run[k];
        for (size_t i = 0; i < count; i++) {
            r[i] = run->re;
            j[i] = run->im;
        }
        for (size_t s = 0; s < run->count; s++)
            add_stretch(&run->stretch[s], f, r, j, count);
        for (size_t i = 0; i < count; i++) {
            float real = re[i] * r[i] - im[i] * j[i];
            im[i] = re[i] * j[i] + im[i] * r[i];
            re[i] = real;
        }
    }
    for (size_t i = 0; i < count; i++) {
        re[i] = 1 + weight[i] * (re[i] - 1);
        im[i] = weight[i] * im[i];
    }
}

/* ---- rows ---- */

/* Turns the count pixels gathered in turn and puts them back to their places in the row. */
static void turn_chunk(struct carn_turn *turn, size_t count, bool associated, uint16_t *row)
{
    if (turn->matrix != NULL)
        carn_turn_by_matrix(turn->matrix, &turn->runs, turn->rgb, turn->weight, count);
    else
        carn_turn_by_profile(turn->profile, &turn->runs, turn->rgb, turn->weight, count);
    for (size_t i = 0; i < count; i++) {
        uint16_t *pixel = row + turn->at[i];
        for (size_t c = 0; c < 3; c++)
            pixel[c] =
                associated ? carn_alpha_multiply(turn->rgb[i][c], pixel[3]) : turn->rgb[i][c];
    }
}

void carn_turn_row(struct carn_turn *turn, const struct carn_frame *frame, uint16_t *row)
{
    bool associated = carn_frame_associated(frame);
    size_t step = carn_frame_channels(frame), samples = frame->width * step, count = 0;
    for (size_t at = 0; at < samples; at += step) {
        const uint16_t *pixel = row + at;
        uint16_t weight = frame->weight ? pixel[step - 1] : 65535;
        if (weight == 0 || (associated && pixel[3] == 0))
            continue;
        turn->at[count] = at;
        turn->weight[count] = (float)weight / 65535;
        for (size_t c = 0; c < 3; c++)
            turn->rgb[count][c] = associated ? carn_alpha_divide(pixel[c], pixel[3]) : pixel[c];
        if (++count == CARN_TURN_CHUNK) {
            turn_chunk(turn, count, associated, row);
            count = 0;
        }
    }
    turn_chunk(turn, count, associated, row);
}
