/* carn-job-report: the report of a job from what its steps left. */
#include "base/tool.h"
#include "job/files.h"
#include "job/report.h"
#include "report/page.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int main(int argc, char **argv)
{
    enum { AUDIT = 256 };
    bool audit = false;
    const struct carn_option options[] = {
        {AUDIT, "audit", NULL, "nothing was delivered: judge what was measured", .flag = &audit},
        {0},
    };
    struct carn_tool tool = {.name = "carn-job-report",
                             .operands = "JOB",
                             .purpose = "Writes the report of a job from what its steps left.",
                             .options = options};
    struct carn_story story = {0};
    struct carn_shown shown = {0};
    char bin[4096];
    int status = 0;

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    if (key == 0 && argc - optind != 1)
        carn_fail(&tool.err, CARN_USAGE, "give one job folder; see %s --help", tool.name);
    bool go = key == 0 && tool.err.kind == CARN_NONE;

    /* prepare */
    if (go && chdir(argv[optind]) != 0)
        go = carn_fail(&tool.err, CARN_SYSTEM, "%s: %s", argv[optind], strerror(errno)) == 0;
    go = go && carn_tool_folder(bin, sizeof bin, &tool.err) == 0;
    go = go && carn_folder("report", &tool.err) == 0 && carn_report_facts(bin, &tool.err) == 0;

    /* data */
    go = go && carn_story_read(audit, &story, &tool.err) == 0;
    go = go && carn_report_write(&story, audit, &status, &tool.err) == 0;
    go = go && carn_shown_read(audit, &shown, &tool.err) == 0;
    go = go && carn_page_index(&shown, &tool.err) == 0;
    go = go && carn_page_contact(&shown, &tool.err) == 0;
    if (go)
        (void)carn_touch(audit ? "work/audited" : "work/reported", &tool.err);

    /* clean up */
    carn_shown_clear(&shown);
    carn_story_clear(&story);
    return carn_tool_end(&tool);
}
