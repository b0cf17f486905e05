/* carn-job-frame: one step of a job for one frame: measure it, or deliver it. */
#include "base/tool.h"
#include "job/filters.h"
#include "job/step.h"
#include "job/tell.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const struct carn_filter filters[] = {CARN_FILTERS(CARN_FILTER){0}};

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {{0}};
    struct carn_tool tool = {.name = "carn-job-frame",
                             .operands = "JOB measure|deliver ID",
                             .purpose = "Does one step of a job for one frame, by its id.",
                             .options = options};
    char bin[4096];

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    if (key == 0 && argc - optind != 3)
        carn_fail(&tool.err, CARN_USAGE, "give the job, the step and the frame's id; see %s --help",
                  tool.name);
    bool go = key == 0 && tool.err.kind == CARN_NONE;
    bool deliver = go && strcmp(argv[optind + 1], "deliver") == 0;
    if (go && !deliver && strcmp(argv[optind + 1], "measure") != 0)
        go = carn_fail(&tool.err, CARN_USAGE, "'%s' is neither measure nor deliver",
                       argv[optind + 1]) == 0;

    /* prepare */
    if (go && chdir(argv[optind]) != 0)
        go = carn_fail(&tool.err, CARN_SYSTEM, "%s: %s", argv[optind], strerror(errno)) == 0;
    go = go && carn_tool_folder(bin, sizeof bin, &tool.err) == 0;
    struct carn_step *step =
        go ? carn_step_open("frame", argv[optind + 2], bin, filters, &tool.err) : NULL;

    /* data */
    if (step != NULL) {
        int done =
            deliver ? carn_step_deliver(step, &tool.err) : carn_step_measure(step, &tool.err);
        if (done >= 0)
            carn_tell_step(stdout, deliver ? "delivered" : "measured", argv[optind + 2], done == 1);
    }

    /* clean up */
    carn_step_close(step);
    return carn_tool_end(&tool);
}
