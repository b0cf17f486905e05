/* step_own: what the steps share; for lib/job/step*.c alone. */
#ifndef CARN_STEP_OWN_H
#define CARN_STEP_OWN_H

#include "job/files.h"
#include "job/record.h"
#include "job/run.h"
#include "job/step.h"
#include "job/texts.h"

#include <stdarg.h>

enum { STEP_PATH = 512, SKIN_PEOPLE = 32 };

/* Pixels, the width of the small picture on which faces are read, as carn-sample reads a larger one
 * (skin/thumbnail.h), and which the report shows. */
#define STEP_SMALL "512"

struct carn_step {
    const char *bin;
    const struct carn_filter *filters;
    char id[80], folder[160];
    struct carn_table *request;
    char line[2100];       /* of why, whole */
    struct carn_error why; /* what went wrong with the frame, card or group */
    struct carn_texts texts;
    bool small;  /* its picture is: filters run one after another in one process (run.h) */
    char *notes; /* what programs noted, lines */
    size_t notes_size;
};

/* A text that lives as long as the step; "" when memory is out. */
__attribute__((format(printf, 2, 3))) const char *step_text(struct carn_step *step,
                                                            const char *format, ...);

/* FOLDER/FILE of the step, and the path of a program. */
const char *step_file(struct carn_step *step, const char *file);
const char *step_program(struct carn_step *step, const char *name);

const char *step_asked(const struct carn_step *step, const char *key);
bool step_asked_is(const struct carn_step *step, const char *key, const char *value);

/* Looks whether the frame's picture is small, and at its colours: 1 or 3. -1 with a message. */
int step_look_at(struct carn_step *step, const char *picture, size_t *colours,
                 struct carn_error *err);

/* Runs it; notes are kept. -1 with the culprit's message in step->why. The run is cleared; *highest
 * (may be NULL) is the highest status of 0 and 1. */
int step_run(struct carn_step *step, struct carn_run *run, int *highest);

/* The options of carn-sample and carn-score that say the separation. */
void step_ink(struct carn_step *step, struct carn_run *run);

/* Adds carn-sample, which reads the stage from, or the file in, and writes its readings to out. */
void step_add_sample(struct carn_step *step, struct carn_run *run, int from, const char *in,
                     const char *patches, const char *out);

/* A failed table at path: `# failed: MESSAGE`, and the line that header prints. */
int step_write_failed(struct carn_step *step, const char *path, void (*header)(FILE *to),
                      struct carn_error *err);

/* What tells whether a step has to be done: its stamp, which make tracks, and in the file `key` the
 * checksum of the tables that it was last done with. */
struct step_made {
    const char *stamp, *key;
    unsigned long long sum;
};

/* Of the step whose stamp is called name, as its inputs are now; that a file is missing (or NULL)
 * counts. */
struct step_made step_made(struct carn_step *step, const char *name, const char *const *inputs,
                           size_t count);
/* Was it done with these, and is its table there, whole? */
bool step_is_made(const struct step_made *made, const char *table, struct carn_error *err);
void step_unmake(const struct step_made *made);
int step_keep_made(const struct step_made *made, struct carn_error *err);

/* Writes what programs noted to the step's file, for the report. */
int step_keep_notes(struct carn_step *step, const char *file, struct carn_error *err);

/* Copies rows of the reading tables in paths (those that are there) to one at `to`: the header of
 * the first, frame replaced, subject by subject_of (may be NULL: kept). -1 with a message. */
typedef const char *(*step_subject)(const void *with, const char *patch);
int step_merge(const char *const *paths, size_t count, const char *to, const char *frame,
               step_subject subject_of, const void *with, struct carn_error *err);

#endif
