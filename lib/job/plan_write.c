/* plan: written as requests, a folder a frame, a card, a group, and as edges for make. */
#define _XOPEN_SOURCE 700
#include "job/plan.h"

#include "base/tool.h"
#include "job/files.h"
#include "job/record.h"

#include <dirent.h>
#include <errno.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* What is done with the plan: it is written to files, or compared with them. */
struct writer {
    const struct carn_plan *plan;
    bool dry;
    char reason[512]; /* of the frame, card or group at hand, when dry */
    char separation_sum[65], look_sum[65], profile_sum[65], aims_sum[24];
    struct carn_error *err;
};

/* ---- one file ---- */

static void add_reason(struct writer *w, const char *reason)
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
static void compare_records(struct writer *w, const char *old, const char *new)
{
    while (*new != '\0') {
        size_t n = strcspn(new, "\n"), key = strcspn(new, "\t");
        char line[4200];
        snprintf(line, sizeof line, "\n%.*s\n", (int)(n < 4096 ? n : 4096), new);
        if (strncmp(old, line + 1, n + 1) != 0 && strstr(old, line) == NULL && key < n) {
            char name[64];
            snprintf(name, sizeof name, "%.*s", (int)(key < 60 ? key : 60), new);
            add_reason(w, meaning(name));
        }
        new += n + (new[n] == '\n');
    }
}

/* Closes the page and keeps it, or says what is different. what: NULL for records. */
static int put(struct writer *w, struct carn_page *page, const char *path, const char *what)
{
    if (!w->dry)
        return carn_page_keep(page, path, w->err) < 0 ? -1 : 0;
    if (carn_page_close(page, w->err) != 0)
        return -1;
    struct carn_error ignored = {0};
    char *old = carn_text(path, &ignored);
    if (old == NULL)
        add_reason(w, "new");
    else if (strcmp(old, page->text) != 0 && what != NULL)
        add_reason(w, what);
    else if (strcmp(old, page->text) != 0)
        compare_records(w, old, page->text);
    free(old);
    free(page->text);
    return 0;
}

static int make_folder(const struct writer *w, const char *kind, const char *id)
{
    char path[CARN_ID + 32];
    snprintf(path, sizeof path, "work/%s/%s", kind, id);
    return w->dry ? 0 : carn_folder(path, w->err);
}

static void path_of(char path[CARN_ID + 64], const char *kind, const char *id, const char *file)
{
    snprintf(path, CARN_ID + 64, "work/%s/%s/%s", kind, id, file);
}

static bool missing(const char *kind, const char *id, const char *file)
{
    char path[CARN_ID + 64];
    path_of(path, kind, id, file);
    return access(path, F_OK) != 0;
}

/* ---- requests ---- */

static const char *setting(const struct writer *w, enum carn_setting which)
{
    return w->plan->settings->value[which];
}

/* What every measurement depends on. */
static void put_measuring(const struct writer *w, FILE *to)
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

static const char *card_id(const struct writer *w, const struct carn_plan_frame *frame)
{
    return frame->card_at == SIZE_MAX ? "-" : w->plan->frames[frame->card_at].id;
}

static int put_patches(struct writer *w, const char *kind, const char *id, const char *rows)
{
    char path[CARN_ID + 64];
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    fputs("frame\tpatch\ttone\tx\ty\tw\th\ttilt\tpoints\tconfidence\tkind\n", page.to);
    if (rows != NULL)
        fputs(rows, page.to);
    path_of(path, kind, id, "patches.tsv");
    return put(w, &page, path, "its rows in patches.tsv");
}

static int put_frame(struct writer *w, const struct carn_plan_frame *frame)
{
    char path[CARN_ID + 64];
    struct carn_page page;
    if (make_folder(w, "frame", frame->id) != 0 || carn_page_open(&page, w->err) != 0)
        return -1;
    carn_record_begin(page.to);
    put_original(page.to, frame);
    carn_record_put(page.to, "subject", frame->subject);
    carn_record_put(page.to, "camera", frame->camera);
    carn_record_put(page.to, "card", card_id(w, frame));
    carn_record_put(page.to, "shows_card", frame->shows_card ? "yes" : "no");
    carn_record_put(page.to, "given", frame->given ? "yes" : "no");
    put_measuring(w, page.to);
    path_of(path, "frame", frame->id, "request.tsv");
    return put(w, &page, path, NULL) != 0 ? -1 : put_patches(w, "frame", frame->id, frame->patches);
}

static int put_delivery(struct writer *w, const struct carn_plan_frame *frame)
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
    path_of(path, "frame", frame->id, "deliver.tsv");
    return put(w, &page, path, NULL);
}

static int put_card(struct writer *w, const struct carn_plan_frame *frame)
{
    char path[CARN_ID + 64];
    struct carn_page page;
    if (make_folder(w, "card", frame->id) != 0 || carn_page_open(&page, w->err) != 0)
        return -1;
    carn_record_begin(page.to);
    put_original(page.to, frame);
    carn_record_put(page.to, "EQUALISE", setting(w, CARN_SET_EQUALISE));
    put_measuring(w, page.to);
    path_of(path, "card", frame->id, "request.tsv");
    return put(w, &page, path, NULL) != 0 ? -1
                                          : put_patches(w, "card", frame->id, frame->card_patches);
}

static int put_group(struct writer *w, size_t g)
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
    path_of(path, "group", group->id, "request.tsv");
    if (put(w, &page, path, NULL) != 0 || carn_page_open(&page, w->err) != 0)
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
    path_of(path, "group", group->id, "members.tsv");
    return put(w, &page, path, "who belongs to it");
}

/* ---- over all ---- */

static int put_frames(struct writer *w)
{
    const struct carn_plan *plan = w->plan;
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    fputs("id\tframe\tsubject\tcamera\tcard\tapproved\tout\tgiven\tlisted\tshows_"
          "card\tgroups\tsize\n",
          page.to);
    for (size_t i = 0; i < plan->count; i++) {
        const struct carn_plan_frame *f = &plan->frames[i];
        fprintf(page.to, "%s\t", f->id);
        carn_table_print(page.to, f->name);
        fputc('\t', page.to);
        carn_table_print(page.to, f->subject);
        fputc('\t', page.to);
        carn_table_print(page.to, f->camera);
        fprintf(page.to, "\t%s\t%s\t", card_id(w, f), f->approved ? "yes" : "no");
        carn_table_print(page.to, f->out != NULL ? f->out : "-");
        fprintf(page.to, "\t%s\t%s\t%s\t", f->given ? "yes" : "no", f->listed ? "yes" : "no",
                f->shows_card ? "yes" : "no");
        for (size_t k = 0; k < f->people; k++)
            fprintf(page.to, "%s%s:%zu", k > 0 ? " " : "", plan->group[f->group[k]].id,
                    f->curve[k]);
        fprintf(page.to, "%s\t%lld\n", f->people == 0 ? "-" : "", f->size);
    }
    if (put(w, &page, "work/frames.tsv", "frames") != 0 || carn_page_open(&page, w->err) != 0)
        return -1;
    fputs("note\n", page.to);
    for (size_t i = 0; i < plan->note_count; i++) {
        carn_table_print(page.to, plan->notes[i]);
        fputc('\n', page.to);
    }
    return put(w, &page, "work/notes.tsv", "notes");
}

/* For make, which passes it on to no shell: in single quotes, a dollar doubled, no comment. */
static void print_quoted(FILE *to, const char *text)
{
    fputc('\'', to);
    for (; *text != '\0'; text++) {
        if (*text == '\'')
            fputs("'\\''", to);
        else if (*text == '$')
            fputs("$$", to);
        else if (*text == '#')
            fputs("\\#", to);
        else
            fputc(*text, to);
    }
    fputc('\'', to);
}

static int put_edges(struct writer *w, const char *bin, const char *via)
{
    const struct carn_plan *plan = w->plan;
    bool equalise = carn_setting_is(plan->settings, CARN_SET_EQUALISE, "yes");
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    FILE *to = page.to;
    fputs("BIN := ", to);
    print_quoted(to, bin);
    fprintf(to, "\nVIA := %s\nFRAMES :=", via);
    for (size_t i = 0; i < plan->count; i++)
        if (plan->frames[i].listed)
            fprintf(to, " %s", plan->frames[i].id);
    fputs("\nCARDS :=", to);
    for (size_t i = 0; i < plan->count; i++)
        if (plan->frames[i].shows_card)
            fprintf(to, " %s", plan->frames[i].id);
    fputs("\nGROUPS :=", to);
    for (size_t g = 0; g < plan->groups; g++)
        fprintf(to, " %s", plan->group[g].id);
    fprintf(to, "\nLEVEL :=%s\n", equalise ? " work/level" : "");
    for (size_t i = 0; i < plan->count; i++) {
        const struct carn_plan_frame *f = &plan->frames[i];
        if (f->shows_card && equalise)
            fprintf(to, "work/level: work/card/%s/read\nwork/card/%s/measured: work/level\n", f->id,
                    f->id);
        if (f->listed && f->card_at != SIZE_MAX)
            fprintf(to, "work/frame/%s/measured: work/card/%s/measured\n", f->id, card_id(w, f));
        for (size_t k = 0; k < f->people; k++)
            fprintf(to,
                    "work/group/%s/solved: work/frame/%s/measured\n"
                    "work/frame/%s/delivered: work/group/%s/solved\n",
                    plan->group[f->group[k]].id, f->id, f->id, plan->group[f->group[k]].id);
    }
    return put(w, &page, "work/edges.mk", "edges");
}

/* Folders of frames, cards and groups that are no longer in the job. */
static void remove_others(const char *kind, char **ids, size_t count)
{
    char path[CARN_ID + 300];
    snprintf(path, sizeof path, "work/%s", kind);
    DIR *dir = opendir(path);
    const struct dirent *entry;
    while (dir != NULL && (entry = readdir(dir)) != NULL) {
        bool wanted = strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0;
        for (size_t low = 0, high = count; !wanted && low < high;) {
            size_t middle = (low + high) / 2;
            int order = strcmp(ids[middle], entry->d_name);
            wanted = order == 0;
            if (order < 0)
                low = middle + 1;
            else
                high = middle;
        }
        if (!wanted) {
            snprintf(path, sizeof path, "work/%s/%s", kind, entry->d_name);
            carn_remove_folder(path);
        }
    }
    if (dir != NULL)
        closedir(dir);
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static int tidy_work(const struct carn_plan *plan, struct carn_error *err)
{
    size_t room = plan->count + plan->groups + 1, count = 0;
    char **ids = carn_alloc(room, sizeof *ids, err);
    if (ids == NULL)
        return -1;
    for (int kind = 0; kind < 2; kind++) {
        count = 0;
        for (size_t i = 0; i < plan->count; i++)
            if (kind == 0 ? plan->frames[i].listed : plan->frames[i].shows_card)
                ids[count++] = plan->frames[i].id;
        qsort(ids, count, sizeof *ids, by_text);
        remove_others(kind == 0 ? "frame" : "card", ids, count);
    }
    for (count = 0; count < plan->groups; count++)
        ids[count] = plan->group[count].id;
    qsort(ids, count, sizeof *ids, by_text);
    remove_others("group", ids, count);
    free(ids);
    return 0;
}

/* A delivered picture that somebody took away, or put something else in its place, is made again.
 */
static void forget_missing(const struct carn_plan_frame *frame)
{
    char out[4200], path[CARN_ID + 64];
    struct stat st;
    snprintf(out, sizeof out, "out/%s", frame->out);
    if (lstat(out, &st) == 0 && S_ISREG(st.st_mode))
        return;
    path_of(path, "frame", frame->id, "delivered");
    (void)unlink(path);
}

/* A table or page of the report that somebody took away makes the report anew. */
static void forget_report(void)
{
    static const char *const names[] = {"summary.txt", "summary.tsv", "summary.json",
                                        "before.tsv",  "frames.tsv",  "patches.tsv",
                                        "facts.tsv",   "index.html",  "contact.html"};
    char path[64];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        snprintf(path, sizeof path, "report/%s", names[i]);
        if (access(path, F_OK) == 0)
            continue;
        (void)unlink("work/reported");
        (void)unlink("work/audited");
    }
}

static int sum_files(struct writer *w)
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

int carn_plan_write(const struct carn_plan *plan, const char *bin, const char *via,
                    struct carn_error *err)
{
    struct writer w = {.plan = plan, .err = err};
    static const char *const folders[] = {"work/frame", "work/card", "work/group"};
    for (size_t i = 0; i < 3; i++)
        if (carn_folder(folders[i], err) != 0)
            return -1;
    if (sum_files(&w) != 0 || tidy_work(plan, err) != 0)
        return -1;
    for (size_t i = 0; i < plan->count; i++) {
        const struct carn_plan_frame *frame = &plan->frames[i];
        if (frame->shows_card && put_card(&w, frame) != 0)
            return -1;
        if (!frame->listed)
            continue;
        if (put_frame(&w, frame) != 0 || put_delivery(&w, frame) != 0)
            return -1;
        forget_missing(frame);
    }
    forget_report();
    for (size_t g = 0; g < plan->groups; g++)
        if (put_group(&w, g) != 0)
            return -1;
    return put_frames(&w) != 0 ? -1 : put_edges(&w, bin, via);
}

/* ---- what would be made anew ---- */

int carn_plan_compare(const struct carn_plan *plan, FILE *to, size_t *count, struct carn_error *err)
{
    struct writer w = {.plan = plan, .dry = true, .err = err};
    bool *card = carn_alloc(plan->count + 1, sizeof *card, err);
    bool *frame = carn_alloc(plan->count + 1, sizeof *frame, err);
    char **group = carn_alloc(plan->groups + 1, sizeof *group, err);
    int rc = card != NULL && frame != NULL && group != NULL ? sum_files(&w) : -1;
    *count = 0;
    for (size_t i = 0; rc == 0 && i < plan->count; i++) {
        if (!plan->frames[i].shows_card)
            continue;
        w.reason[0] = '\0';
        rc = put_card(&w, &plan->frames[i]);
        card[i] = w.reason[0] != '\0' || missing("card", plan->frames[i].id, "measured");
    }
    char **reasons = carn_alloc(plan->count + 1, sizeof *reasons, err);
    for (size_t i = 0; rc == 0 && reasons != NULL && i < plan->count; i++) {
        const struct carn_plan_frame *f = &plan->frames[i];
        if (!f->listed)
            continue;
        w.reason[0] = '\0';
        rc = put_frame(&w, f);
        if (f->card_at != SIZE_MAX && card[f->card_at])
            add_reason(&w, "its card is measured anew");
        if (w.reason[0] == '\0' && missing("frame", f->id, "measured"))
            add_reason(&w, "not measured yet, or in trouble last time");
        frame[i] = w.reason[0] != '\0';
        for (size_t k = 0; frame[i] && k < f->people; k++)
            if (group[f->group[k]] == NULL)
                group[f->group[k]] = carn_copy("its group is solved anew", err);
        reasons[i] = carn_copy(w.reason, err);
    }
    for (size_t g = 0; rc == 0 && g < plan->groups; g++) {
        w.reason[0] = '\0';
        rc = put_group(&w, g);
        if (w.reason[0] == '\0' || group[g] != NULL)
            continue;
        char text[600];
        snprintf(text, sizeof text, "its group: %s", w.reason);
        group[g] = carn_copy(text, err);
    }
    for (size_t i = 0; rc == 0 && reasons != NULL && i < plan->count; i++) {
        const struct carn_plan_frame *f = &plan->frames[i];
        char out[4200];
        if (!f->listed)
            continue;
        snprintf(w.reason, sizeof w.reason, "%s", reasons[i] != NULL ? reasons[i] : "");
        bool own = w.reason[0] != '\0';
        rc = put_delivery(&w, f);
        snprintf(out, sizeof out, "out/%s", f->out);
        if (!own && access(out, F_OK) != 0)
            add_reason(&w, "no delivered file");
        else if (!own && w.reason[0] == '\0' && missing("frame", f->id, "delivered"))
            add_reason(&w, "not delivered yet, or in trouble last time");
        for (size_t k = 0; !own && k < f->people; k++)
            if (group[f->group[k]] != NULL)
                add_reason(&w, group[f->group[k]]);
        if (w.reason[0] == '\0')
            continue;
        ++*count;
        carn_show(to, f->name);
        fputs(": ", to);
        carn_show(to, w.reason);
        fputc('\n', to);
    }
    for (size_t i = 0; reasons != NULL && i < plan->count; i++)
        free(reasons[i]);
    for (size_t g = 0; group != NULL && g < plan->groups; g++)
        free(group[g]);
    free(reasons);
    free(card);
    free(frame);
    free(group);
    return rc;
}
