/* carn-score: readings against an aim; the table as it came, with more columns. */
#include "base/tool.h"
#include "colour/separation.h"
#include "correct/aim_table.h"
#include "correct/scored.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

int main(int argc, char **argv)
{
    enum { BY_SUBJECT = 256, BEFORE };
    const char *name = NULL, *aims = NULL, *applied = NULL, *ask = NULL, *earlier = NULL;
    bool by_subject = false, no_black_point = false;
    const struct carn_option options[] = {
        {'a', "aim", "AIM", "what the colour should be: common (default), hue, skin, or of -f",
         .text = &name},
        {'f', "aims", "AIMS", "table of the house's own aims", .text = &aims},
        {BY_SUBJECT, "by-subject", NULL, "the aim of -f that is named as the row's subject",
         .flag = &by_subject},
        {BEFORE, "before", "READINGS", "of the same pictures after the card: judge whole faces",
         .text = &earlier},
        {'c', "curve", "CURVE", "the curve that was applied: tells held from off",
         .text = &applied},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own",
         .text = &ask},
        {'B', "no-black-point", NULL, "no black-point compensation", .flag = &no_black_point},
        {0},
    };
    struct carn_tool tool = {.name = "carn-score",
                             .operands = "[READINGS] >SCORED",
                             .purpose = "Judges readings against an aim.",
                             .options = options};
    char path[4096];

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    if (key == 0 && argc - optind > 1)
        carn_fail(&tool.err, CARN_USAGE, "one table of readings, not %d", argc - optind);
    if (key == 0 && by_subject && (aims == NULL || name != NULL))
        carn_fail(&tool.err, CARN_USAGE,
                  "--by-subject needs a table of aims (-f), and no other aim");
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    struct carn_curve curve = {0};
    struct carn_readings readings = {0}, before = {0};
    struct carn_separation *separation = NULL;
    struct carn_table *people = NULL;
    struct carn_aim aim = {0};
    const char *file = carn_tool_separation(ask, path, sizeof path, &tool.err);
    if (by_subject)
        people = carn_table_read(aims, &tool.err);
    else
        carn_aim_open(name != NULL ? name : "common", aims, &aim, &tool.err);
    if (file != NULL && tool.err.kind == CARN_NONE &&
        (applied == NULL || carn_curve_read(applied, &curve, &tool.err) == 0) &&
        (earlier == NULL || carn_readings_read(earlier, CARN_NEED_LAB, &before, &tool.err) == 0))
        separation = carn_separation_open(file, !no_black_point, &tool.err);

    /* data */
    if (separation != NULL &&
        carn_readings_read(optind < argc ? argv[optind] : "-", CARN_NEED_LIGHTNESS | CARN_NEED_INKS,
                           &readings, &tool.err) == 0 &&
        carn_readings_fit(&readings, carn_separation_id(separation), &tool.err) == 0) {
        struct carn_judges by = {by_subject ? NULL : &aim, people, separation,
                                 applied != NULL ? &curve : NULL, earlier != NULL ? &before : NULL};
        struct carn_scored scored;
        /* All rows are judged before the first is printed, so that trouble leaves no output. */
        if (carn_scored_make(&scored, &by, &readings, &tool.err) == 0) {
            carn_scored_print(stdout, &scored);
            tool.status = carn_scored_status(&scored);
        }
        carn_scored_clear(&scored);
    }

    /* clean up */
    carn_table_close(people);
    carn_readings_clear(&before);
    carn_readings_clear(&readings);
    carn_curve_clear(&curve);
    carn_separation_close(separation);
    return carn_tool_end(&tool);
}
