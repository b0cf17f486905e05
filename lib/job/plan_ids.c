/* plan: the numbers that frames and groups keep. */
#include "job/plan_own.h"

#include "job/files.h"

#include <stdlib.h>
#include <unistd.h>

static int ids_add(struct plan_ids *ids, const char *key, const char *id, struct carn_error *err)
{
    if (ids->ids == NULL || ids->count == ids->room) {
        size_t room = ids->room * 2 + 64;
        struct plan_entry *entries = carn_grow(ids->entries, room, sizeof *entries, err);
        if (entries == NULL)
            return -1;
        ids->entries = entries;
        char **texts = carn_grow(ids->ids, room, sizeof *texts, err);
        if (texts == NULL)
            return -1;
        ids->ids = texts;
        ids->room = room;
    }
    ids->entries[ids->count] = (struct plan_entry){carn_copy(key, err), ids->count};
    ids->ids[ids->count] = carn_copy(id, err);
    size_t number = strtoul(id, NULL, 10);
    ids->highest = number > ids->highest ? number : ids->highest;
    return ids->entries[ids->count].name != NULL && ids->ids[ids->count++] != NULL ? 0 : -1;
}

int plan_ids_read(struct plan_ids *ids, struct carn_error *err)
{
    if (access("work/ids.tsv", F_OK) != 0)
        return 0;
    struct carn_table *table = carn_table_read("work/ids.tsv", err);
    int key = table != NULL ? carn_table_need(table, "key", err) : -1;
    int id = table != NULL ? carn_table_need(table, "id", err) : -1;
    int rc = key >= 0 && id >= 0 ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < carn_table_rows(table); i++)
        rc = ids_add(ids, carn_table_cell(table, i, key), carn_table_cell(table, i, id), err);
    carn_table_close(table);
    ids->known = ids->count;
    if (rc == 0 && ids->count > 0)
        qsort(ids->entries, ids->count, sizeof *ids->entries, plan_by_name);
    return rc;
}

int plan_ids_give(struct plan_ids *ids, const char *kind, const char *name, char id[CARN_ID],
                  struct carn_error *err)
{
    char key[4200];
    if (snprintf(key, sizeof key, "%s %s", kind, name) >= (int)sizeof key)
        return carn_fail(err, CARN_LIMIT, "'%.60s...': the name is too long", name);
    struct plan_names known = {ids->known, ids->entries};
    const struct plan_entry *entry = plan_find_name(&known, key);
    if (entry != NULL && ids->ids != NULL) {
        snprintf(id, CARN_ID, "%s", ids->ids[entry->row]);
        return 0;
    }
    carn_plan_id(id, ids->highest + 1, name);
    ids->grown = true;
    return ids_add(ids, key, id, err);
}

int plan_ids_write(const struct plan_ids *ids, struct carn_error *err)
{
    struct carn_page page;
    if (!ids->grown)
        return 0;
    if (carn_page_open(&page, err) != 0)
        return -1;
    fputs("key\tid\n", page.to);
    for (size_t i = 0; i < ids->count; i++) {
        carn_table_print(page.to, ids->entries[i].name);
        fprintf(page.to, "\t%s\n", ids->ids[ids->entries[i].row]);
    }
    return carn_page_keep(&page, "work/ids.tsv", err) < 0 ? -1 : 0;
}

void plan_ids_clear(struct plan_ids *ids)
{
    for (size_t i = 0; i < ids->count; i++) {
        free(ids->entries[i].name);
        free(ids->ids[i]);
    }
    free(ids->entries);
    free(ids->ids);
}
