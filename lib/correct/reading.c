#include "correct/reading.h"

#include "base/tone.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *const columns[] = {
    "frame", "subject",    "camera", "patch",   "tone",  "pixels",     "red",
    "green", "blue",       "X",      "Y",       "Z",     "L",          "a",
    "b",     "chroma",     "hue",    "ita",     "cyan",  "magenta",    "yellow",
    "black", "separation", "spread", "clipped", "flags", "hue_spread", "greened",
};

static const struct {
    enum carn_flag flag;
    const char *word;
} words[] = {
    {CARN_CLIPPED, "clipped"},   {CARN_MIXED, "mixed"},       {CARN_SMALL, "small"},
    {CARN_DARK, "dark"},         {CARN_LOW_CYAN, "low-cyan"}, {CARN_UNEVEN, "uneven"},
    {CARN_COLOURED, "coloured"}, {CARN_NOT_SKIN, "not-skin"},
};

/* ---- writing ---- */

void carn_reading_print_header(FILE *to)
{
    for (size_t i = 0; i < sizeof columns / sizeof *columns; i++)
        fprintf(to, "%s%s", i > 0 ? "\t" : "", columns[i]);
    fputc('\n', to);
}

static void print_number(FILE *to, double v, int decimals)
{
    fputc('\t', to);
    carn_print_number(to, v, decimals);
}

void carn_flags_print(FILE *to, unsigned flags)
{
    const char *comma = "";
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        if ((flags & words[i].flag) == 0)
            continue;
        fprintf(to, "%s%s", comma, words[i].word);
        comma = ",";
    }
    if (*comma == '\0')
        fputc('-', to);
}

void carn_reading_print(FILE *to, const struct carn_reading *r)
{
    const char *const texts[] = {r->frame, r->subject, r->camera, r->patch, r->tone};
    for (size_t i = 0; i < 5; i++) {
        if (i > 0)
            fputc('\t', to);
        carn_table_print(to, texts[i]);
    }
    fprintf(to, "\t%zu", r->pixels);
    const double encoded[] = {r->rgb[0], r->rgb[1], r->rgb[2], r->xyz.X, r->xyz.Y, r->xyz.Z};
    for (size_t i = 0; i < 6; i++)
        print_number(to, encoded[i], 6);
    const double lab[] = {r->lab.L,         r->lab.a,        r->lab.b, carn_chroma(r->lab),
                          carn_hue(r->lab), carn_ita(r->lab)};
    for (size_t i = 0; i < 6; i++)
        print_number(to, lab[i], 4);
    const double inks[] = {r->inks.cyan, r->inks.magenta, r->inks.yellow, r->inks.black};
    for (size_t i = 0; i < 4; i++)
        print_number(to, inks[i], 3);
    fputc('\t', to);
    carn_table_print(to, r->separation);
    print_number(to, r->spread, 4);
    print_number(to, r->clipped, 3);
    fputc('\t', to);
    carn_flags_print(to, r->flags);
    print_number(to, r->hue_spread, 3);
    print_number(to, r->greened, 3);
    fputc('\n', to);
}

/* ---- reading ---- */

/* The flags of a cell; NULL, or the first word that is none. */
static const char *read_flags(const char *at, unsigned *flags)
{
    *flags = 0;
    if (strcmp(at, "-") == 0)
        return NULL;
    while (*at != '\0') {
        size_t n = strcspn(at, ", "), i = 0;
        while (i < sizeof words / sizeof *words &&
               (strlen(words[i].word) != n || strncmp(words[i].word, at, n) != 0))
            i++;
        if (n > 0 && i == sizeof words / sizeof *words)
            return at;
        if (n > 0)
            *flags |= words[i].flag;
        at += n + (at[n] != '\0');
    }
    return NULL;
}

bool carn_flags_have(const char *cell, enum carn_flag flag)
{
    unsigned flags;
    (void)read_flags(cell, &flags);
    return (flags & flag) != 0;
}

static int take_flags(const struct carn_table *table, size_t row, int column, unsigned *flags,
                      struct carn_error *err)
{
    const char *other = read_flags(carn_table_cell(table, row, column), flags);
    if (other == NULL)
        return 0;
    return carn_table_fail(table, row, column, err, "'%.*s' is not a flag",
                           (int)strcspn(other, ", "), other);
}

/* The numbers of a row by column name; need says which may not be missing. */
static int take_numbers(const struct carn_table *table, size_t row, struct carn_reading *r,
                        unsigned need, struct carn_error *err)
{
    double pixels = 0;
    const struct {
        const char *name;
        double *value;
        unsigned needed;
        double least, most; /* what a picture can have, generously */
    } numbers[] = {
        {"pixels", &pixels, 0, 0, 1e15},
        {"red", &r->rgb[0], 0, -10, 10},
        {"green", &r->rgb[1], 0, -10, 10},
        {"blue", &r->rgb[2], 0, -10, 10},
        {"X", &r->xyz.X, 0, -1000, 1000},
        {"Y", &r->xyz.Y, 0, -1000, 1000},
        {"Z", &r->xyz.Z, 0, -1000, 1000},
        {"L", &r->lab.L, CARN_NEED_LAB | CARN_NEED_LIGHTNESS, 0, 100},
        {"a", &r->lab.a, CARN_NEED_LAB, -1000, 1000},
        {"b", &r->lab.b, CARN_NEED_LAB, -1000, 1000},
        {"cyan", &r->inks.cyan, CARN_NEED_INKS, 0, 100},
        {"magenta", &r->inks.magenta, CARN_NEED_INKS, 0, 100},
        {"yellow", &r->inks.yellow, CARN_NEED_INKS, 0, 100},
        {"black", &r->inks.black, 0, 0, 100},
        {"spread", &r->spread, 0, 0, 1000},
        {"clipped", &r->clipped, 0, 0, 100},
        {"hue_spread", &r->hue_spread, 0, 0, 1000},
        {"greened", &r->greened, 0, 0, 100},
    };
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        int column = carn_table_find(table, numbers[i].name);
        if (column < 0 && (numbers[i].needed & need) != 0)
            return carn_table_need(table, numbers[i].name, err);
        if (numbers[i].value != &pixels)
            *numbers[i].value = (double)NAN;
        int got = carn_table_number(table, row, column, numbers[i].value, err);
        if (got < 0)
            return -1;
        if (got == 0 && (numbers[i].needed & need) != 0)
            return carn_table_fail(table, row, column, err, "no value");
        if (got > 0 &&
            !(*numbers[i].value >= numbers[i].least && *numbers[i].value <= numbers[i].most))
            return carn_table_fail(table, row, column, err, "%g is not %g to %g", *numbers[i].value,
                                   numbers[i].least, numbers[i].most);
    }
    r->pixels = (size_t)pixels;
    return 0;
}

static int take_row(const struct carn_table *table, size_t row, struct carn_reading *r,
                    unsigned need, struct carn_error *err)
{
    r->frame = carn_table_at(table, row, "frame");
    r->subject = carn_table_at(table, row, "subject");
    r->camera = carn_table_at(table, row, "camera");
    r->patch = carn_table_at(table, row, "patch");
    r->tone = carn_table_at(table, row, "tone");
    r->separation = carn_table_at(table, row, "separation");
    const char **labels[] = {&r->subject, &r->camera, &r->tone};
    for (size_t i = 0; i < sizeof labels / sizeof *labels; i++)
        if ((*labels[i])[0] == '\0')
            *labels[i] = "-";
    int flags = carn_table_find(table, "flags");
    if (take_flags(table, row, flags, &r->flags, err) != 0)
        return -1;
    return take_numbers(table, row, r, need, err);
}

int carn_readings_read(const char *path, unsigned need, struct carn_readings *readings,
                       struct carn_error *err)
{
    *readings = (struct carn_readings){0};
    readings->table = carn_table_read(path, err);
    if (readings->table == NULL)
        return -1;
    readings->count = carn_table_rows(readings->table);
    if (readings->count == 0)
        carn_fail_at(err, CARN_INPUT, carn_table_label(readings->table),
                     "no readings, only a header");
    else
        readings->rows = carn_alloc(readings->count, sizeof *readings->rows, err);
    for (size_t i = 0; readings->rows != NULL && i < readings->count; i++) {
        if (take_row(readings->table, i, &readings->rows[i], need, err) != 0) {
            carn_readings_clear(readings);
            return -1;
        }
    }
    if (readings->rows == NULL) {
        carn_readings_clear(readings);
        return -1;
    }
    return 0;
}

void carn_readings_clear(struct carn_readings *readings)
{
    carn_table_close(readings->table);
    free(readings->rows);
    *readings = (struct carn_readings){0};
}

int carn_readings_pick(const struct carn_readings *from,
                       bool (*want)(const struct carn_reading *reading, const void *with),
                       const void *with, struct carn_readings *picked, struct carn_error *err)
{
    *picked = (struct carn_readings){.table = from->table};
    picked->rows = carn_alloc(from->count, sizeof *picked->rows, err);
    if (picked->rows == NULL)
        return -1;
    for (size_t i = 0; i < from->count; i++)
        if (want(&from->rows[i], with))
            picked->rows[picked->count++] = from->rows[i];
    return 0;
}

int carn_readings_fit(const struct carn_readings *readings, const char *separation,
                      struct carn_error *err)
{
    int column = carn_table_find(readings->table, "separation");
    for (size_t i = 0; i < readings->count; i++) {
        const char *own = readings->rows[i].separation;
        if (own[0] != '\0' && strcmp(own, "-") != 0 && strcmp(own, separation) != 0)
            return carn_table_fail(readings->table, i, column, err,
                                   "measured through %s, not %s: separations are never mixed", own,
                                   separation);
    }
    return 0;
}

bool carn_reading_is_skin(const struct carn_reading *reading)
{
    return carn_tone_is_skin(reading->tone);
}
