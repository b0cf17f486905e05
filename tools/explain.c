/* carn-explain: what led to one picture of a job, in ten lines. */
#include "job/explain.h"
#include "base/tool.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

int main(int argc, char **argv)
{
    const char *job = ".";
    const struct carn_option options[] = {
        {'j', "job", "JOB", "the job folder; the working folder unless told", .text = &job},
        {0},
    };
    struct carn_tool tool = {
        .name = "carn-explain",
        .operands = "FRAME",
        .purpose =
            "Says which card, readings, curves, bound and verdict led to a picture of a job.",
        .options = options};

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    if (key == 0 && argc - optind != 1)
        carn_fail(&tool.err, CARN_USAGE, "one frame, not %d names; see carn-explain --help",
                  argc - optind);
    bool go = key == 0 && tool.err.kind == CARN_NONE;

    /* prepare */
    if (go && chdir(job) != 0)
        go = carn_fail(&tool.err, CARN_INPUT, "%s: no such folder", job) == 0;
    if (go && access("work/frames.tsv", R_OK) != 0)
        go = carn_fail(&tool.err, CARN_USAGE, "%s: no run yet; carn-job makes one", job) == 0;

    /* data */
    if (go) {
        const char *slash = strrchr(argv[optind], '/');
        const char *name = slash != NULL ? slash + 1 : argv[optind];
        if (carn_explain(name, stdout, &tool.err) == 1)
            carn_fail(&tool.err, CARN_INPUT, "%s: no frame %s in this job", job, name);
    }

    /* clean up */
    return carn_tool_end(&tool);
}
