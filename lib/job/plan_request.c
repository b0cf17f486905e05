/* plan: the requests to the steps, a folder a frame, a card, a group. Each is written to its file,
 * or compared with it. */
#define _XOPEN_SOURCE 700
#include "job/plan_own.h"

#include "base/tool.h"
#include "job/files.h"
#include "job/record.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- one file ---- */

void plan_reason(struct plan_writer *w, const char *reason)
{
    size_t used = strlen(w->reason);
    if (strstr(w->reason, reason) == NULL)
        snprintf(w->reason + used, sizeof w->reason - used, "%s%s", used > 0 ? ", " : "", reason);
}

static const char *meaning(const char *key)
{
    static const struct {
        const char *key, *words;
    } known[] = {
        {"size", "original changed"},
        {"changed", "original changed"},
        {"trouble", "original there or not"},
        {"subject", "subject"},
        {"camera", "camera"},
        {"card", "card"},
        {"given", "its rows in patches.tsv"},
        {"out", "name of the delivered file"},
        {"approved", "approved"},
        {"groups", "who shares its colour"},
        {"version", "another version of the programs"},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strcmp(known[i].key, key) == 0)
            return known[i].words;
    return key;
}

/* Which keys of two records differ. */
static void compare_records(struct plan_writer *w, const char *old, const char *new)
{
    while (*new != '\0') {
        size_t n = strcspn(new, "\n"), key = strcspn(new, "\t");
        char line[4200];
        snprintf(line, sizeof line, "\n%.*s\n", (int)(n < 4096 ? n : 4096), new);
        if (strncmp(old, line + 1, n + 1) != 0 && strstr(old, line) == NULL && key < n) {
            char name[64];
            snprintf(name, sizeof name, "%.*s", (int)(key < 60 ? key : 60), new);
            plan_reason(w, meaning(name));
        }
        new += n + (new[n] == '\n');
    }
}

/* Closes the page and keeps it, or says what is different. what: NULL for records. */
int plan_put(struct plan_writer *w, struct carn_page *page, const char *path, const char *what)
{
    if (!w->dry)
        return carn_page_keep(page, path, w->err) < 0 ? -1 : 0;
    if (carn_page_close(page, w->err) != 0)
        return -1;
    struct carn_error ignored = {0};
    char *old = carn_text(path, &ignored);
    if (old == NULL)
        plan_reason(w, "new");
    else if (strcmp(old, page->text) != 0 && what != NULL)
        plan_reason(w, what);
    else if (strcmp(old, page->text) != 0)
        compare_records(w, old, page->text);
    free(old);
    free(page->text);
    return 0;
}

static int make_folder(const struct plan_writer *w, const char *kind, const char *id)
{
    char path[CARN_ID + 32];
    snprintf(path, sizeof path, "work/%s/%s", kind, id);
    return w->dry ? 0 : carn_folder(path, w->err);
}

void plan_path(char path[CARN_ID + 64], const char *kind, const char *id, const char *file)
{
    snprintf(path, CARN_ID + 64, "work/%s/%s/%s", kind, id, file);
}

bool plan_missing(const char *kind, const char *id, const char *file)
{
    char path[CARN_ID + 64];
    plan_path(path, kind, id, file);
    return access(path, F_OK) != 0;
}

/* ---- requests ---- */

static const char *setting(const struct plan_writer *w, enum carn_setting which)
{
    return w->plan->settings->value[which];
}

/* What every measurement depends on. */
static void put_measuring(const struct plan_writer *w, FILE *to)
{
    carn_record_put(to, "version", CARN_VERSION);
    carn_record_put(to, "separation", w->plan->settings->separation);
    carn_record_put(to, "separation_sha256", w->separation_sum);
    carn_record_put(to, "black_point", setting(w, CARN_SET_BLACK_POINT));
}

static void put_original(FILE *to, const struct carn_plan_frame *frame)
{
    carn_record_put(to, "frame", frame->name);
    carn_record_print(to, "size", "%lld", frame->size);
    carn_record_print(to, "changed", "%lld", frame->changed);
    carn_record_put(to, "trouble", frame->trouble != NULL ? frame->trouble : "-");
}

const char *plan_card_id(const struct plan_writer *w, const struct carn_plan_frame *frame)
{
    return frame->card_at == SIZE_MAX ? "-" : w->plan->frames[frame->card_at].id;
}

static int put_patches(struct plan_writer *w, const char *kind, const char *id, const char *rows)
{
    char path[CARN_ID + 64];
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    carn_patch_print_header(page.to);
    if (rows != NULL)
        fputs(rows, page.to);
    plan_path(path, kind, id, "patches.tsv");
    return plan_put(w, &page, path, "its rows in patches.tsv");
}

int plan_put_frame(struct plan_writer *w, const struct carn_plan_frame *frame)
{
    char path[CARN_ID + 64];
    struct carn_page page;
    if (make_folder(w, "frame", frame->id) != 0 || carn_page_open(&page, w->err) != 0)
        return -1;
    carn_record_begin(page.to);
    put_original(page.to, frame);
    carn_record_put(page.to, "subject", frame->subject);
    carn_record_put(page.to, "camera", frame->camera);
    carn_record_put(page.to, "card", plan_card_id(w, frame));
    carn_record_put(page.to, "shows_card", frame->shows_card ? "yes" : "no");
    carn_record_put(page.to, "given", frame->given ? "yes" : "no");
    put_measuring(w, page.to);
    plan_path(path, "frame", frame->id, "request.tsv");
    return plan_put(w, &page, path, NULL) != 0 ? -1
                                               : put_patches(w, "frame", frame->id, frame->patches);
}

int plan_put_delivery(struct plan_writer *w, const struct carn_plan_frame *frame)
{
    char path[CARN_ID + 64];
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    carn_record_begin(page.to);
    carn_record_put(page.to, "out", frame->out);
    carn_record_put(page.to, "approved", frame->approved ? "yes" : "no");
    static const enum carn_setting used[] = {
        CARN_SET_AIM,         CARN_SET_BOUND,      CARN_SET_STRENGTH, CARN_SET_DEPTH,
        CARN_SET_COMPRESSION, CARN_SET_QUALITY,    CARN_SET_PROFILE,  CARN_SET_LOOK,
        CARN_SET_SKIN,        CARN_SET_CONFIDENCE, CARN_SET_FOLLOW,
    };
    for (size_t i = 0; i < sizeof used / sizeof *used; i++)
        carn_record_put(page.to, carn_setting_names[used[i]], setting(w, used[i]));
    carn_record_put(page.to, "PROFILE_sha256", w->profile_sum);
    carn_record_put(page.to, "LOOK_sha256", w->look_sum);
    fputs("groups\t", page.to);
    for (size_t k = 0; k < frame->people; k++)
        fprintf(page.to, "%s%s %zu", k > 0 ? " " : "", w->plan->group[frame->group[k]].id,
                frame->curve[k]);
    fputc('\n', page.to);
    plan_path(path, "frame", frame->id, "deliver.tsv");
    return plan_put(w, &page, path, NULL);
}

int plan_put_card(struct plan_writer *w, const struct carn_plan_frame *frame)
{
    char path[CARN_ID + 64];
    struct carn_page page;
    if (make_folder(w, "card", frame->id) != 0 || carn_page_open(&page, w->err) != 0)
        return -1;
    carn_record_begin(page.to);
    put_original(page.to, frame);
    carn_record_put(page.to, "EQUALISE", setting(w, CARN_SET_EQUALISE));
    put_measuring(w, page.to);
    plan_path(path, "card", frame->id, "request.tsv");
    return plan_put(w, &page, path, NULL) != 0
               ? -1
               : put_patches(w, "card", frame->id, frame->card_patches);
}

int plan_put_cards(struct plan_writer *w)
{
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    fputs("id\n", page.to);
    for (size_t i = 0; i < w->plan->count; i++)
        if (w->plan->frames[i].shows_card)
            fprintf(page.to, "%s\n", w->plan->frames[i].id);
    return plan_put(w, &page, "work/cards.tsv", "which cards there are");
}

int plan_put_group(struct plan_writer *w, size_t g)
{
    const struct carn_plan *plan = w->plan;
    const struct carn_plan_group *group = &plan->group[g];
    char path[CARN_ID + 64];
    struct carn_page page;
    if (make_folder(w, "group", group->id) != 0 || carn_page_open(&page, w->err) != 0)
        return -1;
    carn_record_begin(page.to);
    carn_record_put(page.to, "subject", group->subject);
    carn_record_put(page.to, "AIM", setting(w, CARN_SET_AIM));
    carn_record_put(page.to, "aims.tsv", w->aims_sum);
    carn_record_put(page.to, "BOUND", setting(w, CARN_SET_BOUND));
    carn_record_put(page.to, "STRENGTH", setting(w, CARN_SET_STRENGTH));
    carn_record_put(page.to, "CONFIDENCE", setting(w, CARN_SET_CONFIDENCE));
    carn_record_put(page.to, "FOLLOW", setting(w, CARN_SET_FOLLOW));
    carn_record_print(page.to, "curves", "%zu", group->curves);
    put_measuring(w, page.to);
    plan_path(path, "group", group->id, "request.tsv");
    if (plan_put(w, &page, path, NULL) != 0 || carn_page_open(&page, w->err) != 0)
        return -1;
    fputs("id\tframe\tperson\tpeople\tcurve\tcamera\n", page.to);
    for (size_t i = 0; i < plan->count; i++)
        for (size_t k = 0; k < plan->frames[i].people; k++) {
            if (plan->frames[i].group[k] != g)
                continue;
            fprintf(page.to, "%s\t", plan->frames[i].id);
            carn_table_print(page.to, plan->frames[i].name);
            fprintf(page.to, "\t%zu\t%zu\t%zu\t", k + 1, plan->frames[i].people,
                    plan->frames[i].curve[k]);
            carn_table_print(page.to, plan->frames[i].camera);
            fputc('\n', page.to);
        }
    plan_path(path, "group", group->id, "members.tsv");
    return plan_put(w, &page, path, "who belongs to it");
}

int plan_sum_files(struct plan_writer *w)
{
    const struct carn_settings *s = w->plan->settings;
    strcpy(w->profile_sum, "-");
    strcpy(w->look_sum, "-");
    strcpy(w->aims_sum, "-");
    if (carn_sha256(s->separation, w->separation_sum, w->err) != 0)
        return -1;
    if (!carn_setting_is(s, CARN_SET_LOOK, "none") &&
        carn_sha256(s->value[CARN_SET_LOOK], w->look_sum, w->err) != 0)
        return -1;
    if (!carn_setting_is(s, CARN_SET_PROFILE, "same") &&
        access(s->value[CARN_SET_PROFILE], F_OK) == 0 &&
        carn_sha256(s->value[CARN_SET_PROFILE], w->profile_sum, w->err) != 0)
        return -1;
    char *aims = carn_text("aims.tsv", w->err);
    if (aims != NULL)
        snprintf(w->aims_sum, sizeof w->aims_sum, "%016llx", carn_text_sum(0, aims));
    free(aims);
    return w->err->kind == CARN_NONE ? 0 : -1;
}
