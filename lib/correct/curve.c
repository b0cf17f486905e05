#include "correct/curve.h"

#include "base/table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *const kinds[] = {
    [CARN_NEUTRAL] = "neutral", [CARN_TURN] = "turn", [CARN_MOVE] = "move", [CARN_KNOT] = "knot"};

const char *const carn_curve_columns[] = {"kind", "from", "to", "asked", "note"};

const char *carn_limit_word(enum carn_limit limit)
{
    static const char *const words[CARN_LIMITS] = {
        [CARN_NO_LIMIT] = "",
        [CARN_LIMIT_BOUND] = "bound",
        [CARN_LIMIT_STRENGTH] = "strength",
        [CARN_LIMIT_GAMUT] = "gamut",
        [CARN_LIMIT_SLOPE] = "slope",
        [CARN_LIMIT_CLOSE] = "close",
        [CARN_LIMIT_END] = "end",
        [CARN_LIMIT_GREY] = "grey",
        [CARN_LIMIT_CHROMA] = "chroma",
        [CARN_LIMIT_TONES] = "tones",
    };
    return words[limit];
}

/* ---- the file ---- */

static int take_lab(const struct carn_table *table, size_t row, int column, struct carn_lab *lab,
                    struct carn_error *err)
{
    double v[3];
    int got = carn_table_numbers(table, row, column, v, 3, err);
    if (got < 1)
        return got;
    if (v[0] < 0 || v[0] > 100 || fabs(v[1]) > 200 || fabs(v[2]) > 200)
        return carn_table_fail(table, row, column, err, "%g %g %g is no CIELAB colour", v[0], v[1],
                               v[2]);
    *lab = (struct carn_lab){v[0], v[1], v[2]};
    return 1;
}

static int take_knot(const struct carn_table *table, size_t row, int column, int *channel,
                     double *value, struct carn_error *err)
{
    const char *cell = carn_table_cell(table, row, column);
    const char *letter = strchr("RGB", cell[0]);
    char *end = NULL;
    *value = cell[0] != '\0' ? strtod(cell + 1, &end) : 0;
    if (cell[0] == '\0' || letter == NULL || cell[1] != ' ' || end == cell + 1 || *end != '\0' ||
        !(*value >= 0 && *value <= 1))
        return carn_table_fail(table, row, column, err,
                               "'%s' is not R, G or B and a value from 0 to 1", cell);
    *channel = (int)(letter - "RGB");
    return 0;
}

static int check_turn(const struct carn_table *table, size_t row, const int columns[4],
                      const struct carn_move *move, struct carn_error *err)
{
    double from = carn_chroma(move->from), to = carn_chroma(move->to);
    if (fabs(move->from.L - move->to.L) > 0.001)
        return carn_table_fail(table, row, columns[2], err,
                               "a turn keeps L*, and this one goes from %g to %g", move->from.L,
                               move->to.L);
    if (from < CARN_TURN_CHROMA)
        return carn_table_fail(table, row, columns[1], err,
                               "a turn begins at a chroma of %g or more, not at %.2f",
                               CARN_TURN_CHROMA, from);
    if (to > CARN_TURN_GAIN * from)
        return carn_table_fail(table, row, columns[2], err,
                               "a turn multiplies chroma by at most %g, not by %.2f",
                               CARN_TURN_GAIN, to / from);
    return 0;
}

static int take_move(const struct carn_table *table, size_t row, const int columns[4],
                     struct carn_move *move, struct carn_error *err)
{
    const char *kind = carn_table_cell(table, row, columns[0]);
    move->line = carn_table_line(table, row);
    if (strcmp(kind, "knot") == 0) {
        int channel = 0;
        move->kind = CARN_KNOT;
        if (take_knot(table, row, columns[1], &move->channel, &move->x, err) != 0 ||
            take_knot(table, row, columns[2], &channel, &move->y, err) != 0)
            return -1;
        if (channel != move->channel)
            return carn_table_fail(table, row, columns[2], err, "another channel than 'from'");
        return 0;
    }
    move->kind = CARN_NEUTRAL;
    while (move->kind < CARN_KNOT && strcmp(kind, kinds[move->kind]) != 0)
        move->kind++;
    if (move->kind == CARN_KNOT)
        return carn_table_fail(table, row, columns[0], err,
                               "'%s' is not one of neutral, turn, move, knot", kind);
    for (int i = 1; i <= 2; i++) {
        int got = take_lab(table, row, columns[i], i == 1 ? &move->from : &move->to, err);
        if (got < 1)
            return got < 0 ? -1
                           : carn_table_fail(table, row, columns[i], err, "needs three numbers");
    }
    int asked = take_lab(table, row, columns[3], &move->asked, err);
    move->cut = asked == 1;
    if (asked < 0)
        return -1;
    return move->kind == CARN_TURN ? check_turn(table, row, columns, move, err) : 0;
}

/* No two turns of a run at one L*: which would hold between them? */
static int check_run(const struct carn_curve *curve, const struct carn_table *table, size_t row,
                     int column, struct carn_error *err)
{
    const struct carn_move *last = &curve->moves[row], *m = last;
    if (last->kind != CARN_TURN)
        return 0;
    while (m > curve->moves && (--m)->kind == CARN_TURN)
        if (fabs(m->from.L - last->from.L) < CARN_TURN_APART)
            return carn_table_fail(table, row, column, err,
                                   "two turns at L* %.1f, here and in line %zu, are within %g of "
                                   "each other",
                                   last->from.L, m->line, CARN_TURN_APART);
    return 0;
}

int carn_curve_read(const char *path, struct carn_curve *curve, struct carn_error *err)
{
    *curve = (struct carn_curve){0};
    struct carn_table *table = carn_table_read(path, err);
    if (table == NULL)
        return -1;
    int columns[4], rc = 0;
    for (size_t i = 0; i < 4 && rc == 0; i++) {
        columns[i] = i == 3 ? carn_table_find(table, carn_curve_columns[i])
                            : carn_table_need(table, carn_curve_columns[i], err);
        rc = i < 3 && columns[i] < 0 ? -1 : 0;
    }
    curve->count = carn_table_rows(table);
    if (rc == 0) {
        curve->label = carn_copy(carn_table_label(table), err);
        curve->moves = carn_alloc(curve->count, sizeof *curve->moves, err);
        rc = curve->label == NULL || curve->moves == NULL ? -1 : 0;
    }
    size_t neutrals = 0;
    for (size_t row = 0; rc == 0 && row < curve->count; row++) {
        rc = take_move(table, row, columns, &curve->moves[row], err);
        neutrals += curve->moves[row].kind == CARN_NEUTRAL;
        if (rc == 0)
            rc = check_run(curve, table, row, columns[1], err);
        if (rc == 0 && neutrals > 1)
            rc = carn_table_fail(table, row, columns[0], err, "a second neutral");
    }
    carn_table_close(table);
    if (rc != 0)
        carn_curve_clear(curve);
    return rc;
}

void carn_curve_clear(struct carn_curve *curve)
{
    free(curve->label);
    free(curve->moves);
    *curve = (struct carn_curve){0};
}

void carn_curve_print_header(FILE *to)
{
    for (size_t i = 0; i < CARN_CURVE_COLUMNS; i++)
        fprintf(to, "%s%s", i > 0 ? "\t" : "", carn_curve_columns[i]);
    fputc('\n', to);
}

static void print_lab(FILE *to, struct carn_lab lab)
{
    const double v[] = {lab.L, lab.a, lab.b};
    for (size_t i = 0; i < 3; i++) {
        fputc(i > 0 ? ' ' : '\t', to);
        carn_print_number(to, v[i], 4);
    }
}

void carn_curve_print(FILE *to, const struct carn_move *m, const char *note)
{
    fputs(kinds[m->kind], to);
    if (m->kind == CARN_KNOT) {
        char channel = "RGB"[m->channel];
        fprintf(to, "\t%c %.6f\t%c %.6f", channel, m->x, channel, m->y);
    } else {
        print_lab(to, m->from);
        print_lab(to, m->to);
    }
    if (m->cut && m->kind != CARN_KNOT)
        print_lab(to, m->asked);
    else
        fputs("\t-", to);
    fputc('\t', to);
    carn_table_print(to, note);
    fputc('\n', to);
}
