#define _XOPEN_SOURCE 700
#include "job/report.h"

#include "job/files.h"
#include "job/run.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { AT_ONCE = 30 }; /* files of a run of carn-facts */

int carn_report_facts(const char *bin, struct carn_error *err)
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
