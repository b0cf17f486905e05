/* carn-score: readings against an aim; the table as it came, with more columns. */
#include "base/tool.h"
#include "colour/separation.h"
#include "correct/aim_table.h"
#include "correct/scored.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

struct request {
    const char *aim, *aims, *before, *curve, *separation;
    bool by_subject, no_black_point;
};

int main(int argc, char **argv)
{
    enum { BY_SUBJECT = 256, BEFORE };
    struct request ask = {0};
    const struct carn_option options[] = {
        {'a', "aim", "AIM", "what the colour should be: common (default), hue, skin, or of -f",
         .text = &ask.aim},
        {'f', "aims", "AIMS", "table of the house's own aims", .text = &ask.aims},
        {BY_SUBJECT, "by-subject", NULL, "the aim of -f that is named as the row's subject",
         .flag = &ask.by_subject},
        {BEFORE, "before", "READINGS", "of the same pictures after the card: judge whole faces",
         .text = &ask.before},
        {'c', "curve", "CURVE", "the curve that was applied: tells held from off",
         .text = &ask.curve},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own",
         .text = &ask.separation},
        {'B', "no-black-point", NULL, "no black-point compensation", .flag = &ask.no_black_point},
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
    if (key == 0 && ask.by_subject && (ask.aims == NULL || ask.aim != NULL))
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
    const char *file = carn_tool_separation(ask.separation, path, sizeof path, &tool.err);
    if (ask.by_subject)
        people = carn_table_read(ask.aims, &tool.err);
    else
        carn_aim_open(ask.aim != NULL ? ask.aim : "common", ask.aims, &aim, &tool.err);
    if (file != NULL && tool.err.kind == CARN_NONE &&
        (ask.curve == NULL || carn_curve_read(ask.curve, &curve, &tool.err) == 0) &&
        (ask.before == NULL ||
         carn_readings_read(ask.before, CARN_NEED_LAB, &before, &tool.err) == 0))
        separation = carn_separation_open(file, !ask.no_black_point, &tool.err);

    /* data */
    if (separation != NULL &&
        carn_readings_read(optind < argc ? argv[optind] : "-", CARN_NEED_LIGHTNESS | CARN_NEED_INKS,
                           &readings, &tool.err) == 0 &&
        carn_readings_fit(&readings, carn_separation_id(separation), &tool.err) == 0) {
        struct carn_judges by = {ask.by_subject ? NULL : &aim, people, separation,
                                 ask.curve != NULL ? &curve : NULL,
                                 ask.before != NULL ? &before : NULL};
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
