/* carn-job-group: one step of a job for a card or a subject. */
#include "base/tool.h"
#include "job/filters.h"
#include "job/step.h"
#include "job/tell.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const struct {
    const char *word, *kind;
    int (*step)(struct carn_step *step, struct carn_error *err);
} steps[] = {
    {"read", "card", carn_step_read_card},
    {"level", "", carn_step_level},
    {"neutral", "card", carn_step_neutral},
    {"solve", "group", carn_step_solve},
};
enum { STEPS = sizeof steps / sizeof *steps };

static const struct carn_filter filters[] = {CARN_FILTERS(CARN_FILTER){0}};

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {{0}};
    struct carn_tool tool = {.name = "carn-job-group",
                             .operands = "JOB read|neutral|solve ID | JOB level",
                             .purpose =
                                 "Does one step of a job for a card or a subject, by its id.",
                             .options = options};
    char bin[4096];
    size_t which = 0;

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    if (key == 0 && argc - optind < 2)
        carn_fail(&tool.err, CARN_USAGE, "give the job, the step and an id; see %s --help",
                  tool.name);
    bool go = key == 0 && tool.err.kind == CARN_NONE;
    while (go && which < STEPS && strcmp(argv[optind + 1], steps[which].word) != 0)
        which++;
    if (go && which == STEPS)
        go = carn_fail(&tool.err, CARN_USAGE, "'%s' is not one of read, level, neutral, solve",
                       argv[optind + 1]) == 0;
    if (go && argc - optind != (steps[which].kind[0] == '\0' ? 2 : 3))
        go =
            carn_fail(&tool.err, CARN_USAGE, "%s: wrong number of operands", argv[optind + 1]) == 0;

    /* prepare */
    if (go && chdir(argv[optind]) != 0)
        go = carn_fail(&tool.err, CARN_SYSTEM, "%s: %s", argv[optind], strerror(errno)) == 0;
    go = go && carn_tool_folder(bin, sizeof bin, &tool.err) == 0;
    const char *id = go && steps[which].kind[0] != '\0' ? argv[optind + 2] : "";
    struct carn_step *step =
        go ? carn_step_open(steps[which].kind, id, bin, filters, &tool.err) : NULL;

    /* data */
    if (step != NULL) {
        int done = steps[which].step(step, &tool.err);
        if (done >= 0)
            carn_tell_step(stdout, steps[which].word, id, done == 1);
    }

    /* clean up */
    carn_step_close(step);
    return carn_tool_end(&tool);
}
