/* carn-score: readings against an aim; the table as it came, with more columns. */
#include "correct/score.h"
#include "base/tool.h"
#include "colour/separation.h"
#include "correct/aim_table.h"
#include "correct/curve.h"
#include "correct/proof.h"
#include "correct/reading.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const char *const appended[] = {"aim",
                                       "magenta_by_cyan",
                                       "yellow_by_magenta",
                                       "magenta_by_cyan_error",
                                       "yellow_by_magenta_error",
                                       "aim_L",
                                       "aim_a",
                                       "aim_b",
                                       "ciede2000",
                                       "dL",
                                       "hue_spread_before",
                                       "greened_before",
                                       "verdict",
                                       "words"};
enum { APPENDED = sizeof appended / sizeof *appended };

/* What the loop over rows needs. */
struct job {
    struct carn_tool *tool;
    const char *aims;
    struct carn_table *people; /* by subject: the aims; NULL: the one opened aim serves all */
    const struct carn_separation *separation;
    const struct carn_curve *curve;     /* NULL for none */
    const struct carn_readings *before; /* NULL for none */
    struct carn_aim *opened;            /* one a name */
    size_t opened_count;
    const struct carn_aim **of; /* row by row; NULL: it has none */
    struct carn_score *scores;
    struct carn_proof *proofs;
};

/* Is this column of the appended ones written? Three are of --before. */
static bool is_written(const struct job *job, size_t i)
{
    return job->before != NULL ||
           (strcmp(appended[i], "dL") != 0 && strcmp(appended[i], "hue_spread_before") != 0 &&
            strcmp(appended[i], "greened_before") != 0);
}

/* Columns of an earlier score are written anew. */
static bool is_kept(const char *column)
{
    for (size_t i = 0; i < APPENDED; i++)
        if (strcmp(column, appended[i]) == 0)
            return false;
    return true;
}

static void print_header(const struct job *job, const struct carn_table *table)
{
    const char *tab = "";
    for (size_t i = 0; i < carn_table_columns(table); i++) {
        if (!is_kept(carn_table_name(table, i)))
            continue;
        fputs(tab, stdout);
        carn_table_print(stdout, carn_table_name(table, i));
        tab = "\t";
    }
    if (carn_table_find(table, "flags") < 0)
        fputs("\tflags", stdout);
    for (size_t i = 0; i < APPENDED; i++)
        if (is_written(job, i))
            printf("\t%s", appended[i]);
    putchar('\n');
}

static void print_number(double v, int decimals)
{
    if (isfinite(v))
        printf("\t%.*f", decimals, v);
    else
        fputs("\t-", stdout);
}

static void print_row(const struct job *job, const struct carn_table *table, size_t row)
{
    const char *tab = "";
    const struct carn_score *s = &job->scores[row];
    const struct carn_proof *proof = &job->proofs[row];
    for (size_t i = 0; i < carn_table_columns(table); i++) {
        const char *name = carn_table_name(table, i);
        if (!is_kept(name))
            continue;
        fputs(tab, stdout);
        if (strcmp(name, "flags") == 0)
            carn_flags_print(stdout, s->flags);
        else
            carn_table_print(stdout, carn_table_cell(table, row, (int)i));
        tab = "\t";
    }
    putchar('\t');
    if (carn_table_find(table, "flags") < 0) {
        carn_flags_print(stdout, s->flags);
        putchar('\t');
    }
    carn_table_print(stdout, job->of[row]->name);
    print_number(s->magenta_by_cyan, 4);
    print_number(s->yellow_by_magenta, 4);
    print_number(s->magenta_error, 4);
    print_number(s->yellow_error, 4);
    print_number(s->has_aim ? s->aim.L : (double)NAN, 4);
    print_number(s->has_aim ? s->aim.a : (double)NAN, 4);
    print_number(s->has_aim ? s->aim.b : (double)NAN, 4);
    print_number(s->difference, 4);
    if (job->before != NULL) {
        print_number(proof->dL, 4);
        print_number(proof->hue_spread, 2);
        print_number(proof->greened, 2);
    }
    printf("\t%s\t%s\n", carn_verdict_word(s->verdict), s->words);
}

/* Card and backdrop have no aim: their rows pass with - in the new columns. */
static void print_unscored(const struct job *job, const struct carn_table *table, size_t row)
{
    const char *tab = "";
    for (size_t i = 0; i < carn_table_columns(table); i++) {
        if (!is_kept(carn_table_name(table, i)))
            continue;
        fputs(tab, stdout);
        carn_table_print(stdout, carn_table_cell(table, row, (int)i));
        tab = "\t";
    }
    if (carn_table_find(table, "flags") < 0)
        fputs("\t-", stdout);
    for (size_t i = 0; i < APPENDED; i++)
        if (is_written(job, i))
            fputs("\t-", stdout);
    putchar('\n');
}

/* The aim that judges this row; NULL with a message. Opened once a name. */
static const struct carn_aim *find_aim(struct job *job, const struct carn_reading *r,
                                       struct carn_error *err)
{
    if (job->people == NULL)
        return &job->opened[0];
    for (size_t i = 0; i < job->opened_count; i++)
        if (strcmp(job->opened[i].name, r->subject) == 0)
            return &job->opened[i];
    struct carn_aim *aim = &job->opened[job->opened_count];
    int found = carn_aim_find(r->subject, job->people, aim, err);
    if (found == 0)
        carn_fail(err, CARN_INPUT, "no aim of subject '%s' in %s", r->subject, job->aims);
    if (found != 1)
        return NULL;
    job->opened_count++;
    return aim;
}

/* Scores row i; false when it has no aim colour, with a message. */
static bool score_row(struct job *job, const struct carn_readings *readings, size_t i)
{
    struct carn_error why = {0};
    const struct carn_reading *r = &readings->rows[i];
    job->of[i] = find_aim(job, r, &why);
    if (job->of[i] != NULL &&
        carn_score_reading(r, job->of[i], job->separation, job->curve, &job->scores[i], &why) == 0)
        return true;
    carn_fail_at(&job->tool->err, why.kind, carn_table_label(readings->table), "line %zu: %s",
                 carn_table_line(readings->table, i), why.text);
    return false;
}

/* Scores all rows, then prints them: a separation that fits none leaves the output empty. */
static void score_table(struct job *job, const struct carn_readings *readings)
{
    size_t skin = 0, without = 0;
    int status = 0;
    for (size_t i = 0; i < readings->count; i++) {
        if (!carn_reading_is_skin(&readings->rows[i]))
            continue;
        skin++;
        without += !score_row(job, readings, i);
    }
    if (skin == 0)
        carn_fail_at(&job->tool->err, CARN_INPUT, carn_table_label(readings->table),
                     "no reading of skin, only of card and backdrop");
    if (without == skin)
        return;
    carn_prove(readings, job->of, job->before, job->scores, job->proofs);
    print_header(job, readings->table);
    for (size_t i = 0; i < readings->count; i++) {
        int own = job->of[i] != NULL ? carn_score_status(&job->scores[i]) : 0;
        status = own > status ? own : status;
        if (job->of[i] != NULL)
            print_row(job, readings->table, i);
        else
            print_unscored(job, readings->table, i);
    }
    job->tool->status = status;
}

/* aim: of all rows, where none is by subject. */
static void score_all(struct job *job, const struct carn_aim *aim,
                      const struct carn_readings *readings)
{
    struct carn_error *err = &job->tool->err;
    job->scores = carn_alloc(readings->count, sizeof *job->scores, err);
    job->proofs = carn_alloc(readings->count, sizeof *job->proofs, err);
    job->of = carn_alloc(readings->count, sizeof *job->of, err);
    job->opened = carn_alloc(readings->count, sizeof *job->opened, err);
    if (job->scores != NULL && job->proofs != NULL && job->of != NULL && job->opened != NULL) {
        job->opened[0] = *aim;
        score_table(job, readings);
    }
    free(job->scores);
    free(job->proofs);
    free(job->of);
    free(job->opened);
}

int main(int argc, char **argv)
{
    enum { BY_SUBJECT = 256, BEFORE };
    static const struct carn_option options[] = {
        {'a', "aim", "AIM", "what the colour should be: common (default), hue, skin, or of -f"},
        {'f', "aims", "AIMS", "table of the house's own aims"},
        {BY_SUBJECT, "by-subject", NULL, "the aim of -f that is named as the row's subject"},
        {BEFORE, "before", "READINGS", "of the same pictures after the card: judge whole faces"},
        {'c', "curve", "CURVE", "the curve that was applied: tells held from off"},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own"},
        {'B', "no-black-point", NULL, "no black-point compensation"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-score",
                             .operands = "[READINGS] >SCORED",
                             .purpose = "Judges readings against an aim.",
                             .options = options};
    struct job job = {.tool = &tool};
    const char *name = NULL, *applied = NULL, *ask = NULL, *earlier = NULL;
    bool by_subject = false;
    char path[4096];
    bool bpc = true;

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        switch (key) {
        case 'a':
            name = tool.value;
            break;
        case 'f':
            job.aims = tool.value;
            break;
        case BY_SUBJECT:
            by_subject = true;
            break;
        case BEFORE:
            earlier = tool.value;
            break;
        case 'c':
            applied = tool.value;
            break;
        case 'k':
            ask = tool.value;
            break;
        default:
            bpc = false;
        }
    }
    if (key == 0 && argc - optind > 1)
        carn_fail(&tool.err, CARN_USAGE, "one table of readings, not %d", argc - optind);
    if (key == 0 && by_subject && (job.aims == NULL || name != NULL))
        carn_fail(&tool.err, CARN_USAGE,
                  "--by-subject needs a table of aims (-f), and no other aim");
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    struct carn_curve curve = {0};
    struct carn_readings readings = {0}, before = {0};
    struct carn_separation *separation = NULL;
    struct carn_aim aim = {0};
    const char *file = carn_tool_separation(ask, path, sizeof path, &tool.err);
    if (by_subject)
        job.people = carn_table_read(job.aims, &tool.err);
    else
        carn_aim_open(name != NULL ? name : "common", job.aims, &aim, &tool.err);
    if (file != NULL && tool.err.kind == CARN_NONE &&
        (applied == NULL || carn_curve_read(applied, &curve, &tool.err) == 0) &&
        (earlier == NULL || carn_readings_read(earlier, CARN_NEED_LAB, &before, &tool.err) == 0))
        separation = carn_separation_open(file, bpc, &tool.err);

    /* data */
    if (separation != NULL &&
        carn_readings_read(optind < argc ? argv[optind] : "-", CARN_NEED_LIGHTNESS | CARN_NEED_INKS,
                           &readings, &tool.err) == 0 &&
        carn_readings_fit(&readings, carn_separation_id(separation), &tool.err) == 0) {
        job.separation = separation;
        job.curve = applied != NULL ? &curve : NULL;
        job.before = earlier != NULL ? &before : NULL;
        score_all(&job, &aim, &readings);
    }

    /* clean up */
    carn_table_close(job.people);
    carn_readings_clear(&before);
    carn_readings_clear(&readings);
    carn_curve_clear(&curve);
    carn_separation_close(separation);
    return carn_tool_end(&tool);
}
