#define _XOPEN_SOURCE 700
#include "job/report.h"

#include "job/files.h"
#include "job/run.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { AT_ONCE = 30 }; /* files of a run of carn-facts */

/* The next files of frames/ from row *next of the plan on, as words of a run; gives how many. What
 * is no plain file is told by its own step. */
static size_t add_files(struct carn_run *run, const struct carn_table *frames, size_t *next,
                        char *names[AT_ONCE], struct carn_error *err)
{
    size_t count = 0;
    for (; *next < carn_table_rows(frames) && count < AT_ONCE; ++*next) {
        char path[4300];
        struct stat st;
        snprintf(path, sizeof path, "frames/%s", carn_table_at(frames, *next, "frame"));
        if (stat(path, &st) != 0 || !S_ISREG(st.st_mode))
            continue;
        names[count] = carn_copy(path, err);
        carn_run_word(run, names[count]);
        count += names[count] != NULL ? 1 : 0;
    }
    return count;
}

/* Copies the table of `count` files, its header only the first time. */
static int copy_some(const char *path, size_t count, FILE *to, bool *header, struct carn_error *err)
{
    char *text = carn_text(path, err);
    const char *rows = text != NULL ? strchr(text, '\n') : NULL;
    size_t lines = 0;
    for (const char *c = rows; c != NULL; c = strchr(c + 1, '\n'))
        lines++;
    if (lines != count + 1) /* a row a file, readable or not: else it was not whole */
        carn_fail(err, CARN_SYSTEM, "carn-facts ended before it was done");
    if (rows != NULL)
        fputs(*header ? rows + 1 : text, to);
    *header = *header || rows != NULL;
    free(text);
    return err->kind == CARN_NONE ? 0 : -1;
}

/* Runs carn-facts once on files from row *next on. */
static int run_some(const char *program, const struct carn_table *frames, size_t *next, FILE *to,
                    bool *header, struct carn_error *err)
{
    static const char some[] = "work/facts.some";
    struct carn_run run = {0};
    struct carn_error unreadable = {0};
    char *names[AT_ONCE];
    carn_run_add(&run, CARN_NO_STAGE, NULL, program);
    carn_run_word(&run, "--");
    size_t count = add_files(&run, frames, next, names, err);
    run.stages[0].out = some;
    run.stages[0].tolerant = true; /* the file's own step reports the trouble */
    if (count > 0 && carn_run_all(&run, &unreadable) == 0)
        (void)copy_some(some, count, to, header, err);
    (void)unlink(some);
    carn_run_clear(&run);
    for (size_t k = 0; k < count; k++)
        free(names[k]);
    return err->kind == CARN_NONE ? 0 : -1;
}

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
    for (size_t next = 0; rc == 0 && next < carn_table_rows(frames);)
        rc = run_some(program, frames, &next, page.to, &header, err);
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
