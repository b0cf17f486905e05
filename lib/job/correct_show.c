/* What was corrected, as a table for people. */
#include "base/table.h"
#include "base/text.h"
#include "base/tone.h"
#include "job/correct.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FOUND, BEFORE, AFTER, STAGES };

static bool is(const char *first, const char *second)
{
    return strcmp(first, second) == 0;
}

/* A face has three rows of one patch. */
static void label(const struct carn_table *table, size_t row, char *to, size_t size)
{
    const char *spread = carn_table_text(table, row, "hue_spread");
    bool face = !is(spread, "-") && !is(spread, "");
    snprintf(to, size, "%s%s%s", carn_table_text(table, row, "patch"), face ? " " : "",
             face ? carn_table_text(table, row, "tone") : "");
}

/* A cell with so many decimals, or - as it is. */
static const char *number(const struct carn_table *table, size_t row, const char *column,
                          int decimals, char room[CARN_NUMBER])
{
    const char *text = carn_table_text(table, row, column);
    return is(text, "-") ? text : carn_number_text(room, strtod(text, NULL), decimals);
}

static void print_row(FILE *to, const struct carn_table *table, size_t row, const char *stage)
{
    static const struct {
        const char *column;
        int decimals, width;
    } parts[] = {{"cyan", 1, 5},
                 {"magenta", 1, 5},
                 {"yellow", 1, 5},
                 {"black", 1, 5},
                 {"magenta_by_cyan", 2, 6},
                 {"yellow_by_magenta", 2, 6},
                 {"L", 2, 7},
                 {"a", 2, 7},
                 {"b", 2, 7}};
    char name[512], room[CARN_NUMBER];
    label(table, row, name, sizeof name);
    fprintf(to, "%-*s %-7s", carn_fill(name, 14), name, stage);
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++)
        fprintf(to, " %*s", parts[i].width,
                number(table, row, parts[i].column, parts[i].decimals, room));
    fprintf(to, "  %-7s %s\n", carn_table_text(table, row, "verdict"),
            carn_table_text(table, row, "words"));
}

/* L*, a*, b* of the last row with this label; zeros when there is none. */
static void colour(const struct carn_table *table, const char *name, double lab[3])
{
    static const char *const columns[] = {"L", "a", "b"};
    char own[512];
    for (size_t i = 0; i < carn_table_rows(table); i++) {
        label(table, i, own, sizeof own);
        for (int c = 0; is(own, name) && c < 3; c++)
            lab[c] = carn_table_value(table, i, columns[c]);
    }
}

static void print_faces(FILE *to, const struct carn_table *after)
{
    for (size_t i = 0; i < carn_table_rows(after); i++)
        if (!is(carn_table_text(after, i, "hue_spread_before"), "-") &&
            is(carn_table_text(after, i, "tone"), "middle"))
            fprintf(to, "%-14s hue spread %.1f to %.1f degrees, green %.1f to %.1f %%\n",
                    carn_table_text(after, i, "patch"),
                    carn_table_value(after, i, "hue_spread_before"),
                    carn_table_value(after, i, "hue_spread"),
                    carn_table_value(after, i, "greened_before"),
                    carn_table_value(after, i, "greened"));
}

/* Card and backdrop, and how far (CIE76) they moved with the skin. */
static void print_others(FILE *to, struct carn_table *const tables[STAGES])
{
    for (size_t i = 0; i < carn_table_rows(tables[AFTER]); i++) {
        const char *patch = carn_table_text(tables[AFTER], i, "patch");
        double lab[STAGES][3] = {{0}}, far = 0;
        if (carn_tone_is_skin(carn_table_text(tables[AFTER], i, "tone")))
            continue;
        for (int s = 0; s < STAGES; s++)
            colour(tables[s], patch, lab[s]);
        for (int c = 0; c < 3; c++)
            far += (lab[BEFORE][c] - lab[AFTER][c]) * (lab[BEFORE][c] - lab[AFTER][c]);
        fprintf(to,
                "%-14s found %.2f %.2f %.2f, neutral %.2f %.2f %.2f, delivered %.2f %.2f %.2f: "
                "moved by %.1f with the skin\n",
                patch, lab[FOUND][0], lab[FOUND][1], lab[FOUND][2], lab[BEFORE][0], lab[BEFORE][1],
                lab[BEFORE][2], lab[AFTER][0], lab[AFTER][1], lab[AFTER][2], sqrt(far));
    }
}

static void print_lightness(FILE *to, struct carn_table *const tables[STAGES])
{
    char name[512];
    for (size_t i = 0; i < carn_table_rows(tables[BEFORE]); i++) {
        double lab[STAGES][3] = {{0}};
        if (!carn_tone_is_skin(carn_table_text(tables[BEFORE], i, "tone")))
            continue;
        label(tables[BEFORE], i, name, sizeof name);
        for (int s = 0; s < STAGES; s++)
            colour(tables[s], name, lab[s]);
        fprintf(to, "%-*s L* %+.2f by the neutral step, %+.2f by the correction\n",
                carn_fill(name, 14), name, lab[BEFORE][0] - lab[FOUND][0],
                lab[AFTER][0] - lab[BEFORE][0]);
    }
}

/* The numbers of a cell, zeros when there are fewer. */
static void triple(const struct carn_table *table, size_t row, const char *column, double lab[3])
{
    const char *text = carn_table_text(table, row, column);
    for (int i = 0; i < 3; i++) {
        char *end = NULL;
        lab[i] = strtod(text, &end);
        text = end;
    }
}

/* person: whose curve it is; NULL: of all. */
static void print_turns(FILE *to, const struct carn_table *curve, const char *person)
{
    for (size_t i = 0; i < carn_table_rows(curve); i++) {
        double from[3], into[3], asked[3];
        const char *kind = carn_table_text(curve, i, "kind");
        if (!is(kind, "turn") && !is(kind, "move"))
            continue;
        if (person != NULL)
            fprintf(to, "%s: ", person);
        triple(curve, i, "from", from);
        triple(curve, i, "to", into);
        fprintf(to, "%s at L* %.1f: a* %.1f b* %.1f to a* %.1f b* %.1f", kind, from[0], from[1],
                from[2], into[1], into[2]);
        if (!is(carn_table_text(curve, i, "asked"), "-")) {
            triple(curve, i, "asked", asked);
            fprintf(to, ", asked a* %.1f b* %.1f", asked[1], asked[2]);
        }
        fprintf(to, " (%s)\n", carn_table_text(curve, i, "note"));
    }
}

static struct carn_table *read_file(const char *folder, const char *name, struct carn_error *err)
{
    char path[4400];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return carn_table_read(path, err);
}

/* Curves of their own, where the people have them: as many turns as their aims have tones. */
static bool print_people(FILE *to, const char *folder, const struct carn_corrected *corrected)
{
    bool any = false;
    for (size_t i = 0; i < corrected->people; i++) {
        struct carn_error ignored = {0};
        char name[32];
        snprintf(name, sizeof name, "skin-%zu.curve", i + 1);
        struct carn_table *curve = read_file(folder, name, &ignored);
        any = any || curve != NULL;
        if (curve != NULL)
            print_turns(to, curve, corrected->names[i]);
        carn_table_close(curve);
    }
    return any;
}

int carn_correct_show(const char *folder, const struct carn_corrected *corrected, FILE *to,
                      struct carn_error *err)
{
    struct carn_table *tables[STAGES] = {read_file(folder, "found.readings", err),
                                         read_file(folder, "before.scored", err),
                                         read_file(folder, "after.scored", err)};
    struct carn_table *curve = read_file(folder, "skin.curve", err);
    bool all =
        tables[FOUND] != NULL && tables[BEFORE] != NULL && tables[AFTER] != NULL && curve != NULL;
    if (all) {
        fprintf(to, "%-14s %-7s %5s %5s %5s %5s %6s %6s %7s %7s %7s  %-7s %s\n", "patch", "", "C",
                "M", "Y", "K", "M/C", "Y/M", "L*", "a*", "b*", "verdict", "words");
        for (int s = BEFORE; s <= AFTER; s++)
            for (size_t i = 0; i < carn_table_rows(tables[s]); i++)
                if (carn_tone_is_skin(carn_table_text(tables[s], i, "tone")))
                    print_row(to, tables[s], i, s == BEFORE ? "before" : "after");
        print_faces(to, tables[AFTER]);
        print_others(to, tables);
        print_lightness(to, tables);
        if (!print_people(to, folder, corrected))
            print_turns(to, curve, NULL);
    }
    for (int s = 0; s < STAGES; s++)
        carn_table_close(tables[s]);
    carn_table_close(curve);
    return all ? 0 : -1;
}
