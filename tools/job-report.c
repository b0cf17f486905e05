/* carn-job-report: the report of a job from what its steps left. */
#include "base/tool.h"
#include "job/files.h"
#include "job/report.h"
#include "job/run.h"
#include "report/page.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { AT_ONCE = 30 };

/* work/facts.tsv: carn-facts of the originals that can be opened, so many a program's run. */
static int gather_facts(const char *bin, struct carn_error *err)
{
    struct carn_table *frames = carn_table_read("work/frames.tsv", err);
    struct carn_page page;
    char program[4200];
    bool header = false;
    if (frames == NULL || carn_page_open(&page, err) != 0) {
        carn_table_close(frames);
        return -1;
    }
    snprintf(program, sizeof program, "%s/carn-facts", bin);
    int rc = 0;
    for (size_t i = 0; rc == 0 && i < carn_table_rows(frames);) {
        struct carn_run run = {0};
        char *names[AT_ONCE];
        size_t count = 0;
        carn_run_add(&run, CARN_NO_STAGE, NULL, program);
        carn_run_word(&run, "--");
        for (; i < carn_table_rows(frames) && count < AT_ONCE; i++) {
            const char *name = carn_table_at(frames, i, "frame");
            char path[4300];
            struct stat st;
            snprintf(path, sizeof path, "frames/%s", name);
            if (stat(path, &st) != 0 || !S_ISREG(st.st_mode))
                continue;
            names[count] = carn_copy(path, err);
            carn_run_word(&run, names[count]);
            count += names[count] != NULL ? 1 : 0;
        }
        run.stages[0].out = "work/facts.some";
        run.stages[0].tolerant = true; /* the file's own step reports the trouble */
        struct carn_error unreadable = {0};
        if (count > 0 && carn_run_all(&run, &unreadable) == 0) {
            char *text = carn_text("work/facts.some", err);
            const char *rows = text != NULL ? strchr(text, '\n') : NULL;
            size_t lines = 0;
            for (const char *c = rows; c != NULL; c = strchr(c + 1, '\n'))
                lines++;
            if (lines != count + 1) /* a row a file, readable or not: else it was not whole */
                carn_fail(err, CARN_SYSTEM, "carn-facts ended before it was done");
            if (rows != NULL)
                fputs(header ? rows + 1 : text, page.to);
            header = header || rows != NULL;
            free(text);
        }
        (void)unlink("work/facts.some");
        carn_run_clear(&run);
        for (size_t k = 0; k < count; k++)
            free(names[k]);
        rc = err->kind == CARN_NONE ? 0 : -1;
    }
    if (!header)
        fputs("frame\tfile\n", page.to);
    carn_table_close(frames);
    if (carn_page_close(&page, err) != 0 || rc != 0) {
        free(page.text);
        return -1;
    }
    rc = carn_keep("work/facts.tsv", page.text, err);
    if (rc >= 0)
        rc = carn_keep("report/facts.tsv", page.text, err);
    free(page.text);
    return rc < 0 ? -1 : 0;
}

int main(int argc, char **argv)
{
    enum { AUDIT = 256 };
    static const struct carn_option options[] = {
        {AUDIT, "audit", NULL, "nothing was delivered: judge what was measured"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-job-report",
                             .operands = "JOB",
                             .purpose = "Writes the report of a job from what its steps left.",
                             .options = options};
    struct carn_story story = {0};
    struct carn_shown shown = {0};
    char bin[4096];
    bool audit = false;
    int key, status = 0;

    /* arguments */
    while ((key = carn_tool_option(&tool, argc, argv)) > 0)
        audit = true;
    if (key == 0 && argc - optind != 1)
        carn_fail(&tool.err, CARN_USAGE, "give one job folder; see %s --help", tool.name);
    bool go = key == 0 && tool.err.kind == CARN_NONE;

    /* prepare */
    if (go && chdir(argv[optind]) != 0)
        go = carn_fail(&tool.err, CARN_SYSTEM, "%s: %s", argv[optind], strerror(errno)) == 0;
    go = go && carn_tool_folder(bin, sizeof bin, &tool.err) == 0;
    go = go && carn_folder("report", &tool.err) == 0 && gather_facts(bin, &tool.err) == 0;

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
