/* plan: all of it written under work/: the requests, the list of frames, and edges for make. */
#define _XOPEN_SOURCE 700
#include "job/plan_own.h"

#include "job/record.h"

#include <dirent.h>
#include <errno.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static int put_frames(struct plan_writer *w)
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
        fprintf(page.to, "\t%s\t%s\t", plan_card_id(w, f), f->approved ? "yes" : "no");
        carn_table_print(page.to, f->out != NULL ? f->out : "-");
        fprintf(page.to, "\t%s\t%s\t%s\t", f->given ? "yes" : "no", f->listed ? "yes" : "no",
                f->shows_card ? "yes" : "no");
        for (size_t k = 0; k < f->people; k++)
            fprintf(page.to, "%s%s:%zu", k > 0 ? " " : "", plan->group[f->group[k]].id,
                    f->curve[k]);
        fprintf(page.to, "%s\t%lld\n", f->people == 0 ? "-" : "", f->size);
    }
    if (plan_put(w, &page, "work/frames.tsv", "frames") != 0 || carn_page_open(&page, w->err) != 0)
        return -1;
    fputs("note\n", page.to);
    for (size_t i = 0; i < plan->note_count; i++) {
        carn_table_print(page.to, plan->notes[i]);
        fputc('\n', page.to);
    }
    return plan_put(w, &page, "work/notes.tsv", "notes");
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

static int put_edges(struct plan_writer *w, const char *bin, const char *via)
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
    if (equalise)
        fputs("work/level: work/cards.tsv\n", to);
    for (size_t i = 0; i < plan->count; i++) {
        const struct carn_plan_frame *f = &plan->frames[i];
        if (f->shows_card && equalise)
            fprintf(to, "work/level: work/card/%s/read\nwork/card/%s/measured: work/level\n", f->id,
                    f->id);
        if (f->listed && f->card_at != SIZE_MAX)
            fprintf(to, "work/frame/%s/measured: work/card/%s/measured\n", f->id,
                    plan_card_id(w, f));
        for (size_t k = 0; k < f->people; k++)
            fprintf(to,
                    "work/group/%s/solved: work/frame/%s/measured\n"
                    "work/frame/%s/delivered: work/group/%s/solved\n",
                    plan->group[f->group[k]].id, f->id, f->id, plan->group[f->group[k]].id);
    }
    return plan_put(w, &page, "work/edges.mk", "edges");
}

static bool is_wanted(const char *id, char **ids, size_t count)
{
    for (size_t low = 0, high = count; low < high;) {
        size_t middle = (low + high) / 2;
        int order = strcmp(ids[middle], id);
        if (order == 0)
            return true;
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return false;
}

/* Folders of frames, cards and groups that are no longer in the job. */
static void remove_others(const char *kind, char **ids, size_t count)
{
    char path[CARN_ID + 300];
    snprintf(path, sizeof path, "work/%s", kind);
    DIR *dir = opendir(path);
    const struct dirent *entry;
    while (dir != NULL && (entry = readdir(dir)) != NULL) {
        bool dots = strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0;
        if (!dots && !is_wanted(entry->d_name, ids, count)) {
            snprintf(path, sizeof path, "work/%s/%s", kind, entry->d_name);
            carn_remove_folder(path);
        }
    }
    if (dir != NULL)
        closedir(dir);
}

/* Pictures in the report of frames that are no longer in the job. Other files than ID.WHEN.jpg and
 * ID.WHEN.face-N.jpg are not the job's. */
static void remove_pictures(char **ids, size_t count)
{
    static const char *const whens[] = {".before.", ".after."};
    DIR *dir = opendir("report/pictures");
    const struct dirent *entry;
    while (dir != NULL && (entry = readdir(dir)) != NULL) {
        char id[300];
        snprintf(id, sizeof id, "%s", entry->d_name);
        char *end = strrchr(id, '.');
        if (end == NULL || strcmp(end, ".jpg") != 0 || strspn(id, "0123456789") < 4)
            continue;
        end[1] = '\0';
        char *face = strstr(id, ".face-"), *last = NULL;
        while (face != NULL && strstr(face + 1, ".face-") != NULL)
            face = strstr(face + 1, ".face-");
        if (face != NULL && strspn(face + 6, "0123456789") + 7 == strlen(face))
            face[1] = '\0';
        for (size_t k = 0; k < 2 && last == NULL; k++) {
            size_t n = strlen(id), m = strlen(whens[k]);
            if (n > m && strcmp(id + n - m, whens[k]) == 0)
                last = id + n - m;
        }
        if (last == NULL)
            continue;
        *last = '\0';
        if (!is_wanted(id, ids, count))
            (void)unlinkat(dirfd(dir), entry->d_name, 0);
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
        if (kind == 0)
            remove_pictures(ids, count);
    }
    for (count = 0; count < plan->groups; count++)
        ids[count] = plan->group[count].id;
    qsort(ids, count, sizeof *ids, by_text);
    remove_others("group", ids, count);
    free(ids);
    return 0;
}

/* The report is made again when one of its tables or pages was removed; an audit makes all but the
 * first two. */
static void forget_report(void)
{
    static const char *const names[] = {
        "after.tsv",  "provenance.tsv", "summary.txt", "summary.tsv", "summary.json", "before.tsv",
        "frames.tsv", "patches.tsv",    "facts.tsv",   "index.html",  "contact.html"};
    char path[64];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        snprintf(path, sizeof path, "report/%s", names[i]);
        if (access(path, F_OK) == 0)
            continue;
        (void)unlink("work/reported");
        if (i >= 2)
            (void)unlink("work/audited");
    }
}

/* work/tables.tsv: contact.html shows the rows of job.tsv, cells that nothing else reads among
 * them, and the columns of patches.tsv. */
static int put_tables(struct plan_writer *w)
{
    static const char *const names[] = {"job.tsv", "patches.tsv"};
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    carn_record_begin(page.to);
    for (size_t i = 0; i < 2; i++) {
        char *text = carn_text(names[i], w->err);
        carn_record_print(page.to, names[i], "%016llx", carn_text_sum(0, text != NULL ? text : ""));
        free(text);
    }
    return plan_put(w, &page, "work/tables.tsv", "tables");
}

int carn_plan_write(const struct carn_plan *plan, const char *bin, const char *via,
                    struct carn_error *err)
{
    struct plan_writer w = {.plan = plan, .err = err};
    static const char *const folders[] = {"work/frame", "work/card", "work/group"};
    for (size_t i = 0; i < 3; i++)
        if (carn_folder(folders[i], err) != 0)
            return -1;
    if (plan_sum_files(&w) != 0 || tidy_work(plan, err) != 0)
        return -1;
    for (size_t i = 0; i < plan->count; i++) {
        const struct carn_plan_frame *frame = &plan->frames[i];
        if (frame->shows_card && plan_put_card(&w, frame) != 0)
            return -1;
        if (!frame->listed)
            continue;
        if (plan_put_frame(&w, frame) != 0 || plan_put_delivery(&w, frame) != 0)
            return -1;
    }
    plan_forget(plan);
    forget_report();
    if (plan_put_cards(&w) != 0 || put_tables(&w) != 0)
        return -1;
    for (size_t g = 0; g < plan->groups; g++)
        if (plan_put_group(&w, g) != 0)
            return -1;
    return put_frames(&w) != 0 ? -1 : put_edges(&w, bin, via);
}
