#include "correct/scored.h"

#include "correct/aim_table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- judging ---- */

/* The aim that judges this row; NULL with a message. Opened once a name. */
static const struct carn_aim *find_aim(struct carn_scored *scored, const struct carn_judges *by,
                                       const struct carn_reading *r, struct carn_error *err)
{
    if (by->aim != NULL)
        return by->aim;
    for (size_t i = 0; i < scored->opened_count; i++)
        if (strcmp(scored->opened[i].name, r->subject) == 0)
            return &scored->opened[i];
    struct carn_aim *aim = &scored->opened[scored->opened_count];
    int found = carn_aim_find(r->subject, by->people, aim, err);
    if (found == 0)
        carn_fail(err, CARN_INPUT, "no aim of subject '%s' in %s", r->subject,
                  carn_table_label(by->people));
    if (found != 1)
        return NULL;
    scored->opened_count++;
    return aim;
}

/* Scores row i; false when it has no aim colour, with a message. */
static bool score_row(struct carn_scored *scored, const struct carn_judges *by, size_t i,
                      struct carn_error *err)
{
    struct carn_error why = {0};
    const struct carn_readings *readings = scored->readings;
    const struct carn_reading *r = &readings->rows[i];
    scored->of[i] = find_aim(scored, by, r, &why);
    if (scored->of[i] != NULL && carn_score_reading(r, scored->of[i], by->separation, by->curve,
                                                    &scored->scores[i], &why) == 0)
        return true;
    carn_fail_at(err, why.kind, carn_table_label(readings->table), "line %zu: %s",
                 carn_table_line(readings->table, i), why.text);
    return false;
}

int carn_scored_make(struct carn_scored *scored, const struct carn_judges *by,
                     const struct carn_readings *readings, struct carn_error *err)
{
    size_t skin = 0, without = 0;
    *scored = (struct carn_scored){.readings = readings, .proved = by->before != NULL};
    scored->scores = carn_alloc(readings->count, sizeof *scored->scores, err);
    scored->proofs = carn_alloc(readings->count, sizeof *scored->proofs, err);
    scored->of = carn_alloc(readings->count, sizeof *scored->of, err);
    scored->opened = carn_alloc(readings->count, sizeof *scored->opened, err);
    if (scored->scores == NULL || scored->proofs == NULL || scored->of == NULL ||
        scored->opened == NULL)
        return -1;
    for (size_t i = 0; i < readings->count; i++) {
        if (!carn_reading_is_skin(&readings->rows[i]))
            continue;
        skin++;
        without += !score_row(scored, by, i, err);
    }
    if (skin == 0)
        return carn_fail_at(err, CARN_INPUT, carn_table_label(readings->table),
                            "no reading of skin, only of card and backdrop");
    if (without == skin)
        return -1;
    carn_prove(readings, scored->of, by->before, scored->scores, scored->proofs);
    return 0;
}

int carn_scored_status(const struct carn_scored *scored)
{
    int status = 0;
    for (size_t i = 0; i < scored->readings->count; i++) {
        int own = scored->of[i] != NULL ? carn_score_status(&scored->scores[i]) : 0;
        status = own > status ? own : status;
    }
    return status;
}

void carn_scored_clear(struct carn_scored *scored)
{
    free(scored->scores);
    free(scored->proofs);
    free(scored->of);
    free(scored->opened);
    *scored = (struct carn_scored){0};
}

/* ---- printing ---- */

/* proof: written only where there were readings before. */
static const struct column {
    const char *name;
    bool proof;
} appended[] = {
    {"aim", false},
    {"magenta_by_cyan", false},
    {"yellow_by_magenta", false},
    {"magenta_by_cyan_error", false},
    {"yellow_by_magenta_error", false},
    {"aim_L", false},
    {"aim_a", false},
    {"aim_b", false},
    {"ciede2000", false},
    {"dL", true},
    {"hue_spread_before", true},
    {"greened_before", true},
    {"verdict", false},
    {"words", false},
};
enum { APPENDED = sizeof appended / sizeof *appended };

/* Columns of an earlier score are written anew. */
static bool is_kept(const char *column)
{
    for (size_t i = 0; i < APPENDED; i++)
        if (strcmp(column, appended[i].name) == 0)
            return false;
    return true;
}

static void print_header(FILE *to, const struct carn_scored *scored)
{
    const struct carn_table *table = scored->readings->table;
    const char *tab = "";
    for (size_t i = 0; i < carn_table_columns(table); i++) {
        if (!is_kept(carn_table_name(table, i)))
            continue;
        fputs(tab, to);
        carn_table_print(to, carn_table_name(table, i));
        tab = "\t";
    }
    if (carn_table_find(table, "flags") < 0)
        fputs("\tflags", to);
    for (size_t i = 0; i < APPENDED; i++)
        if (scored->proved || !appended[i].proof)
            fprintf(to, "\t%s", appended[i].name);
    fputc('\n', to);
}

/* The columns that came with a row; score: whose flags go in their place, NULL for none. */
static void print_kept(FILE *to, const struct carn_table *table, size_t row,
                       const struct carn_score *score)
{
    const char *tab = "";
    for (size_t i = 0; i < carn_table_columns(table); i++) {
        const char *name = carn_table_name(table, i);
        if (!is_kept(name))
            continue;
        fputs(tab, to);
        if (score != NULL && strcmp(name, "flags") == 0)
            carn_flags_print(to, score->flags);
        else
            carn_table_print(to, carn_table_cell(table, row, (int)i));
        tab = "\t";
    }
    if (carn_table_find(table, "flags") >= 0)
        return;
    fputc('\t', to);
    if (score != NULL)
        carn_flags_print(to, score->flags);
    else
        fputc('-', to);
}

static void print_number(FILE *to, double v, int decimals)
{
    fputc('\t', to);
    carn_print_number(to, v, decimals);
}

static void print_score(FILE *to, const struct carn_scored *scored, size_t row)
{
    const struct carn_score *s = &scored->scores[row];
    const struct carn_proof *proof = &scored->proofs[row];
    const double none = (double)NAN;
    fputc('\t', to);
    carn_table_print(to, scored->of[row]->name);
    print_number(to, s->magenta_by_cyan, 4);
    print_number(to, s->yellow_by_magenta, 4);
    print_number(to, s->magenta_error, 4);
    print_number(to, s->yellow_error, 4);
    print_number(to, s->has_aim ? s->aim.L : none, 4);
    print_number(to, s->has_aim ? s->aim.a : none, 4);
    print_number(to, s->has_aim ? s->aim.b : none, 4);
    print_number(to, s->difference, 4);
    if (scored->proved) {
        print_number(to, proof->dL, 4);
        print_number(to, proof->hue_spread, 2);
        print_number(to, proof->greened, 2);
    }
    fprintf(to, "\t%s\t%s", carn_verdict_word(s->verdict), s->words);
}

void carn_scored_print(FILE *to, const struct carn_scored *scored)
{
    print_header(to, scored);
    for (size_t row = 0; row < scored->readings->count; row++) {
        bool judged = scored->of[row] != NULL;
        print_kept(to, scored->readings->table, row, judged ? &scored->scores[row] : NULL);
        if (judged)
            print_score(to, scored, row);
        for (size_t i = 0; !judged && i < APPENDED; i++)
            if (scored->proved || !appended[i].proof)
                fputs("\t-", to);
        fputc('\n', to);
    }
}
