/*
 * run: programs joined by pipes, without a shell between, and what became of each.
 *
 * A stage reads what another stage writes, or a file; several stages may read the same one, and
 * each gets all of it. Every status counts: 0 and 1 are done, over 1 or a signal is trouble. The
 * culprit is the first stage in trouble; one that was ended because its reader went away is the
 * culprit only when no other is.
 */
#ifndef CARN_RUN_H
#define CARN_RUN_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

enum { CARN_STAGES = 160, CARN_ARGUMENTS = 40, CARN_NO_STAGE = -1 };

struct carn_stage {
    const char *argv[CARN_ARGUMENTS]; /* ends with NULL; not copied */
    int from;                         /* the stage it reads, CARN_NO_STAGE for none */
    const char *in;  /* the file it reads when from is CARN_NO_STAGE; NULL: nothing (/dev/null) */
    const char *out; /* the file its output is written to, when no stage reads it; NULL: as the
                        caller's own standard output */
    bool tolerant;   /* its trouble is not that of the run */
    bool aside;      /* its notes are not about what is delivered: a step does not keep them */
    int status;      /* after the run: exit status, or 128 and the signal */
    char *said;      /* after the run: what it wrote to standard error, cut at 64 KiB */
};

/* A filter that the program holds itself; main is as the filter's own program has it. A list ends
 * with {0}. */
struct carn_filter {
    const char *name;
    int (*main)(int argc, char **argv);
};

struct carn_run {
    const struct carn_filter *inside; /* stages of these names are forked, and load no program: a
                                         quarter of the time of a start; NULL for none */
    bool in_turn; /* if all are inside: one after another in one process, what passes between them
                     is kept whole in nameless files. For small pictures, of which a process costs
                     more than its work. After a culprit none follows. */
    size_t count;
    struct carn_stage stages[CARN_STAGES];
    bool full;      /* a stage or a word found no room: the run fails */
    int highest;    /* after the run: the highest status of 0 and 1 */
    bool own_words; /* after a failed run: the message is the culprit's own */
};

/* Starts as all zero. carn_run_add appends a stage that reads stage from (or in), and gives its
 * number; carn_run_word adds a word to the last stage, NULL is skipped. One that finds no room sets
 * full, and the run will fail. */
int carn_run_add(struct carn_run *run, int from, const char *in, const char *program);
void carn_run_word(struct carn_run *run, const char *word);
void carn_run_words(struct carn_run *run, const char *first, const char *second);

/*
 * Runs it and waits for all of it. Files named by out appear whole or not at all: they are written
 * beside it as NAME.part and renamed. -1 with the culprit's own message, or with one that says how
 * it ended. A stage's program without a slash is looked for as execvp does.
 */
int carn_run_all(struct carn_run *run, struct carn_error *err);

/* inside and in_turn stay. */
void carn_run_clear(struct carn_run *run);

#endif
