/* plan: the rows of job.tsv, each frame once, and who shows whose card. */
#define _XOPEN_SOURCE 700
#include "job/plan_own.h"

#include "job/files.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static bool means_no(const char *cell)
{
    static const char *const no[] = {"", "-", "no", "No", "NO", "0"};
    for (size_t i = 0; i < sizeof no / sizeof *no; i++)
        if (strcmp(cell, no[i]) == 0)
            return true;
    return false;
}

static char *cell_or_dash(const struct carn_table *table, size_t row, int column,
                          struct carn_error *err)
{
    const char *cell = carn_table_cell(table, row, column);
    return carn_copy(cell[0] != '\0' ? cell : "-", err);
}

static int take_frame(struct carn_plan *plan, const struct carn_table *table, size_t row,
                      struct carn_error *err)
{
    int column = carn_table_find(table, "frame");
    const char *name = carn_table_cell(table, row, column);
    if (name[0] == '\0' || strcmp(name, "-") == 0)
        return 0;
    if (!carn_plain_name(name))
        return carn_table_fail(table, row, column, err,
                               "'%s' is not the plain name of a file in frames/", name);
    struct carn_plan_frame *frame = &plan->frames[plan->count++];
    const char *curve = carn_table_at(table, row, "curve");
    *frame = (struct carn_plan_frame){
        .name = carn_copy(name, err),
        .subject = cell_or_dash(table, row, carn_table_find(table, "subject"), err),
        .camera = cell_or_dash(table, row, carn_table_find(table, "camera"), err),
        .card = cell_or_dash(table, row, carn_table_find(table, "card"), err),
        .approved = !means_no(carn_table_at(table, row, "approved")),
        .listed = true,
        .line = carn_table_line(table, row),
        .card_at = SIZE_MAX,
    };
    frame->own_curve =
        strcmp(curve, "frame") == 0 ||
        (curve[0] != 'g' && carn_setting_is(plan->settings, CARN_SET_CURVE, "frame"));
    return err->kind == CARN_NONE ? 0 : -1;
}

static int sort_names(const struct carn_plan *plan, struct plan_names *names,
                      struct carn_error *err)
{
    free(names->entries);
    names->entries = carn_alloc(plan->count + 1, sizeof *names->entries, err);
    if (names->entries == NULL)
        return -1;
    names->count = plan->count;
    for (size_t i = 0; i < plan->count; i++)
        names->entries[i] = (struct plan_entry){plan->frames[i].name, i};
    qsort(names->entries, names->count, sizeof *names->entries, plan_by_name);
    return 0;
}

/* A frame that stands twice: the first row counts. Names stay until all are looked at, as the
 * sorted entries point to them. */
static int drop_doubles(struct carn_plan *plan, struct plan_names *names, struct carn_error *err)
{
    size_t kept = 0;
    bool *twice = carn_alloc(plan->count + 1, sizeof *twice, err);
    int rc = twice != NULL ? sort_names(plan, names, err) : -1;
    for (size_t i = 0; rc == 0 && i < plan->count; i++) {
        const struct plan_entry *first = plan_find_name(names, plan->frames[i].name);
        twice[i] = first != NULL && first->row != i;
        if (twice[i])
            rc = plan_note(plan, err, "job.tsv: line %zu: %s stands twice, the first row counts",
                           plan->frames[i].line, plan->frames[i].name);
    }
    for (size_t i = 0; rc == 0 && i < plan->count; i++) {
        struct carn_plan_frame frame = plan->frames[i];
        if (twice[i])
            plan_clear_frame(&frame);
        else
            plan->frames[kept++] = frame;
    }
    free(twice);
    if (rc != 0)
        return -1;
    plan->count = kept;
    return sort_names(plan, names, err);
}

int plan_read_rows(struct carn_plan *plan, struct plan_names *names, struct carn_error *err)
{
    struct carn_table *table = carn_table_read("job.tsv", err);
    int rc = table != NULL && carn_table_need(table, "frame", err) >= 0 ? 0 : -1;
    if (rc == 0) /* each row may name one more frame, its card */
        plan->frames = carn_alloc(2 * carn_table_rows(table) + 1, sizeof *plan->frames, err);
    rc = plan->frames != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < carn_table_rows(table); i++)
        rc = take_frame(plan, table, i, err);
    carn_table_close(table);
    if (rc == 0 && plan->count == 0)
        rc = carn_fail(err, CARN_INPUT,
                       "job.tsv: no row, so no picture to do; carn-job-new adds pictures");
    return rc == 0 ? drop_doubles(plan, names, err) : -1;
}

static const struct carn_plan_frame *by_stem(const struct carn_plan *plan, const char *card,
                                             struct carn_error *err)
{
    const struct carn_plan_frame *found = NULL;
    for (size_t i = 0; i < plan->count && found == NULL; i++) {
        char *stem = plan_stem(plan->frames[i].name, err);
        if (stem != NULL && strcmp(stem, card) == 0)
            found = &plan->frames[i];
        free(stem);
    }
    return found;
}

static bool in_frames(const char *name)
{
    char path[4096];
    struct stat st;
    return snprintf(path, sizeof path, "frames/%s", name) < (int)sizeof path &&
           lstat(path, &st) == 0;
}

int plan_find_card(struct carn_plan *plan, size_t i, struct plan_names *names,
                   struct carn_error *err)
{
    const char *card = plan->frames[i].card;
    const struct carn_plan_frame *found = NULL;
    if (strcmp(card, "-") == 0)
        return 0;
    if (!carn_plain_name(card))
        return carn_fail(err, CARN_INPUT,
                         "job.tsv: line %zu: the card '%s' is not the plain name of a file in "
                         "frames/",
                         plan->frames[i].line, card);
    const struct plan_entry *entry = plan_find_name(names, card);
    if (entry == NULL && !in_frames(card))
        found = by_stem(plan, card, err);
    if (entry == NULL && found == NULL) {
        struct carn_plan_frame *more = &plan->frames[plan->count++];
        *more = (struct carn_plan_frame){.name = carn_copy(card, err),
                                         .subject = carn_copy("-", err),
                                         .camera = carn_copy("-", err),
                                         .card = carn_copy("-", err),
                                         .card_at = SIZE_MAX};
        if (err->kind != CARN_NONE || sort_names(plan, names, err) != 0)
            return -1;
        found = more;
    }
    plan->frames[i].card_at = found != NULL ? (size_t)(found - plan->frames) : entry->row;
    plan->frames[plan->frames[i].card_at].shows_card = true;
    return 0;
}
