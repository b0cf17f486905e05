/* carn-job-guess: guesses the rows of a new job's tables and says what it guessed; for
 * carn-job-new. */
#include "base/table.h"
#include "base/tool.h"
#include "job/guess_write.h"
#include "job/record.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MOST = 1000000 }; /* of minutes, seconds, pictures */

static int take_option(struct carn_tool *tool, int key, struct carn_guess_from *from)
{
    size_t number = 0;
    const char *what = key == 'g' ? "--gap" : key == 'p' ? "--pause" : "--look";
    if (carn_tool_whole(tool, what, 0, MOST, &number) != 0)
        return -1;
    if (key == 'g')
        from->gap = (double)number;
    else if (key == 'p')
        from->pause = (double)number;
    else
        from->look = number;
    return 0;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'g', "gap", "MINUTES", .help = "a longer gap on one camera begins another session (30)"},
        {'p', "pause", "SECONDS", .help = "a longer pause begins another subject (90)"},
        {'n', "look", "N", .help = "look for the card in the first N pictures of a group (3)"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-job-guess",
                             .operands = "JOB PARENTS FACTS",
                             .purpose = "Guesses the rows of a new job's tables.",
                             .options = options};
    struct carn_guess_from from = {.gap = 30, .pause = 90, .look = 3};
    struct carn_table *parents = NULL, *facts = NULL;
    const char *folder = NULL;
    char bin[4096];

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0)
        if (take_option(&tool, key, &from) != 0)
            break;
    if (key == 0 && argc - optind != 3)
        carn_fail(&tool.err, CARN_USAGE, "give the job and two tables; see %s --help", tool.name);
    bool go =
        key == 0 && tool.err.kind == CARN_NONE && carn_tool_folder(bin, sizeof bin, &tool.err) == 0;

    /* prepare */
    if (go) {
        folder = argv[optind];
        from.parents = parents = carn_table_read(argv[optind + 1], &tool.err);
        if (parents != NULL)
            from.facts = facts = carn_table_read(argv[optind + 2], &tool.err);
        go = facts != NULL;
    }
    if (go && chdir(folder) != 0)
        go = carn_fail(&tool.err, CARN_SYSTEM, "%s: %s", folder, strerror(errno)) == 0;

    /* data */
    char *told = go ? carn_guess_write(&from, bin, &tool.err) : NULL;
    if (told != NULL) {
        carn_show(stdout, folder);
        printf(": %s", told);
    }

    /* clean up */
    free(told);
    carn_table_close(facts);
    carn_table_close(parents);
    return carn_tool_end(&tool);
}
