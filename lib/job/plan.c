/* plan: from the job's tables and files. */
#define _XOPEN_SOURCE 700 /* st_mtim */
#include "job/plan_own.h"

#include "base/match.h"

#include <dirent.h>
#include <errno.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

__attribute__((format(printf, 3, 4))) int plan_note(struct carn_plan *plan, struct carn_error *err,
                                                    const char *format, ...)
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

char *plan_stem(const char *name, struct carn_error *err)
{
    char *stem = carn_copy(name, err);
    if (stem != NULL)
        stem[carn_stem(stem)] = '\0';
    return stem;
}

int plan_by_name(const void *a, const void *b)
{
    const struct plan_entry *x = a, *y = b;
    int order = strcmp(x->name, y->name);
    return order != 0 ? order : x->row < y->row ? -1 : x->row > y->row;
}

const struct plan_entry *plan_find_name(const struct plan_names *names, const char *name)
{
    struct plan_entry key = {.name = (char *)(uintptr_t)name, .row = 0};
    size_t low = 0, high = names->count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (plan_by_name(&names->entries[middle], &key) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low < names->count && strcmp(names->entries[low].name, name) == 0 ? &names->entries[low]
                                                                             : NULL;
}

void plan_clear_frame(struct carn_plan_frame *frame)
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

static int count_rowless(struct carn_plan *plan, const struct plan_names *names,
                         struct carn_error *err)
{
    DIR *dir = opendir("frames");
    size_t left = 0;
    char sample[300] = "";
    if (dir == NULL)
        return carn_fail(err, CARN_SYSTEM, "frames: cannot be read: %s", strerror(errno));
    const struct dirent *entry;
    while ((entry = readdir(dir)) != NULL) {
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0 ||
            plan_find_name(names, entry->d_name) != NULL)
            continue;
        if (left++ == 0 || strcmp(entry->d_name, sample) < 0)
            snprintf(sample, sizeof sample, "%s", entry->d_name);
    }
    closedir(dir);
    if (left == 0)
        return 0;
    return plan_note(plan, err, "frames/ holds %zu file%s without a row in job.tsv (%s%s)", left,
                     left == 1 ? "" : "s", sample,
                     left == 1 ? "" : ", ...; carn-job-new adds them");
}

/* One person under two names has two colours, one camera two curves. */
static int note_alike(struct carn_plan *plan, struct carn_error *err)
{
    size_t most = plan->count > plan->groups ? plan->count : plan->groups;
    const char **names = carn_alloc(most + 1, sizeof *names, err);
    int rc = names != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < plan->groups; i++)
        names[i] = plan->group[i].subject;
    if (rc == 0)
        rc = plan_note_alike(plan, "people", names, plan->groups, err);
    size_t count = 0;
    for (size_t i = 0; rc == 0 && i < plan->count; i++)
        if (plan->frames[i].listed)
            names[count++] = plan->frames[i].camera;
    if (rc == 0)
        rc = plan_note_alike(plan, "cameras", names, count, err);
    free(names);
    return rc;
}

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

static int fill_frames(struct carn_plan *plan, const struct plan_patches *index,
                       struct plan_names *names, struct plan_ids *ids, struct carn_error *err)
{
    size_t listed = plan->count;
    for (size_t i = 0; i < listed; i++)
        if (plan_find_card(plan, i, names, err) != 0)
            return -1;
    for (size_t i = 0; i < plan->count; i++) {
        struct carn_plan_frame *frame = &plan->frames[i];
        bool skin;
        if (look_at_file(frame, err) != 0 ||
            plan_ids_give(ids, "frame", frame->name, frame->id, err) != 0)
            return -1;
        frame->patches = plan_rows_serving(index, frame->name, false, &frame->given, err);
        if (frame->shows_card)
            frame->card_patches = plan_rows_serving(index, frame->name, true, &skin, err);
        if (err->kind != CARN_NONE)
            return -1;
    }
    return 0;
}

/* Would the frame have been delivered under this name, had others not had it first? */
static bool may_be_called(const struct carn_plan_frame *frame, const char *file, const char *format)
{
    const char *dot = strrchr(file, '.');
    size_t stem = carn_stem(frame->name);
    if (strcmp(format, "same") == 0)
        return strcmp(file, frame->name) == 0;
    return strncmp(file, frame->name, stem) == 0 && dot != NULL && strcmp(dot + 1, format) == 0;
}

/* An approved picture keeps the name that it lies under in out/: when rows change places, a picture
 * of the same stem would get it and be written over the approved one. */
static int keep_approved(struct carn_plan *plan, struct carn_error *err)
{
    struct carn_table *made = carn_table_try("report/provenance.tsv");
    int file = made != NULL ? carn_table_find(made, "file") : -1;
    for (size_t i = 0; file >= 0 && i < plan->count; i++) {
        struct carn_plan_frame *frame = &plan->frames[i];
        if (!frame->approved || !frame->listed)
            continue;
        size_t row = carn_table_row(made, "frame", frame->name);
        const char *name = row != SIZE_MAX ? carn_table_cell(made, row, file) : "";
        if (carn_plain_name(name) &&
            may_be_called(frame, name, plan->settings->value[CARN_SET_FORMAT]))
            frame->out = carn_copy(name, err);
    }
    carn_table_close(made);
    return err->kind == CARN_NONE ? 0 : -1;
}

int carn_plan_make(const struct carn_settings *settings, bool dry, struct carn_plan *plan,
                   struct carn_error *err)
{
    struct plan_names names = {0};
    struct plan_patches index = {0};
    struct plan_ids ids = {0};
    *plan = (struct carn_plan){.settings = settings};
    int rc = plan_read_rows(plan, &names, err);
    if (rc == 0)
        rc = check_follow(plan, err);
    if (rc == 0)
        rc = plan_index_patches(&index, err);
    if (rc == 0)
        rc = plan_ids_read(&ids, err);
    if (rc == 0)
        rc = fill_frames(plan, &index, &names, &ids, err);
    if (rc == 0)
        rc = plan_make_groups(plan, &ids, err);
    if (rc == 0) {
        size_t listed = 0;
        while (listed < plan->count && plan->frames[listed].listed)
            listed++;
        rc = keep_approved(plan, err);
        if (rc == 0)
            rc = carn_plan_out_names(plan->frames, listed, settings->value[CARN_SET_FORMAT], err);
    }
    if (rc == 0)
        rc = note_alike(plan, err);
    if (rc == 0)
        rc = count_rowless(plan, &names, err);
    if (rc == 0 && !dry)
        rc = plan_ids_write(&ids, err);
    free(names.entries);
    plan_index_clear(&index);
    plan_ids_clear(&ids);
    if (rc != 0)
        carn_plan_close(plan);
    return rc;
}

void carn_plan_close(struct carn_plan *plan)
{
    for (size_t i = 0; i < plan->count; i++)
        plan_clear_frame(&plan->frames[i]);
    for (size_t i = 0; i < plan->groups; i++)
        free(plan->group[i].subject);
    for (size_t i = 0; i < plan->note_count; i++)
        free(plan->notes[i]);
    free(plan->frames);
    free(plan->group);
    free(plan->notes);
    *plan = (struct carn_plan){0};
}
