/* carn-aim-take: a finished picture's readings as an aim of the house's own. */
#include "base/tool.h"
#include "correct/aim.h"
#include "correct/aim_take.h"
#include "correct/reading.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Per cent of a ratio that count as on (docs/colour.md 5). */
#define RATIO_TOLERANCE "8"

/* Rows of a tone serve readings up to this far in L*, lighter and darker. */
static const double SERVES = 10;

struct request {
    const char *name, *tolerance; /* tolerance: as typed; NULL: none given */
    bool ratios;
};

static void print_start(const struct request *ask, enum carn_tone tone, const char *quantity,
                        double value)
{
    carn_table_print(stdout, ask->name);
    printf("\t%s\t%s\t", carn_tone_word(tone), quantity);
    carn_print_number(stdout, value, 4);
    putchar('\t');
}

static void print_tone(const struct request *ask, const struct carn_taken *taken)
{
    static const char *const quantities[] = {"a", "b"};
    const double values[] = {taken->colour.a, taken->colour.b};
    double L = taken->colour.L;
    for (size_t k = 0; k < 2; k++) {
        print_start(ask, taken->tone, quantities[k], values[k]);
        if (ask->tolerance != NULL)
            fputs(ask->tolerance, stdout);
        else
            printf("%g", taken->reach[k]);
        printf("\t%.2f\t%.2f\n", L < SERVES ? 0 : L - SERVES, L > 100 - SERVES ? 100 : L + SERVES);
    }
}

static void print_ratio(const struct request *ask, const char *quantity, double value)
{
    print_start(ask, CARN_UNTONED, quantity, value);
    printf("%s\t-\t-\n", ask->tolerance != NULL ? ask->tolerance : RATIO_TOLERANCE);
}

static void take(const struct request *ask, const struct carn_readings *readings,
                 struct carn_error *err)
{
    struct carn_readings skin = {0};
    struct carn_taken taken[CARN_TAKEN];
    double magenta_by_cyan = 0, yellow_by_magenta = 0;
    size_t count = 0;
    int rc = carn_take_skin(readings, &skin, err);
    if (rc == 0)
        rc = ask->ratios ? carn_take_ratios(&skin, &magenta_by_cyan, &yellow_by_magenta, err)
                         : carn_take_tones(&skin, taken, &count, err);
    if (rc == 0)
        puts("aim\ttone\tquantity\tvalue\ttolerance\tfrom\tto");
    for (size_t i = 0; i < count; i++)
        print_tone(ask, &taken[i]);
    if (rc == 0 && ask->ratios) {
        print_ratio(ask, "magenta/cyan", magenta_by_cyan);
        print_ratio(ask, "yellow/magenta", yellow_by_magenta);
    }
    free(skin.rows);
}

/* Refuses names that a table of aims cannot have. */
static int check_name(const char *name, struct carn_error *err)
{
    enum { LONGEST = sizeof((struct carn_aim *)NULL)->name - 1 };
    if (name[0] == '\0' || strcmp(name, "-") == 0 || strpbrk(name, "\t\r\n") != NULL)
        return carn_fail(err, CARN_USAGE, "'%s' is no name for an aim", name);
    if (strlen(name) > LONGEST)
        return carn_fail(err, CARN_USAGE, "the aim's name is longer than %d bytes", LONGEST);
    return 0;
}

int main(int argc, char **argv)
{
    struct request ask = {0};
    const struct carn_option options[] = {
        {'t', "tolerance", "TOLERANCE",
         .help = "either way; else 2 in a* and b* or as its rows need, 8 % of ratios"},
        {'r', "ratios", NULL, "ratios of inks in place of a* and b* by lightness",
         .flag = &ask.ratios},
        {0},
    };
    struct carn_tool tool = {.name = "carn-aim-take",
                             .operands = "NAME [READINGS] >AIMS",
                             .purpose = "Writes an aim that asks for the skin of these readings.",
                             .options = options};

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        double tolerance = 0;
        if (carn_number(tool.value, "--tolerance", &tolerance, &tool.err) != 0)
            return carn_tool_end(&tool);
        else if (tolerance < 0)
            carn_fail(&tool.err, CARN_USAGE, "--tolerance: %s is under 0", tool.value);
        else
            ask.tolerance = tool.value;
    }
    int names = argc - optind;
    if (key == 0 && names != 1 && names != 2)
        carn_fail(&tool.err, CARN_USAGE, "a name and one table of readings; see %s --help",
                  tool.name);
    if (key < 0 || tool.err.kind != CARN_NONE || check_name(argv[optind], &tool.err) != 0)
        return carn_tool_end(&tool);
    ask.name = argv[optind];

    /* prepare */
    struct carn_readings readings = {0};
    const char *path = names == 2 ? argv[optind + 1] : "-";

    /* data */
    if (carn_readings_read(path, ask.ratios ? 0 : CARN_NEED_LAB, &readings, &tool.err) == 0)
        take(&ask, &readings, &tool.err);

    /* clean up */
    carn_readings_clear(&readings);
    return carn_tool_end(&tool);
}
