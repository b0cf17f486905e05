/* carn-score: readings against an aim; the table as it came, with more columns. */
#include "correct/score.h"
#include "base/tool.h"
#include "colour/separation.h"
#include "correct/aim_table.h"
#include "correct/curve.h"
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
                                       "verdict",
                                       "words"};
enum { APPENDED = sizeof appended / sizeof *appended };

/* Columns of an earlier score are written anew. */
static bool is_kept(const char *column)
{
    for (size_t i = 0; i < APPENDED; i++)
        if (strcmp(column, appended[i]) == 0)
            return false;
    return true;
}

static void print_header(const struct carn_table *table)
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

static void print_row(const struct carn_table *table, size_t row, const struct carn_aim *aim,
                      const struct carn_score *s)
{
    const char *tab = "";
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
    carn_table_print(stdout, aim->name);
    print_number(s->magenta_by_cyan, 4);
    print_number(s->yellow_by_magenta, 4);
    print_number(s->magenta_error, 4);
    print_number(s->yellow_error, 4);
    print_number(s->has_aim ? s->aim.L : (double)NAN, 4);
    print_number(s->has_aim ? s->aim.a : (double)NAN, 4);
    print_number(s->has_aim ? s->aim.b : (double)NAN, 4);
    print_number(s->difference, 4);
    printf("\t%s\t%s\n", carn_verdict_word(s->verdict), s->words);
}

/* Card and backdrop have no aim: their rows pass with - in the new columns. */
static void print_unscored(const struct carn_table *table, size_t row)
{
    const char *tab = "";
    for (size_t i = 0; i < carn_table_columns(table); i++) {
        if (!is_kept(carn_table_name(table, i)))
            continue;
        fputs(tab, stdout);
        carn_table_print(stdout, carn_table_cell(table, row, (int)i));
        tab = "\t";
    }
    size_t more = APPENDED + (carn_table_find(table, "flags") < 0);
    for (size_t i = 0; i < more; i++)
        fputs("\t-", stdout);
    putchar('\n');
}

/* Scores all rows, then prints them: a separation that fits none leaves the output empty. */
static void score_table(struct carn_tool *tool, const struct carn_readings *readings,
                        const struct carn_aim *aim, const struct carn_separation *separation,
                        const struct carn_curve *curve)
{
    struct carn_error *err = &tool->err;
    struct carn_score *scores = carn_alloc(readings->count, sizeof *scores, err);
    size_t skin = 0, without = 0;
    int status = 0;
    if (scores == NULL)
        return;
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        struct carn_error why = {0};
        if (!carn_reading_is_skin(r))
            continue;
        skin++;
        if (carn_score_reading(r, aim, separation, curve, &scores[i], &why) != 0) {
            without++;
            carn_fail_at(err, why.kind, carn_table_label(readings->table), "line %zu: %s",
                         carn_table_line(readings->table, i), why.text);
        }
        int own = carn_verdict_status(scores[i].verdict);
        status = own > status ? own : status;
    }
    if (skin == 0)
        carn_fail_at(err, CARN_INPUT, carn_table_label(readings->table),
                     "no reading of skin, only of card and backdrop");
    else if (without < skin) {
        print_header(readings->table);
        for (size_t i = 0; i < readings->count; i++) {
            if (carn_reading_is_skin(&readings->rows[i]))
                print_row(readings->table, i, aim, &scores[i]);
            else
                print_unscored(readings->table, i);
        }
        tool->status = status;
    }
    free(scores);
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'a', "aim", "AIM", "what the colour should be: common (default), hue, skin, or of -f"},
        {'f', "aims", "AIMS", "table of the house's own aims"},
        {'c', "curve", "CURVE", "the curve that was applied: tells held from off"},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own"},
        {'B', "no-black-point", NULL, "no black-point compensation"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-score",
                             .operands = "[READINGS] >SCORED",
                             .purpose = "Judges readings against an aim.",
                             .options = options};
    const char *name = "common", *aims = NULL, *applied = NULL, *ask = NULL;
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
            aims = tool.value;
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
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    struct carn_aim aim;
    struct carn_curve curve = {0};
    struct carn_readings readings = {0};
    struct carn_separation *separation = NULL;
    const char *file = carn_tool_separation(ask, path, sizeof path, &tool.err);
    if (file != NULL && carn_aim_open(name, aims, &aim, &tool.err) == 0 &&
        (applied == NULL || carn_curve_read(applied, &curve, &tool.err) == 0))
        separation = carn_separation_open(file, bpc, &tool.err);

    /* data */
    if (separation != NULL &&
        carn_readings_read(optind < argc ? argv[optind] : "-", CARN_NEED_LIGHTNESS | CARN_NEED_INKS,
                           &readings, &tool.err) == 0 &&
        carn_readings_fit(&readings, carn_separation_id(separation), &tool.err) == 0)
        score_table(&tool, &readings, &aim, separation, applied != NULL ? &curve : NULL);

    /* clean up */
    carn_readings_clear(&readings);
    carn_curve_clear(&curve);
    carn_separation_close(separation);
    return carn_tool_end(&tool);
}
