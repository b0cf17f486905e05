#define _XOPEN_SOURCE 700
#include "job/report_own.h"

#include "frame/patch.h"
#include "job/kept.h"
#include "job/record.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The names of a table's columns, unless a table before it printed them; more: those to add. */
static void put_names(FILE *to, const struct carn_table *table, const char *more, bool *put)
{
    if (*put)
        return;
    carn_table_print_names(to, table);
    fprintf(to, "%s\n", more);
    *put = true;
}

/* Appends the rows of a table that a step left. */
static void copy_table(FILE *to, const char *path, bool *header)
{
    struct carn_table *table = carn_table_try(path);
    for (size_t i = 0; table != NULL && i < carn_table_rows(table); i++) {
        put_names(to, table, "", header);
        carn_table_print_row(to, table, i, -1, NULL);
        fputc('\n', to);
    }
    carn_table_close(table);
}

/* Is the group in the frame's list? */
static bool is_of_group(const struct carn_story_frame *f, const char *group, size_t length)
{
    size_t n;
    for (const char *at = f->group, *id; (id = carn_story_group(&at, &n)) != NULL;)
        if (n == length && strncmp(id, group, n) == 0)
            return true;
    return false;
}

/* In the order of the frames, from the tables of their groups. */
int report_before(struct report *w)
{
    struct carn_page page;
    const struct carn_story *s = w->story;
    bool header = false;
    size_t length;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    for (size_t i = 0; i < s->count; i++) /* of several people, each one's group */
        for (const char *at = s->frames[i].group, *id;
             (id = carn_story_group(&at, &length)) != NULL;) {
            bool first = true;
            for (size_t k = 0; first && k < i; k++)
                first = !is_of_group(&s->frames[k], id, length);
            char path[300];
            snprintf(path, sizeof path, "work/group/%.*s/before.tsv", (int)length, id);
            if (first)
                copy_table(page.to, path, &header);
        }
    return carn_page_keep(&page, "report/before.tsv", w->err) < 0 ? -1 : 0;
}

int report_after(struct report *w, const char *file, const char *to)
{
    struct carn_page page;
    bool header = false;
    char path[CARN_KEPT_PATH];
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    for (size_t i = 0; i < w->story->count; i++) {
        const struct carn_story_frame *f = &w->story->frames[i];
        if (f->failed == NULL)
            copy_table(page.to, carn_kept_path(path, f->id, file), &header);
    }
    return carn_page_keep(&page, to, w->err) < 0 ? -1 : 0;
}

/* What made the frame, and what came of it. */
static void put_made(FILE *to, const struct carn_story_frame *f, const struct carn_table *made,
                     bool *header)
{
    static const enum carn_result_value values[] = {CARN_RESULT_L, CARN_RESULT_A, CARN_RESULT_B,
                                                    CARN_RESULT_MAGENTA_BY_CYAN,
                                                    CARN_RESULT_YELLOW_BY_MAGENTA};
    put_names(
        to, made,
        "\tdelivered_L\tdelivered_a\tdelivered_b\tmagenta_by_cyan\tyellow_by_magenta\tverdict",
        header);
    carn_table_print_row(to, made, 0, -1, NULL);
    for (size_t k = 0; k < sizeof values / sizeof *values; k++) {
        fputc('\t', to);
        carn_print_number(to, f->after.value[values[k]], 4);
    }
    fprintf(to, "\t%s\n", f->failed != NULL ? "not renewed" : carn_verdict_word(f->verdict));
}

int report_provenance(struct report *w)
{
    struct carn_page page;
    bool header = false;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    for (size_t i = 0; i < w->story->count; i++) {
        const struct carn_story_frame *f = &w->story->frames[i];
        bool none = f->card_only || (f->failed != NULL && !f->not_renewed);
        struct carn_table *made = none ? NULL : carn_kept_made(f->id);
        if (made != NULL)
            put_made(page.to, f, made, &header);
        carn_table_close(made);
    }
    return carn_page_keep(&page, "report/provenance.tsv", w->err) < 0 ? -1 : 0;
}

static const char *picture(char buffer[200], const struct carn_story_frame *f, const char *which)
{
    snprintf(buffer, 200, "report/pictures/%s.%s.jpg", f->id, which);
    if (f->card_only || access(buffer, R_OK) != 0 || (f->failed != NULL && !f->not_renewed))
        return "-";
    return buffer + strlen("report/");
}

static const char *state_of(const struct report *w, const struct carn_story_frame *f)
{
    return f->failed != NULL ? (f->not_renewed ? "not renewed" : "failed")
           : f->card_only    ? "card"
           : w->audit        ? "measured"
                             : "delivered";
}

static const char *card_of(const struct carn_story *s, const struct carn_story_frame *f)
{
    for (size_t k = 0; k < s->cards; k++)
        if (strcmp(s->card[k].id, f->card) == 0)
            return s->card[k].name;
    return "-";
}

static void put_texts(FILE *to, const struct report *w, const struct carn_story_frame *f)
{
    char before[200], after[200], confidence[CARN_NUMBER], faces[32];
    bool failed = f->failed != NULL;
    snprintf(faces, sizeof faces, "%zu", f->faces);
    const char *const cells[] = {
        f->name,
        f->id,
        f->subject,
        f->camera,
        card_of(w->story, f),
        f->group,
        f->out,
        f->approved ? "yes" : "no",
        state_of(w, f),
        failed ? "-" : carn_verdict_word(f->verdict),
        failed ? "-" : f->words,
        failed ? "-" : f->flags,
        carn_ground_word(f->ground),
        f->given ? "-" : carn_number_text(confidence, f->confidence, 3),
        faces,
        carn_depth_of(f->neutral.value[CARN_RESULT_L]),
        f->needs_person || failed || f->verdict >= CARN_UNSURE ? "yes" : "no",
        f->outlier ? "yes" : "no",
        picture(before, f, "before"),
        w->audit ? "-" : picture(after, f, "after"),
        failed              ? f->failed
        : f->frozen != NULL ? f->frozen
                            : "-",
    };
    for (size_t c = 0; c < sizeof cells / sizeof *cells; c++) {
        fputs(c > 0 ? "\t" : "", to);
        carn_table_print(to, cells[c]);
    }
}

/* A row a frame: all that a page needs to show it. */
int report_frames(struct report *w)
{
    static const char *const stages[] = {"shot", "before", "after", "judged"};
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    FILE *to = page.to;
    fputs("frame\tid\tsubject\tcamera\tcard\tgroup\tout\tapproved\tstate\tverdict\twords\tflags\t"
          "grounds\tconfidence\tfaces\tdepth\tneeds_person\toutlier\tpicture_before\t"
          "picture_after\tmessage",
          to);
    for (size_t k = 0; k < 4; k++)
        for (int v = 0; v < CARN_RESULTS; v++)
            fprintf(to, "\t%s_%s", stages[k], carn_result_names[v]);
    fputc('\n', to);
    for (size_t i = 0; i < w->story->count; i++) {
        const struct carn_story_frame *f = &w->story->frames[i];
        const struct carn_result *const results[] = {&f->shot, &f->neutral, &f->after, &f->judged};
        put_texts(to, w, f);
        for (size_t k = 0; k < 4; k++)
            for (int v = 0; v < CARN_RESULTS; v++) {
                fputc('\t', to);
                carn_print_number(to, results[k]->value[v], 4);
            }
        fputc('\n', to);
    }
    return carn_page_keep(&page, "report/frames.tsv", w->err) < 0 ? -1 : 0;
}

/* Where skin and cards are measured, under the frames' names. */
int report_patches(struct report *w)
{
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    carn_patch_print_header(page.to);
    for (size_t i = 0; i < w->story->count; i++) {
        const struct carn_story_frame *f = &w->story->frames[i];
        for (size_t k = 0; k < 3; k++) {
            char path[300];
            snprintf(path, sizeof path, "work/%s/%s/%s.tsv", k < 2 ? "frame" : "card", f->id,
                     k == 0   ? "faces"
                     : k == 1 ? "squares"
                              : "patches");
            struct carn_table *table = carn_table_try(path);
            for (size_t r = 0; table != NULL && r < carn_table_rows(table); r++) {
                carn_table_print(page.to, f->name);
                for (size_t c = CARN_PATCH_FRAME + 1; c < CARN_PATCH_COLUMNS; c++) {
                    fputc('\t', page.to);
                    carn_table_print(page.to, carn_table_at(table, r, carn_patch_columns[c]));
                }
                fputc('\n', page.to);
            }
            carn_table_close(table);
        }
    }
    return carn_page_keep(&page, "report/patches.tsv", w->err) < 0 ? -1 : 0;
}
