/*
 * plan: what there is to do in a job folder, from job.tsv, patches.tsv, the settings and the files
 * in frames/. Written under work/ as small tables and as dependencies for make. Each file is
 * written only when it differs, so that after an edit only what depends on it is made again.
 */
#ifndef CARN_PLAN_H
#define CARN_PLAN_H

#include "base/error.h"
#include "job/settings.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* The people of one frame that job.tsv may name. */
enum { CARN_PEOPLE = 32, CARN_ID = 64 };

struct carn_plan_frame {
    char *name; /* of the file in frames/ */
    char *subject, *camera, *card;
    char *out;     /* of the file in out/ */
    char *trouble; /* why it cannot be measured at all: missing, no plain file; else NULL */
    bool approved, own_curve, listed; /* listed: has a row in job.tsv; else it shows a card only */
    bool shows_card;                  /* some row names it as its card */
    bool given;                       /* rows of patches.tsv say where its skin is */
    char *patches, *card_patches;     /* rows of patch tables; NULL: none */
    long long size, changed;          /* of the original, bytes and nanoseconds */
    size_t line;                      /* in job.tsv */
    char id[CARN_ID];
    size_t card_at; /* the frame that shows its card; SIZE_MAX: none */
    size_t people, group[CARN_PEOPLE], curve[CARN_PEOPLE];
};

/* A subject: one colour; a curve for each camera and card, or for each frame. */
struct carn_plan_group {
    char *subject; /* "-": one frame whose subject nobody named */
    char id[CARN_ID];
    size_t curves;
};

struct carn_plan {
    const struct carn_settings *settings;
    size_t count, groups;
    struct carn_plan_frame *frames;
    struct carn_plan_group *group;
    size_t note_count;
    char **notes; /* what to tell of tables and files, a line each */
};

/* Reads all there is; dry: new ids are not written down. -1 with a message for what makes the job
 * impossible. */
int carn_plan_make(const struct carn_settings *settings, bool dry, struct carn_plan *plan,
                   struct carn_error *err);
void carn_plan_close(struct carn_plan *plan);

/* Writes it under work/ and removes what belongs to frames that no longer exist. bin: the folder of
 * the programs; via: a command that starts each step elsewhere, or "". */
int carn_plan_write(const struct carn_plan *plan, const char *bin, const char *via,
                    struct carn_error *err);

/* Writes nothing; says on `to` what a run would make anew and why, and counts the frames. */
int carn_plan_compare(const struct carn_plan *plan, FILE *to, size_t *count,
                      struct carn_error *err);

/* An id: the number and the name, bytes outside [A-Za-z0-9._-] as _, cut to fit. */
void carn_plan_id(char id[CARN_ID], size_t number, const char *name);

/* The people of a subject cell, `birk, celia`: how many, each into names as an own text that the
 * caller frees; -1 with a message. */
int carn_plan_people(const char *subject, char *names[CARN_PEOPLE], struct carn_error *err);

/* What the files are called that are delivered: names[i] for frames in order, never one twice. A
 * frame that has a name already keeps it. */
int carn_plan_out_names(struct carn_plan_frame *frames, size_t count, const char *format,
                        struct carn_error *err);

#endif
