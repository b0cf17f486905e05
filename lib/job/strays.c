#define _XOPEN_SOURCE 700
#include "job/strays.h"

#include "base/table.h"
#include "base/text.h"
#include "job/files.h"
#include "job/kept.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int carn_strays_remember(const struct carn_plan *plan, struct carn_error *err)
{
    struct carn_page page;
    char *old = carn_text("work/.delivered", err);
    if (carn_page_open(&page, err) != 0) {
        free(old);
        return -1;
    }
    fputs(old != NULL ? old : "file\n", page.to);
    for (size_t i = 0; i < plan->count; i++) {
        if (plan->frames[i].out == NULL)
            continue;
        struct carn_page cell;
        if (carn_page_open(&cell, err) != 0)
            break;
        fputc('\n', cell.to);
        carn_table_print(cell.to, plan->frames[i].out);
        fputc('\n', cell.to);
        if (carn_page_close(&cell, err) == 0 && (old == NULL || strstr(old, cell.text) == NULL))
            fputs(cell.text + 1, page.to);
        free(cell.text);
    }
    free(old);
    return carn_page_keep(&page, "work/.delivered", err) < 0 ? -1 : 0;
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* The files of out/ that no row asks for, sorted; the caller frees each and the list. tidy: also
 * those of what the last run measured as a card alone, of which the report tells by itself. */
static int find_strays(const struct carn_plan *plan, bool tidy, char ***names, size_t *count,
                       struct carn_error *err)
{
    DIR *dir = opendir("out");
    *names = NULL;
    *count = 0;
    char **asked = carn_alloc(plan->count + 1, sizeof *asked, err);
    size_t asked_count = 0;
    int rc = asked != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < plan->count; i++)
        if (plan->frames[i].out != NULL && !(tidy && carn_kept_is_card(plan->frames[i].id)))
            asked[asked_count++] = plan->frames[i].out;
    if (rc == 0)
        qsort(asked, asked_count, sizeof *asked, by_text);
    const struct dirent *entry;
    while (rc == 0 && dir != NULL && (entry = readdir(dir)) != NULL) {
        char *name = carn_copy(entry->d_name, err);
        if (name == NULL || strcmp(name, ".") == 0 || strcmp(name, "..") == 0 ||
            bsearch(&name, asked, asked_count, sizeof *asked, by_text) != NULL) {
            rc = name == NULL ? -1 : 0;
            free(name);
            continue;
        }
        char **grown = carn_grow(*names, *count + 1, sizeof *grown, err);
        rc = grown != NULL ? 0 : -1;
        if (rc == 0) {
            *names = grown;
            grown[(*count)++] = name;
        } else {
            free(name);
        }
    }
    if (*count > 1)
        qsort(*names, *count, sizeof **names, by_text);
    if (dir != NULL)
        closedir(dir);
    free(asked);
    return rc;
}

static bool was_delivered(const struct carn_table *list, const char *name)
{
    for (size_t i = 0; list != NULL && i < carn_table_rows(list); i++)
        if (strcmp(carn_table_cell(list, i, 0), name) == 0)
            return true;
    return false;
}

int carn_strays_look(const struct carn_plan *plan, bool remove_them, FILE *to,
                     struct carn_error *err)
{
    char **names = NULL, path[4400];
    size_t count = 0;
    struct carn_page page;
    if (find_strays(plan, remove_them, &names, &count, err) != 0 || carn_page_open(&page, err) != 0)
        return -1;
    struct carn_table *list = carn_table_read("work/.delivered", err);
    fputs("note\n", page.to);
    for (size_t i = 0; i < count; i++) {
        bool own = was_delivered(list, names[i]);
        snprintf(path, sizeof path, "out/%s", names[i]);
        if (remove_them && own && unlink(path) != 0)
            carn_fail(err, CARN_SYSTEM, "%s: cannot be removed: %s", path, strerror(errno));
        if (remove_them) {
            carn_show(to, path);
            fputs(own ? ": removed\n" : ": not delivered by this job, so left alone\n", to);
        } else {
            snprintf(path, sizeof path, "%s: %s", names[i],
                     own ? "no row of job.tsv asks for it; `carn-job JOB tidy' removes it"
                         : "not delivered by this job");
            carn_table_print(page.to, path);
            fputc('\n', page.to);
        }
        free(names[i]);
    }
    free(names);
    carn_table_close(list);
    if (remove_them && count == 0)
        fputs("out/ holds what job.tsv asks for and nothing else\n", to);
    return carn_page_keep(&page, "work/strays.tsv", err) < 0 || err->kind != CARN_NONE ? -1 : 0;
}
