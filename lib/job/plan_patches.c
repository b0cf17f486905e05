/* plan: the rows of patches.tsv that serve a frame. */
#include "job/plan_own.h"

#include "base/match.h"
#include "base/tone.h"
#include "job/files.h"

#include <stdlib.h>
#include <string.h>

/* A row with all its cells in the first one was typed with spaces. */
static int check_tabs(const struct carn_table *table, struct carn_error *err)
{
    int x = carn_table_find(table, "x"), first = 0;
    for (size_t i = 0; i < carn_table_rows(table); i++)
        if (carn_table_cell(table, i, x)[0] == '\0' &&
            strchr(carn_table_cell(table, i, first), ' ') != NULL)
            return carn_table_fail(table, i, first, err,
                                   "'%.60s': spaces where tabs should separate the cells",
                                   carn_table_cell(table, i, first));
    return 0;
}

static const char *frame_cell(const struct plan_patches *index, size_t row)
{
    return carn_table_cell(index->table, row, index->columns[CARN_PATCH_FRAME]);
}

static const char *tone_cell(const struct plan_patches *index, size_t row)
{
    return carn_table_cell(index->table, row, index->columns[CARN_PATCH_TONE]);
}

int plan_index_patches(struct plan_patches *index, struct carn_error *err)
{
    index->table = carn_table_read("patches.tsv", err);
    if (index->table == NULL || check_tabs(index->table, err) != 0)
        return -1;
    struct carn_patches *checked = carn_patches_read("patches.tsv", err);
    if (checked == NULL)
        return -1;
    carn_patches_close(checked);
    for (size_t i = 0; i < CARN_PATCH_COLUMNS; i++)
        index->columns[i] = carn_table_find(index->table, carn_patch_columns[i]);
    size_t rows = carn_table_rows(index->table);
    index->entries = carn_alloc(2 * rows + 1, sizeof *index->entries, err);
    index->globs = carn_alloc(rows + 1, sizeof *index->globs, err);
    if (index->entries == NULL || index->globs == NULL)
        return -1;
    for (size_t i = 0; i < rows; i++) {
        const char *cell = frame_cell(index, i);
        char *whole = carn_copy(cell, err), *stem = plan_stem(cell, err);
        index->entries[index->entry_count++] = (struct plan_entry){whole, i};
        index->entries[index->entry_count++] = (struct plan_entry){stem, i};
        if (whole == NULL || stem == NULL)
            return -1;
        if (strpbrk(cell, "*?[\\") != NULL)
            index->globs[index->glob_count++] = i;
    }
    qsort(index->entries, index->entry_count, sizeof *index->entries, plan_by_name);
    return 0;
}

void plan_index_clear(struct plan_patches *index)
{
    for (size_t i = 0; i < index->entry_count; i++)
        free(index->entries[i].name);
    free(index->entries);
    free(index->globs);
    carn_table_close(index->table);
}

static bool is_card_row(const struct plan_patches *index, size_t row)
{
    return carn_tone_of(tone_cell(index, row)) == CARN_TONE_CARD;
}

static bool is_skin_row(const struct plan_patches *index, size_t row)
{
    return carn_tone_is_skin(tone_cell(index, row));
}

static int by_number(const void *a, const void *b)
{
    const size_t *x = a, *y = b;
    return *x < *y ? -1 : *x > *y;
}

/* Rows found under one name, into rows from *count on. */
static void look_up(const struct plan_patches *index, const char *name, size_t *rows, size_t *count)
{
    size_t low = 0, high = index->entry_count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (strcmp(index->entries[middle].name, name) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    for (; low < index->entry_count && strcmp(index->entries[low].name, name) == 0; low++)
        rows[(*count)++] = index->entries[low].row;
}

char *plan_rows_serving(const struct plan_patches *index, const char *name, bool cards, bool *skin,
                        struct carn_error *err)
{
    size_t room = 2 * index->entry_count + index->glob_count + 1, count = 0, kept = 0;
    size_t *rows = carn_alloc(room, sizeof *rows, err);
    char *stem = plan_stem(name, err);
    struct carn_page page = {0};
    int best = 0;
    *skin = false;
    if (rows == NULL || stem == NULL || carn_page_open(&page, err) != 0) {
        free(rows);
        free(stem);
        return NULL;
    }
    look_up(index, name, rows, &count);
    if (strcmp(stem, name) != 0)
        look_up(index, stem, rows, &count);
    for (size_t i = 0; i < index->glob_count; i++)
        rows[count++] = index->globs[i];
    for (size_t i = 0; i < count; i++) {
        int rank = carn_table_serves(frame_cell(index, rows[i]), name);
        if (rank == 0 || rank < best || is_card_row(index, rows[i]) != cards)
            continue;
        if (rank > best)
            kept = 0;
        best = rank;
        rows[kept++] = rows[i];
    }
    qsort(rows, kept, sizeof *rows, by_number);
    for (size_t i = 0; i < kept; i++) {
        if (i > 0 && rows[i] == rows[i - 1])
            continue;
        *skin = *skin || is_skin_row(index, rows[i]);
        fputc('*', page.to);
        for (size_t c = CARN_PATCH_FRAME + 1; c < CARN_PATCH_COLUMNS; c++) {
            fputc('\t', page.to);
            carn_table_print(page.to, carn_table_cell(index->table, rows[i], index->columns[c]));
        }
        fputc('\n', page.to);
    }
    free(rows);
    free(stem);
    if (carn_page_close(&page, err) != 0 || kept == 0) {
        free(page.text);
        return NULL;
    }
    return page.text;
}
