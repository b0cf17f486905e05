/* report_own: what the parts of the report share; for lib/job/report*.c alone. */
#ifndef CARN_REPORT_OWN_H
#define CARN_REPORT_OWN_H

#include "job/files.h"
#include "job/story.h"

/* Something that needs a person. single: of one picture. */
struct report_person {
    char *about, *what, *note;
    bool single;
};

struct report {
    const struct carn_story *story;
    bool audit;
    struct carn_page text, table, json; /* summary.txt, .tsv, .json */
    size_t rows;
    struct carn_error *err;
    size_t person_count;
    struct report_person *persons;
    double *room;    /* for medians, one a frame */
    double *figures; /* to be compared, one a frame */
    size_t *list;    /* frames of a subject */
};

/* ---- report_lines: what is said ---- */

/* A line of summary.txt. */
__attribute__((format(printf, 2, 3))) void report_put(struct report *w, const char *format, ...);

/* A row of summary.tsv and summary.json. */
void report_row(struct report *w, const char *part, const char *about, const char *what,
                const char *frames, const char *before, const char *after, const char *note);

/* Keeps something that needs a person for report_persons(). */
__attribute__((format(printf, 5, 6))) void report_person(struct report *w, bool single,
                                                         const char *about, const char *what,
                                                         const char *format, ...);

/* How many of a word, in buffer. */
const char *report_plural(char buffer[64], size_t n, const char *word);

bool report_is_measured(const struct carn_story_frame *frame);

/* What the job sets for key; "" when it says nothing. */
const char *report_setting(const struct report *w, const char *key);

/* ---- report_even: how far frames and cameras lie apart ---- */

void report_spread(struct report *w, const char *part, bool cameras, const char *title);

/* ---- report_needs: verdicts, cards, and who needs a person ---- */

struct report_totals {
    size_t verdict[CARN_VERDICTS], failed, blind, as_it_is, cards, frames, needs_person;
};

void report_verdicts(struct report *w, struct report_totals *totals);

/* How many cards failed. */
size_t report_cards(struct report *w);

void report_frame(struct report *w, const struct carn_story_frame *frame);
void report_subjects(struct report *w);

/* ---- report_notes: what differs between the cameras, and the notes of the programs ---- */

void report_settings(struct report *w);
void report_plan_notes(struct report *w);
void report_persons(struct report *w);
void report_notes(struct report *w);

/* ---- report_tables: tables of all frames; -1 with a message ---- */

int report_before(struct report *w);
int report_after(struct report *w, const char *file, const char *to);
int report_provenance(struct report *w);
int report_frames(struct report *w);
int report_patches(struct report *w);

#endif
