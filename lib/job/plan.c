/* plan: from the job's tables and files. */
#define _XOPEN_SOURCE 700 /* st_mtim */
#include "job/plan.h"

#include "base/match.h"
#include "base/table.h"
#include "base/tone.h"
#include "frame/patch.h"
#include "job/files.h"

#include <dirent.h>
#include <errno.h>
#include <fnmatch.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

__attribute__((format(printf, 3, 4))) static int
add_note(struct carn_plan *plan, struct carn_error *err, const char *format, ...)
{
    char text[1024];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    char **notes = carn_grow(plan->notes, plan->note_count + 1, sizeof *notes, err);
    if (notes == NULL)
        return -1;
    plan->notes = notes;
    notes[plan->note_count] = carn_copy(text, err);
    return notes[plan->note_count++] != NULL ? 0 : -1;
}

/* ---- rows of patches.tsv by the frames that they serve ---- */

static const char *const patch_columns[] = {"patch", "tone", "x",      "y",          "w",
                                            "h",     "tilt", "points", "confidence", "kind"};
enum { PATCH_COLUMNS = sizeof patch_columns / sizeof *patch_columns };

/* A row under one of the names it is looked up by. */
struct entry {
    char *name;
    size_t row;
};

struct patch_index {
    struct carn_table *table;
    int frame, columns[PATCH_COLUMNS];
    size_t entry_count, glob_count;
    struct entry *entries; /* by name: the cell and the cell without its suffix */
    size_t *globs;         /* rows whose cell is a pattern */
};

static char *stem_of(const char *name, struct carn_error *err)
{
    char *stem = carn_copy(name, err);
    char *dot = stem != NULL ? strrchr(stem, '.') : NULL;
    if (dot != NULL && dot != stem)
        *dot = '\0';
    return stem;
}

static int by_name(const void *a, const void *b)
{
    const struct entry *x = a, *y = b;
    int order = strcmp(x->name, y->name);
    return order != 0 ? order : x->row < y->row ? -1 : x->row > y->row;
}

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

static int index_patches(struct patch_index *index, struct carn_error *err)
{
    index->table = carn_table_read("patches.tsv", err);
    if (index->table == NULL || check_tabs(index->table, err) != 0)
        return -1;
    struct carn_patches *checked = carn_patches_read("patches.tsv", err);
    if (checked == NULL)
        return -1;
    carn_patches_close(checked);
    index->frame = carn_table_find(index->table, "frame");
    for (size_t i = 0; i < PATCH_COLUMNS; i++)
        index->columns[i] = carn_table_find(index->table, patch_columns[i]);
    size_t rows = carn_table_rows(index->table);
    index->entries = carn_alloc(2 * rows + 1, sizeof *index->entries, err);
    index->globs = carn_alloc(rows + 1, sizeof *index->globs, err);
    if (index->entries == NULL || index->globs == NULL)
        return -1;
    for (size_t i = 0; i < rows; i++) {
        const char *cell = carn_table_cell(index->table, i, index->frame);
        char *whole = carn_copy(cell, err), *stem = stem_of(cell, err);
        index->entries[index->entry_count++] = (struct entry){whole, i};
        index->entries[index->entry_count++] = (struct entry){stem, i};
        if (whole == NULL || stem == NULL)
            return -1;
        if (strpbrk(cell, "*?[\\") != NULL)
            index->globs[index->glob_count++] = i;
    }
    qsort(index->entries, index->entry_count, sizeof *index->entries, by_name);
    return 0;
}

static void index_clear(struct patch_index *index)
{
    for (size_t i = 0; i < index->entry_count; i++)
        free(index->entries[i].name);
    free(index->entries);
    free(index->globs);
    carn_table_close(index->table);
}

static bool is_card_row(const struct patch_index *index, size_t row)
{
    return carn_tone_of(carn_table_cell(index->table, row, index->columns[1])) == CARN_TONE_CARD;
}

static bool is_skin_row(const struct patch_index *index, size_t row)
{
    return carn_tone_is_skin(carn_table_cell(index->table, row, index->columns[1]));
}

static int by_number(const void *a, const void *b)
{
    const size_t *x = a, *y = b;
    return *x < *y ? -1 : *x > *y;
}

/* Rows found under one name, into rows from *count on. */
static void look_up(const struct patch_index *index, const char *name, size_t *rows, size_t *count)
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

/* The rows of the best rank that serve the frame, of cards or of the rest, in table order, as text;
 * NULL when there is none. Ranks are those of carn_table_serves. */
static char *serving(const struct patch_index *index, const char *name, bool cards, bool *skin,
                     struct carn_error *err)
{
    size_t room = 2 * index->entry_count + index->glob_count + 1, count = 0, kept = 0;
    size_t *rows = carn_alloc(room, sizeof *rows, err);
    char *stem = stem_of(name, err);
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
        int rank = carn_table_serves(carn_table_cell(index->table, rows[i], index->frame), name);
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
        for (size_t c = 0; c < PATCH_COLUMNS; c++) {
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

/* ---- job.tsv ---- */

static bool means_no(const char *cell)
{
    static const char *const no[] = {"", "-", "no", "No", "NO", "0"};
    for (size_t i = 0; i < sizeof no / sizeof *no; i++)
        if (strcmp(cell, no[i]) == 0)
            return true;
    return false;
}

/* Frames by name, for finding cards and doubles. */
struct names {
    size_t count;
    struct entry *entries;
};

static const struct entry *find_name(const struct names *names, const char *name)
{
    struct entry key = {.name = (char *)(uintptr_t)name, .row = 0};
    size_t low = 0, high = names->count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (by_name(&names->entries[middle], &key) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low < names->count && strcmp(names->entries[low].name, name) == 0 ? &names->entries[low]
                                                                             : NULL;
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
    const char *curve = carn_table_cell(table, row, carn_table_find(table, "curve"));
    *frame = (struct carn_plan_frame){
        .name = carn_copy(name, err),
        .subject = cell_or_dash(table, row, carn_table_find(table, "subject"), err),
        .camera = cell_or_dash(table, row, carn_table_find(table, "camera"), err),
        .card = cell_or_dash(table, row, carn_table_find(table, "card"), err),
        .approved = !means_no(carn_table_cell(table, row, carn_table_find(table, "approved"))),
        .listed = true,
        .line = carn_table_line(table, row),
        .card_at = SIZE_MAX,
    };
    frame->own_curve =
        strcmp(curve, "frame") == 0 ||
        (curve[0] != 'g' && carn_setting_is(plan->settings, CARN_SET_CURVE, "frame"));
    return err->kind == CARN_NONE ? 0 : -1;
}

static int sort_names(const struct carn_plan *plan, struct names *names, struct carn_error *err)
{
    free(names->entries);
    names->entries = carn_alloc(plan->count + 1, sizeof *names->entries, err);
    if (names->entries == NULL)
        return -1;
    names->count = plan->count;
    for (size_t i = 0; i < plan->count; i++)
        names->entries[i] = (struct entry){plan->frames[i].name, i};
    qsort(names->entries, names->count, sizeof *names->entries, by_name);
    return 0;
}

static void clear_frame(struct carn_plan_frame *frame)
{
    free(frame->name);
    free(frame->subject);
    free(frame->camera);
    free(frame->card);
    free(frame->out);
    free(frame->trouble);
    free(frame->patches);
    free(frame->card_patches);
}

/* A frame that stands twice: the first row counts. Names stay until all are looked at, as the
 * sorted entries point to them. */
static int drop_doubles(struct carn_plan *plan, struct names *names, struct carn_error *err)
{
    size_t kept = 0;
    bool *twice = carn_alloc(plan->count + 1, sizeof *twice, err);
    int rc = twice != NULL ? sort_names(plan, names, err) : -1;
    for (size_t i = 0; rc == 0 && i < plan->count; i++) {
        const struct entry *first = find_name(names, plan->frames[i].name);
        twice[i] = first != NULL && first->row != i;
        if (twice[i])
            rc = add_note(plan, err, "job.tsv: line %zu: %s stands twice, the first row counts",
                          plan->frames[i].line, plan->frames[i].name);
    }
    for (size_t i = 0; rc == 0 && i < plan->count; i++) {
        struct carn_plan_frame frame = plan->frames[i];
        if (twice[i])
            clear_frame(&frame);
        else
            plan->frames[kept++] = frame;
    }
    free(twice);
    if (rc != 0)
        return -1;
    plan->count = kept;
    return sort_names(plan, names, err);
}

static int read_job(struct carn_plan *plan, struct names *names, struct carn_error *err)
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

/* ---- files ---- */

static int look_at_file(struct carn_plan_frame *frame, struct carn_error *err)
{
    char path[4096], why[4200];
    struct stat st;
    if (snprintf(path, sizeof path, "frames/%s", frame->name) >= (int)sizeof path)
        return carn_fail(err, CARN_LIMIT, "frames/%.60s...: the name is too long", frame->name);
    /* stat() follows links and never blocks; a FIFO or a device would when it is opened. */
    if (stat(path, &st) != 0)
        snprintf(why, sizeof why, "%s: %s", path,
                 errno == ENOENT ? "no such file" : strerror(errno));
    else if (!S_ISREG(st.st_mode))
        snprintf(why, sizeof why, "%s: is not a plain file", path);
    else {
        frame->size = (long long)st.st_size;
        frame->changed = (long long)st.st_mtim.tv_sec * 1000000000 + st.st_mtim.tv_nsec;
        return 0;
    }
    frame->trouble = carn_copy(why, err);
    return frame->trouble != NULL ? 0 : -1;
}

static int count_rowless(struct carn_plan *plan, const struct names *names, struct carn_error *err)
{
    DIR *dir = opendir("frames");
    size_t left = 0;
    char sample[300] = "";
    if (dir == NULL)
        return carn_fail(err, CARN_SYSTEM, "frames: cannot be read: %s", strerror(errno));
    const struct dirent *entry;
    while ((entry = readdir(dir)) != NULL) {
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0 ||
            find_name(names, entry->d_name) != NULL)
            continue;
        if (left++ == 0 || strcmp(entry->d_name, sample) < 0)
            snprintf(sample, sizeof sample, "%s", entry->d_name);
    }
    closedir(dir);
    if (left == 0)
        return 0;
    return add_note(plan, err, "frames/ holds %zu file%s without a row in job.tsv (%s%s)", left,
                    left == 1 ? "" : "s", sample, left == 1 ? "" : ", ...; carn-job-new adds them");
}

/* ---- cards ---- */

static const struct carn_plan_frame *by_stem(const struct carn_plan *plan, const char *card,
                                             struct carn_error *err)
{
    const struct carn_plan_frame *found = NULL;
    for (size_t i = 0; i < plan->count && found == NULL; i++) {
        char *stem = stem_of(plan->frames[i].name, err);
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

/* The frame that shows the card of frame i: listed, else a file of frames/, else by its name
 * without a suffix. */
static int find_card(struct carn_plan *plan, size_t i, struct names *names, struct carn_error *err)
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
    const struct entry *entry = find_name(names, card);
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

/* ---- ids ---- */

/* work/ids.tsv: what got which number. One is never given twice. */
struct ids {
    size_t count, room, highest, known;
    struct entry *entries; /* key and place in text */
    char **ids;
    bool grown;
};

static int ids_add(struct ids *ids, const char *key, const char *id, struct carn_error *err)
{
    if (ids->count == ids->room) {
        size_t room = ids->room * 2 + 64;
        struct entry *entries = carn_grow(ids->entries, room, sizeof *entries, err);
        if (entries == NULL)
            return -1;
        ids->entries = entries;
        char **texts = carn_grow(ids->ids, room, sizeof *texts, err);
        if (texts == NULL)
            return -1;
        ids->ids = texts;
        ids->room = room;
    }
    ids->entries[ids->count] = (struct entry){carn_copy(key, err), ids->count};
    ids->ids[ids->count] = carn_copy(id, err);
    size_t number = strtoul(id, NULL, 10);
    ids->highest = number > ids->highest ? number : ids->highest;
    return ids->entries[ids->count].name != NULL && ids->ids[ids->count++] != NULL ? 0 : -1;
}

static int ids_read(struct ids *ids, struct carn_error *err)
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
        qsort(ids->entries, ids->count, sizeof *ids->entries, by_name);
    return rc;
}

static int ids_give(struct ids *ids, const char *kind, const char *name, char id[CARN_ID],
                    struct carn_error *err)
{
    char key[4200];
    if (snprintf(key, sizeof key, "%s %s", kind, name) >= (int)sizeof key)
        return carn_fail(err, CARN_LIMIT, "'%.60s...': the name is too long", name);
    struct names known = {ids->known, ids->entries};
    const struct entry *entry = find_name(&known, key);
    if (entry != NULL && ids->ids != NULL) {
        snprintf(id, CARN_ID, "%s", ids->ids[entry->row]);
        return 0;
    }
    carn_plan_id(id, ids->highest + 1, name);
    ids->grown = true;
    return ids_add(ids, key, id, err);
}

static int ids_write(const struct ids *ids, struct carn_error *err)
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

static void ids_clear(struct ids *ids)
{
    for (size_t i = 0; i < ids->count; i++) {
        free(ids->entries[i].name);
        free(ids->ids[i]);
    }
    free(ids->entries);
    free(ids->ids);
}

/* ---- groups ---- */

/* A person of a frame with the group it belongs to and the curve that serves it there. */
struct member {
    char *group, *curve; /* keys */
    size_t frame, person;
};

static int by_group(const void *a, const void *b)
{
    const struct member *x = a, *y = b;
    int order = strcmp(x->group, y->group);
    if (order == 0)
        order = strcmp(x->curve, y->curve);
    if (order == 0)
        order = x->frame < y->frame ? -1 : x->frame > y->frame;
    return order != 0 ? order : x->person < y->person ? -1 : x->person > y->person;
}

static char *joined(struct carn_error *err, const char *a, const char *b, const char *c)
{
    size_t size = strlen(a) + strlen(b) + strlen(c) + 3;
    char *text = carn_alloc(size, 1, err);
    if (text != NULL)
        snprintf(text, size, "%s\n%s\n%s", a, b, c);
    return text;
}

static int add_members(struct carn_plan *plan, size_t i, struct member *members, size_t *count,
                       struct carn_error *err)
{
    struct carn_plan_frame *frame = &plan->frames[i];
    char *names[CARN_PEOPLE];
    struct carn_error why = {0};
    int people = carn_plan_people(frame->subject, names, &why);
    if (people < 0)
        return carn_fail_at(err, CARN_INPUT, "job.tsv", "line %zu: %s", frame->line, why.text);
    frame->people = (size_t)people;
    for (size_t k = 0; k < frame->people; k++) {
        bool nameless = strcmp(names[k], "-") == 0;
        members[*count] = (struct member){
            .group = nameless ? joined(err, "frame", frame->name, "")
                              : joined(err, "subject", names[k], ""),
            .curve = frame->own_curve ? joined(err, "frame", frame->name, "")
                                      : joined(err, "camera", frame->camera, frame->card),
            .frame = i,
            .person = k};
        free(names[k]);
        if (members[*count].group == NULL || members[(*count)++].curve == NULL)
            return -1;
    }
    return 0;
}

static int number_groups(struct carn_plan *plan, struct member *members, size_t count,
                         struct ids *ids, struct carn_error *err)
{
    qsort(members, count, sizeof *members, by_group);
    plan->group = carn_alloc(count + 1, sizeof *plan->group, err);
    if (plan->group == NULL)
        return -1;
    for (size_t i = 0; i < count; i++) {
        bool first = i == 0 || strcmp(members[i].group, members[i - 1].group) != 0;
        if (first) {
            struct carn_plan_group *group = &plan->group[plan->groups++];
            char *name = strchr(members[i].group, '\n') + 1;
            *strchr(name, '\n') = '\0'; /* the key ends here from now on, in all uses alike */
            bool nameless = members[i].group[0] == 'f';
            *group = (struct carn_plan_group){.subject = carn_copy(nameless ? "-" : name, err)};
            if (group->subject == NULL ||
                ids_give(ids, nameless ? "alone" : "subject", name, group->id, err) != 0)
                return -1;
            name[strlen(name)] = '\n';
        }
        struct carn_plan_group *group = &plan->group[plan->groups - 1];
        if (first || strcmp(members[i].curve, members[i - 1].curve) != 0)
            group->curves++;
        struct carn_plan_frame *frame = &plan->frames[members[i].frame];
        frame->group[members[i].person] = plan->groups - 1;
        frame->curve[members[i].person] = group->curves;
    }
    return 0;
}

static int make_groups(struct carn_plan *plan, struct ids *ids, struct carn_error *err)
{
    size_t count = 0;
    struct member *members = carn_alloc(plan->count * CARN_PEOPLE + 1, sizeof *members, err);
    int rc = members != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < plan->count; i++)
        if (plan->frames[i].listed)
            rc = add_members(plan, i, members, &count, err);
    if (rc == 0)
        rc = number_groups(plan, members, count, ids, err);
    for (size_t i = 0; i < count; i++) {
        free(members[i].group);
        free(members[i].curve);
    }
    free(members);
    return rc;
}

/* ---- all of it ---- */

static int check_follow(const struct carn_plan *plan, struct carn_error *err)
{
    const char *follow = plan->settings->value[CARN_SET_FOLLOW];
    if (strcmp(follow, "none") == 0)
        return 0;
    for (size_t i = 0; i < plan->count; i++)
        if (strcmp(plan->frames[i].camera, follow) == 0)
            return 0;
    return carn_fail(err, CARN_INPUT, "Makefile: FOLLOW = %s: no camera of job.tsv is called so",
                     follow);
}

static int fill_frames(struct carn_plan *plan, const struct patch_index *index, struct names *names,
                       struct ids *ids, struct carn_error *err)
{
    size_t listed = plan->count;
    for (size_t i = 0; i < listed; i++)
        if (find_card(plan, i, names, err) != 0)
            return -1;
    for (size_t i = 0; i < plan->count; i++) {
        struct carn_plan_frame *frame = &plan->frames[i];
        bool skin;
        if (look_at_file(frame, err) != 0 ||
            ids_give(ids, "frame", frame->name, frame->id, err) != 0)
            return -1;
        frame->patches = serving(index, frame->name, false, &frame->given, err);
        if (frame->shows_card)
            frame->card_patches = serving(index, frame->name, true, &skin, err);
        if (err->kind != CARN_NONE)
            return -1;
    }
    return 0;
}

int carn_plan_make(const struct carn_settings *settings, bool dry, struct carn_plan *plan,
                   struct carn_error *err)
{
    struct names names = {0};
    struct patch_index index = {0};
    struct ids ids = {0};
    *plan = (struct carn_plan){.settings = settings};
    int rc = read_job(plan, &names, err);
    if (rc == 0)
        rc = check_follow(plan, err);
    if (rc == 0)
        rc = index_patches(&index, err);
    if (rc == 0)
        rc = ids_read(&ids, err);
    if (rc == 0)
        rc = fill_frames(plan, &index, &names, &ids, err);
    if (rc == 0)
        rc = make_groups(plan, &ids, err);
    if (rc == 0) {
        size_t listed = 0;
        while (listed < plan->count && plan->frames[listed].listed)
            listed++;
        rc = carn_plan_out_names(plan->frames, listed, settings->value[CARN_SET_FORMAT], err);
    }
    if (rc == 0)
        rc = count_rowless(plan, &names, err);
    if (rc == 0 && !dry)
        rc = ids_write(&ids, err);
    free(names.entries);
    index_clear(&index);
    ids_clear(&ids);
    if (rc != 0)
        carn_plan_close(plan);
    return rc;
}

void carn_plan_close(struct carn_plan *plan)
{
    for (size_t i = 0; i < plan->count; i++)
        clear_frame(&plan->frames[i]);
    for (size_t i = 0; i < plan->groups; i++)
        free(plan->group[i].subject);
    for (size_t i = 0; i < plan->note_count; i++)
        free(plan->notes[i]);
    free(plan->frames);
    free(plan->group);
    free(plan->notes);
    *plan = (struct carn_plan){0};
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

int carn_plan_strays(const struct carn_plan *plan, char ***names, size_t *count,
                     struct carn_error *err)
{
    DIR *dir = opendir("out");
    *names = NULL;
    *count = 0;
    char **asked = carn_alloc(plan->count + 1, sizeof *asked, err);
    size_t asked_count = 0;
    int rc = asked != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < plan->count; i++)
        if (plan->frames[i].out != NULL)
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
