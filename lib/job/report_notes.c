#define _XOPEN_SOURCE 700
#include "job/report_own.h"

#include "job/kept.h"
#include "job/record.h"
#include "job/step.h"

#include <stdlib.h>
#include <string.h>

enum { SINGLE = 40 }; /* rows of single pictures in summary.txt */

/* ---- settings of the cameras ---- */

/* What frames have of one setting, joined by what they share: a card, or the job. */
struct kind {
    const char *value, *first;
    size_t count;
};

static void differing(struct report *w, const char *const *values, const char *key, bool by_card,
                      const char *how)
{
    const struct carn_story *s = w->story;
    struct kind kinds[64];
    bool *done = carn_alloc(s->count + 1, sizeof *done, w->err);
    for (size_t i = 0; done != NULL && i < s->count; i++) {
        size_t count = 0, common = 0;
        for (size_t k = done[i] ? s->count : i; k < s->count; k++) {
            const struct carn_story_frame *f = &s->frames[k];
            if (done[k] || (by_card && strcmp(f->card, s->frames[i].card) != 0))
                continue;
            if (k > i)
                done[k] = true;
            size_t at = 0;
            if (values[k][0] == '\0' || strcmp(values[k], "-") == 0)
                continue;
            while (at < count && strcmp(kinds[at].value, values[k]) != 0)
                at++;
            if (at == 64)
                continue;
            if (at == count)
                kinds[count++] = (struct kind){values[k], f->name, 0};
            kinds[at].count++;
        }
        if (count < 2)
            continue;
        for (size_t k = 1; k < count; k++)
            common = kinds[k].count > kinds[common].count ? k : common;
        char text[1500] = "", words[64], about[400];
        for (size_t k = 0; k < count; k++) {
            size_t n = strlen(text);
            snprintf(text + n, sizeof text - n, "%s%s (%s%s%s%s)", k > 0 ? ", " : "",
                     kinds[k].value, report_plural(words, kinds[k].count, "frame"),
                     k == common ? "" : ": ", k == common ? "" : kinds[k].first,
                     k != common && kinds[k].count > 1 ? " ..." : "");
        }
        const char *card = "";
        for (size_t k = 0; k < s->cards; k++)
            if (strcmp(s->card[k].id, s->frames[i].card) == 0)
                card = s->card[k].name;
        snprintf(about, sizeof about, "card %.380s", card[0] != '\0' ? card : "none");
        report_person(w, false, by_card ? about : "job", "settings", "%s differs %s: %s", key, how,
                      text);
    }
    free(done);
}

void report_settings(struct report *w)
{
    static const char *const keys[] = {"iso",           "shutter", "aperture", "flash",
                                       "white_balance", "lens",    "profile"};
    const struct carn_story *s = w->story;
    const char **values = carn_alloc(s->count + 1, sizeof *values, w->err);
    size_t automatic = 0, *at = carn_alloc(s->count + 1, sizeof *at, w->err);
    char words[64];
    for (size_t k = 0; values != NULL && at != NULL && k < 7; k++) {
        for (size_t i = 0; i < s->count; i++) {
            values[i] = carn_story_fact(s, s->frames[i].name, keys[k]);
            automatic += k == 4 && strcmp(values[i], "auto") == 0 ? 1 : 0;
        }
        if (k < 6)
            differing(w, values, keys[k], true, "under one card");
        else
            differing(w, values, keys[k], false, "in one job, keep to one working profile");
    }
    if (automatic > 0)
        report_person(w, false, "job", "settings",
                      "%s with automatic white balance: one card does not stand for them",
                      report_plural(words, automatic, "frame"));
    free(values);
    free(at);
}

void report_persons(struct report *w)
{
    size_t singles = 0;
    report_put(w, "What needs a person%s", w->person_count == 0 ? ": nothing" : "");
    /* What concerns many pictures first, and whole; of single pictures, forty. */
    for (int pass = 0; pass < 2; pass++)
        for (size_t k = 0; k < w->person_count; k++) {
            const struct report_person *p = &w->persons[k];
            if (p->single != (pass == 1) || p->about == NULL || p->what == NULL || p->note == NULL)
                continue;
            report_row(w, "person", p->about, p->what, "-", "-", "-", p->note);
            if (!p->single || ++singles <= SINGLE)
                report_put(w, "  %s: %s%s%s", p->about, p->what, p->note[0] != '\0' ? ": " : "",
                           p->note);
        }
    if (singles > SINGLE)
        report_put(w, "  and %zu more pictures in summary.tsv", singles - SINGLE);
}

/* ---- notes of the programs, one a kind ---- */

struct note {
    char *text;
    const char *first, *last; /* the frames that it is about */
    size_t count;             /* of frames */
};

/* Two notes of one kind have the same words; their figures may differ. */
static bool same_kind(const char *x, const char *y)
{
    static const char figures[] = "0123456789.";
    for (;; x++, y++) {
        x += strspn(x, figures);
        y += strspn(y, figures);
        if (*x == '\0' || *x != *y)
            return *x == *y;
    }
}

/* The note with names left out, so that those of one kind are alike. */
static char *note_kind(const char *line, const struct carn_story_frame *f, struct carn_error *err)
{
    const char *at = strstr(line, ": note: ") + 8;
    const char *const names[] = {f->name, f->out};
    char text[600];
    snprintf(text, sizeof text, "%s", at);
    for (int k = 0; k < 2; k++) {
        char *found = strstr(text, names[k]);
        if (found == NULL)
            continue;
        char *begin = found;
        while (begin > text && begin[-1] != ' ')
            begin--;
        const char *rest = found + strlen(names[k]);
        rest += strcspn(rest, ": "); /* of a file named by the frame: its end */
        rest += strncmp(rest, ": ", 2) == 0 ? 2 : 0;
        memmove(begin, rest, strlen(rest) + 1);
    }
    return carn_copy(text, err);
}

static void take_notes(struct report *w, const struct carn_story_frame *f, const char *file,
                       struct note **notes, size_t *count)
{
    char path[CARN_KEPT_PATH], *rest = NULL;
    char *text = carn_text(carn_kept_path(path, f->id, file), w->err);
    for (char *line = text != NULL ? strtok_r(text, "\n", &rest) : NULL; line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        /* What the neutral does near white differs from card to card: that is for carn-explain. */
        if (strstr(line, ": note: ") == NULL || strstr(line, "gain") != NULL)
            continue;
        char *kind = note_kind(line, f, w->err);
        size_t at = 0;
        while (kind != NULL && at < *count && !same_kind((*notes)[at].text, kind))
            at++;
        if (kind == NULL || at < *count) {
            if (kind != NULL && (*notes)[at].last != f->name) {
                (*notes)[at].last = f->name;
                (*notes)[at].count++;
            }
            free(kind);
            continue;
        }
        struct note *grown = carn_grow(*notes, *count + 1, sizeof *grown, w->err);
        if (grown == NULL) {
            free(kind);
            break;
        }
        *notes = grown;
        grown[(*count)++] = (struct note){kind, f->name, f->name, 1};
    }
    free(text);
}

void report_notes(struct report *w)
{
    struct note *notes = NULL;
    size_t count = 0;
    char n[32], words[64];
    for (size_t i = 0; i < w->story->count; i++) {
        take_notes(w, &w->story->frames[i], "measured.notes", &notes, &count);
        if (!w->audit) /* an earlier run's */
            take_notes(w, &w->story->frames[i], "delivered.notes", &notes, &count);
    }
    for (size_t k = 0; k < count; k++) {
        snprintf(n, sizeof n, "%zu", notes[k].count);
        report_row(w, "note", "-", "-", n, "-", "-", notes[k].text);
        report_put(w, "note: %s (%s: %s%s)", notes[k].text,
                   report_plural(words, notes[k].count, "frame"), notes[k].first,
                   notes[k].count > 1 ? " ..." : "");
        free(notes[k].text);
    }
    free(notes);
}

void report_plan_notes(struct report *w)
{
    static const char *const tables[] = {"work/notes.tsv", "work/strays.tsv"};
    for (size_t k = 0; k < 2; k++) {
        struct carn_table *notes = carn_table_try(tables[k]);
        for (size_t i = 0; notes != NULL && i < carn_table_rows(notes); i++)
            report_person(w, false, k == 0 ? "job.tsv" : "out/", k == 0 ? "row" : "not asked for",
                          "%s", carn_table_cell(notes, i, 0));
        carn_table_close(notes);
    }
}
