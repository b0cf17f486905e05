#define _XOPEN_SOURCE 700
#include "job/story.h"

#include "base/order.h"
#include "job/files.h"
#include "job/kept.h"
#include "job/record.h"
#include "job/step.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool is_yes(const struct carn_table *table, size_t row, const char *column)
{
    return strcmp(carn_table_text(table, row, column), "yes") == 0;
}

static void read_result(const char *id, const char *file, struct carn_result *result)
{
    struct carn_error ignored = {0};
    char path[CARN_KEPT_PATH];
    (void)carn_result_read(carn_kept_path(path, id, file), NULL, result, &ignored);
}

static char *failed_in(const char *id, const char *file, struct carn_error *err)
{
    char path[CARN_KEPT_PATH];
    if (access(carn_kept_path(path, id, file), F_OK) != 0)
        return carn_copy("the step ended before it was done; run the job again", err);
    return carn_step_failed(path, err);
}

static void read_grounds(struct carn_story_frame *f, double least)
{
    struct carn_error ignored = {0};
    struct carn_grounds grounds;
    char path[CARN_KEPT_PATH];
    (void)carn_grounds_read(carn_kept_path(path, f->id, "grounds.tsv"), &grounds, &ignored);
    f->ground = grounds.ground;
    f->confidence = grounds.confidence;
    f->faces = grounds.faces;
    f->sure = carn_grounds_are_sure(&grounds, least);
    f->card_only = grounds.ground == CARN_GROUND_CARD;
    f->as_it_is = carn_ground_is_as_it_is(grounds.ground);
    carn_grounds_close(&grounds);
}

/* Was its skin moved? Not where no reading of its group is sure: then it is only made neutral. */
static bool was_corrected(const char *id)
{
    struct carn_table *made = carn_kept_made(id);
    bool corrected = made != NULL && strcmp(carn_table_text(made, 0, "curve"), "-") != 0;
    carn_table_close(made);
    return corrected;
}

static bool did_follow(const char *id)
{
    struct carn_table *made = carn_kept_made(id);
    bool follows = made != NULL && strncmp(carn_table_text(made, 0, "aim"), "follow ", 7) == 0;
    carn_table_close(made);
    return follows;
}

static void judge(struct carn_story_frame *f, bool audit)
{
    const struct carn_result *r = &f->judged;
    f->verdict = r->verdict;
    snprintf(f->words, sizeof f->words, "%s", r->words);
    snprintf(f->flags, sizeof f->flags, "%s", r->flags);
    f->needs_person = r->verdict == CARN_HELD && r->held_difference > CARN_HELD_FAR;
    if (f->ground == CARN_GROUND_NONE) {
        f->verdict = CARN_UNSURE;
        snprintf(f->words, sizeof f->words, "no skin found");
    } else if (!f->as_it_is && !audit && !f->corrected) {
        f->verdict = CARN_UNSURE;
        snprintf(f->words, sizeof f->words, "nobody sure in its group, so not corrected");
    } else if (f->as_it_is) {
        f->verdict = CARN_UNJUDGED;
        snprintf(f->words, sizeof f->words, "%s, so as it is",
                 f->ground == CARN_GROUND_GREY ? "grey" : "of one colour");
    }
}

int carn_story_one(const struct carn_table *table, size_t row, bool audit,
                   struct carn_story_frame *f, struct carn_error *err)
{
    char out[4300], path[CARN_KEPT_PATH];
    *f = (struct carn_story_frame){.id = carn_table_text(table, row, "id"),
                                   .name = carn_table_text(table, row, "frame"),
                                   .subject = carn_table_text(table, row, "subject"),
                                   .camera = carn_table_text(table, row, "camera"),
                                   .card = carn_table_text(table, row, "card"),
                                   .out = carn_table_text(table, row, "out"),
                                   .group = carn_table_text(table, row, "groups"),
                                   .approved = is_yes(table, row, "approved"),
                                   .given = is_yes(table, row, "given"),
                                   .shot = carn_result_none(),
                                   .neutral = carn_result_none(),
                                   .after = carn_result_none(),
                                   .judged = carn_result_none(),
                                   .words = "-",
                                   .flags = "-"};
    struct carn_table *how = carn_kept_table(f->id, "deliver.tsv");
    bool look = how != NULL && strcmp(carn_record_get(how, "LOOK"), "none") != 0;
    double least = how != NULL ? strtod(carn_record_get(how, "CONFIDENCE"), NULL) : 0;
    carn_table_close(how);
    f->failed = failed_in(f->id, "readings.tsv", err);
    if (f->failed == NULL && !audit)
        f->failed = failed_in(f->id, "after.tsv", err);
    read_grounds(f, least);
    if (err->kind != CARN_NONE)
        return -1;
    snprintf(out, sizeof out, "out/%s", f->out);
    f->not_renewed = f->failed != NULL && !audit && access(out, F_OK) == 0;
    if (f->failed != NULL || f->card_only)
        return 0;
    read_result(f->id, "shot.tsv", &f->shot);
    read_result(f->id, "readings.tsv", &f->neutral);
    f->corrected = was_corrected(f->id);
    f->follows = did_follow(f->id);
    if (!audit) {
        read_result(f->id, "after.tsv", &f->after);
        f->judged = f->after;
        f->frozen = carn_text(carn_kept_path(path, f->id, "frozen"), err);
        if ((look || f->frozen != NULL) && !f->as_it_is &&
            access(carn_kept_path(path, f->id, "plain.tsv"), F_OK) == 0)
            read_result(f->id, "plain.tsv", &f->judged);
        if (f->frozen != NULL)
            f->frozen[strcspn(f->frozen, "\n")] = '\0';
    }
    judge(f, audit);
    return err->kind == CARN_NONE ? 0 : -1;
}

void carn_story_one_clear(struct carn_story_frame *frame)
{
    free(frame->failed);
    free(frame->frozen);
}

static void print_change(FILE *to, const char *name, double from, double by)
{
    fprintf(to, ", %s ", name);
    carn_print_number(to, from, 2);
    fputs(" to ", to);
    carn_print_number(to, by, 2);
}

void carn_story_line(FILE *to, const struct carn_story_frame *f)
{
    carn_show(to, f->name);
    if (f->failed != NULL) {
        fputs(": failed: ", to);
        carn_show(to, f->failed);
        if (f->not_renewed)
            fputs("; out/ keeps the picture of an earlier run", to);
        return;
    }
    if (f->card_only) {
        fputs(": a card alone, measured and not delivered", to);
        return;
    }
    if (f->as_it_is || f->ground == CARN_GROUND_NONE) {
        fputs(f->as_it_is ? ": " : ": no skin found; its group's curve, not measured", to);
        if (f->as_it_is)
            carn_show(to, f->words);
        return;
    }
    const double *before = f->neutral.value, *after = f->judged.value;
    fputs(": L* ", to);
    carn_print_number(to, after[CARN_RESULT_L], 1);
    print_change(to, "M/C", before[CARN_RESULT_MAGENTA_BY_CYAN],
                 after[CARN_RESULT_MAGENTA_BY_CYAN]);
    print_change(to, "Y/M", before[CARN_RESULT_YELLOW_BY_MAGENTA],
                 after[CARN_RESULT_YELLOW_BY_MAGENTA]);
    fprintf(to, ", %s", carn_verdict_word(f->verdict));
    bool words = strcmp(f->words, "-") != 0, flags = strcmp(f->flags, "-") != 0;
    if (f->verdict == CARN_ON || (!words && !flags))
        return;
    fputs(" (", to);
    if (words)
        carn_show(to, f->words);
    fprintf(to, "%s%s)", words && flags ? "; " : "", flags ? f->flags : "");
}

/* ---- all of them ---- */

const char *carn_story_group(const char **at, size_t *length)
{
    const char *id = *at + strspn(*at, " ");
    *length = strcspn(id, ": ");
    *at = id + strcspn(id, " ");
    return *length > 0 ? id : NULL;
}

/* The table of a group, kept for the next frame, which is often of the same group. */
struct group_table {
    char path[340];
    struct carn_table *table;
};

static const struct carn_table *group_table(struct group_table *last, const char *group,
                                            size_t length)
{
    char path[340];
    snprintf(path, sizeof path, "work/group/%.*s/before.tsv", (int)length, group);
    if (strcmp(path, last->path) != 0) {
        carn_table_close(last->table);
        last->table = carn_table_try(path);
        snprintf(last->path, sizeof last->path, "%s", path);
    }
    return last->table;
}

/* Verdicts before any correction stand in the tables of the groups: of several people's, medians
 * of their figures and the worst verdict, as for what was delivered. */
static void read_scored(struct group_table *last, struct carn_story_frame *f)
{
    enum { MOST = 32 };
    struct carn_result all = carn_result_none(), one;
    double v[CARN_RESULTS][MOST];
    size_t count = 0, length;
    for (const char *at = f->group, *id;
         count < MOST && (id = carn_story_group(&at, &length)) != NULL;) {
        const struct carn_table *table = group_table(last, id, length);
        if (table == NULL)
            continue;
        carn_result_of(table, NULL, f->name, &one);
        if (one.rows == 0)
            continue;
        for (size_t k = 0; k < CARN_RESULTS; k++)
            v[k][count] = one.value[k];
        count++;
        one.rows += all.rows;
        one.held_difference = fmax(one.held_difference, all.held_difference);
        if (all.verdict >= one.verdict && all.rows > 0)
            all.rows = one.rows, all.held_difference = one.held_difference;
        else
            all = one;
    }
    for (size_t k = 0; k < CARN_RESULTS && count > 0; k++) {
        size_t known = 0;
        for (size_t i = 0; i < count; i++)
            if (!isnan(v[k][i]))
                v[k][known++] = v[k][i];
        all.value[k] = known > 0 ? carn_median(v[k], known) : (double)NAN;
    }
    if (count > 0)
        f->neutral = all;
}

static int read_groups(bool audit, struct carn_story *story, struct carn_error *err)
{
    struct group_table last = {"", NULL};
    for (size_t i = 0; i < story->count; i++) {
        struct carn_story_frame *f = &story->frames[i];
        if (f->failed != NULL || f->card_only)
            continue;
        read_scored(&last, f);
        if (last.table == NULL)
            continue;
        if (audit) {
            f->after = f->judged = f->neutral;
            judge(f, true);
        }
    }
    carn_table_close(last.table);
    return err->kind == CARN_NONE ? 0 : -1;
}

/* One median of a figure over the frames of a group. */
static double middle_of(const struct carn_story *story, const size_t *list, size_t count,
                        enum carn_result_value which, double *room)
{
    size_t n = 0;
    for (size_t k = 0; k < count; k++)
        room[n++] = story->frames[list[k]].neutral.value[which];
    return carn_median(room, n);
}

static void mark_outliers(struct carn_story *story, const size_t *list, size_t count, double *room)
{
    double middle[3], far[3];
    for (int k = 0; k < 3; k++)
        middle[k] = middle_of(story, list, count, (enum carn_result_value)k, room);
    for (size_t i = 0; i < count; i++) {
        struct carn_story_frame *f = &story->frames[list[i]];
        for (int k = 0; k < 3; k++)
            far[k] = f->neutral.value[k] - middle[k];
        f->far = room[i] = sqrt(far[0] * far[0] + far[1] * far[1] + far[2] * far[2]);
    }
    double scale = 1.4826 * carn_median(room, count);
    if (count == 2 || scale < 1) /* two that differ: nobody knows which is right */
        scale = 1;
    for (size_t i = 0; i < count; i++) {
        struct carn_story_frame *f = &story->frames[list[i]];
        f->scale = scale;
        f->outlier = f->far > 4 && f->far > 3.5 * scale;
    }
}

static int find_outliers(struct carn_story *story, struct carn_error *err)
{
    size_t *list = carn_alloc(story->count + 1, sizeof *list, err);
    double *room = carn_alloc(story->count + 1, sizeof *room, err);
    bool *done = carn_alloc(story->count + 1, sizeof *done, err);
    bool good = list != NULL && room != NULL && done != NULL;
    for (size_t i = 0; good && i < story->count; i++) {
        size_t count = 0;
        for (size_t k = done[i] ? story->count : i; k < story->count; k++) {
            const struct carn_story_frame *f = &story->frames[k];
            if (strcmp(f->group, story->frames[i].group) != 0)
                continue;
            done[k] = true;
            if (f->failed == NULL && !isnan(f->neutral.value[CARN_RESULT_L]))
                list[count++] = k;
        }
        if (count > 1)
            mark_outliers(story, list, count, room);
    }
    free(list);
    free(room);
    free(done);
    return good ? 0 : -1;
}

static int read_card(struct carn_story *story, size_t row, struct carn_error *err)
{
    struct carn_story_card *card = &story->card[story->cards++];
    char path[300];
    *card = (struct carn_story_card){.id = carn_table_text(story->table, row, "id"),
                                     .name = carn_table_text(story->table, row, "frame"),
                                     .L = (double)NAN,
                                     .flags = "-"};
    for (size_t i = 0; i < story->count; i++)
        card->used += strcmp(story->frames[i].card, card->id) == 0 && !story->frames[i].card_only;
    snprintf(path, sizeof path, "work/card/%s/neutral.tsv", card->id);
    card->failed = access(path, F_OK) == 0 ? carn_step_failed(path, err)
                                           : carn_copy("the step ended before it was done", err);
    if (card->failed != NULL || err->kind != CARN_NONE)
        return err->kind == CARN_NONE ? 0 : -1;
    snprintf(path, sizeof path, "work/card/%s/card.tsv", card->id);
    struct carn_table *table = carn_table_read(path, err);
    double *L = table != NULL ? carn_alloc(carn_table_rows(table) + 1, sizeof *L, err) : NULL;
    size_t n = 0;
    for (size_t i = 0; L != NULL && i < carn_table_rows(table); i++) {
        const char *flags = carn_table_text(table, i, "flags");
        n += carn_table_number(table, i, carn_table_find(table, "L"), &L[n], err) == 1;
        if (strcmp(flags, "-") == 0)
            continue;
        size_t used = strcmp(card->flags, "-") == 0 ? 0 : strlen(card->flags);
        snprintf(card->flags + used, sizeof card->flags - used, "%s%s", used > 0 ? "," : "", flags);
    }
    if (n > 0)
        card->L = carn_median(L, n);
    free(L);
    carn_table_close(table);
    return err->kind == CARN_NONE ? 0 : -1;
}

int carn_story_read(bool audit, struct carn_story *story, struct carn_error *err)
{
    *story = (struct carn_story){.table = carn_table_read("work/frames.tsv", err)};
    if (story->table == NULL)
        return -1;
    size_t rows = carn_table_rows(story->table);
    story->frames = carn_alloc(rows + 1, sizeof *story->frames, err);
    story->card = carn_alloc(rows + 1, sizeof *story->card, err);
    int rc = story->frames != NULL && story->card != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < rows; i++)
        if (is_yes(story->table, i, "listed")) {
            struct carn_story_frame *f = &story->frames[story->count++];
            rc = carn_story_one(story->table, i, audit, f, err);
        }
    for (size_t i = 0; rc == 0 && i < rows; i++)
        if (is_yes(story->table, i, "shows_card"))
            rc = read_card(story, i, err);
    if (rc == 0)
        rc = read_groups(audit, story, err);
    if (rc == 0)
        rc = find_outliers(story, err);
    if (rc == 0 && story->count > 0)
        story->settings = carn_kept_table(story->frames[0].id, "deliver.tsv");
    if (rc == 0 && access("work/facts.tsv", R_OK) == 0)
        story->facts = carn_table_read("work/facts.tsv", err);
    return rc == 0 && err->kind == CARN_NONE ? 0 : -1;
}

const char *carn_story_fact(const struct carn_story *story, const char *frame, const char *column)
{
    size_t row = story->facts != NULL ? carn_table_row(story->facts, "frame", frame) : SIZE_MAX;
    return row != SIZE_MAX ? carn_table_at(story->facts, row, column) : "-";
}

void carn_story_clear(struct carn_story *story)
{
    for (size_t i = 0; i < story->count; i++)
        carn_story_one_clear(&story->frames[i]);
    for (size_t i = 0; i < story->cards; i++)
        free(story->card[i].failed);
    free(story->frames);
    free(story->card);
    carn_table_close(story->table);
    carn_table_close(story->settings);
    carn_table_close(story->facts);
    *story = (struct carn_story){0};
}
