#include "job/report.h"

#include "job/report_own.h"

#include <stdlib.h>

static int write_summary(struct report *w, int *status)
{
    const struct carn_story *s = w->story;
    struct report_totals totals = {.frames = 0};
    char words[64], n[32];
    if (carn_page_open(&w->text, w->err) != 0 || carn_page_open(&w->table, w->err) != 0 ||
        carn_page_open(&w->json, w->err) != 0)
        return -1;
    fputs("{\"form\": 1, \"rows\": [", w->json.to);
    fputs("part\tabout\twhat\tframes\tbefore\tafter\tnote\n", w->table.to);
    report_spread(w, "spread", false,
                  w->audit ? "Spread of each subject's frames, as shot to after the cards"
                           : "Spread of each subject's frames, as shot to as delivered");
    report_spread(w, "cameras", true, "Between the cameras, each subject's medians");
    report_verdicts(w, &totals);
    size_t broken = report_cards(w), looked = 0;
    for (size_t i = 0; i < s->count; i++) {
        report_frame(w, &s->frames[i]);
        looked +=
            s->frames[i].failed == NULL && !s->frames[i].given && !s->frames[i].card_only ? 1 : 0;
    }
    report_subjects(w);
    if (looked > 0)
        report_person(w, false, "patches", "found",
                      "in %s: look at report/contact.html; patches.tsv wins",
                      report_plural(words, looked, "frame"));
    report_settings(w);
    report_plan_notes(w);
    report_persons(w);
    report_notes(w);
    *status = totals.failed + broken > 0 ? 2
              : totals.verdict[CARN_UNSURE] + totals.verdict[CARN_OFF] + totals.needs_person > 0
                  ? 1
                  : 0;
    report_put(w, "%s", "");
    report_put(w, "%s: %zu on, %zu held, %zu unsure, %zu off, %zu failed%s",
               report_plural(words, totals.frames, "frame"), totals.verdict[CARN_ON],
               totals.verdict[CARN_HELD], totals.verdict[CARN_UNSURE], totals.verdict[CARN_OFF],
               totals.failed, totals.as_it_is > 0 ? ", the rest as they are" : "");
    report_put(w, "status %d", *status);
    snprintf(n, sizeof n, "%d", *status);
    fprintf(w->table.to, "status\t%s\n", n);
    fprintf(w->json.to,
            "\n ],\n \"frames\": %zu, \"on\": %zu, \"held\": %zu, \"unsure\": %zu, \"off\": %zu, "
            "\"failed\": %zu, \"as_it_is\": %zu,\n \"status\": %d}\n",
            totals.frames, totals.verdict[CARN_ON], totals.verdict[CARN_HELD],
            totals.verdict[CARN_UNSURE], totals.verdict[CARN_OFF], totals.failed, totals.as_it_is,
            *status);
    int text = carn_page_keep(&w->text, "report/summary.txt", w->err);
    int json = carn_page_keep(&w->json, "report/summary.json", w->err);
    int table = carn_page_keep(&w->table, "report/summary.tsv", w->err);
    return text < 0 || json < 0 || table < 0 ? -1 : 0;
}

int carn_report_write(const struct carn_story *story, bool audit, int *status,
                      struct carn_error *err)
{
    struct report w = {.story = story, .audit = audit, .err = err};
    w.room = carn_alloc(story->count + 1, sizeof *w.room, err);
    w.figures = carn_alloc(story->count + 1, sizeof *w.figures, err);
    w.list = carn_alloc(story->count + 1, sizeof *w.list, err);
    int rc = w.room != NULL && w.figures != NULL && w.list != NULL ? report_before(&w) : -1;
    if (rc == 0 && !audit)
        rc = report_after(&w, "after.tsv", "report/after.tsv");
    if (rc == 0 && !audit)
        rc = report_provenance(&w);
    if (rc == 0)
        rc = report_frames(&w);
    if (rc == 0)
        rc = report_patches(&w);
    if (rc == 0) /* last: that it is there tells that the rest is complete */
        rc = write_summary(&w, status);
    for (size_t k = 0; k < w.person_count; k++) {
        free(w.persons[k].about);
        free(w.persons[k].what);
        free(w.persons[k].note);
    }
    free(w.persons);
    free(w.room);
    free(w.figures);
    free(w.list);
    return rc == 0 && err->kind == CARN_NONE ? 0 : -1;
}
