/* run_own: what the two ways to run stages share; for lib/job/run*.c alone. Functions that can fail
 * give -1 with a message. */
#ifndef CARN_RUN_OWN_H
#define CARN_RUN_OWN_H

#include "job/run.h"

#include <sys/types.h>

enum { CANNOT_RUN = 127 };

/* What a run holds open while it is under way. */
struct process {
    pid_t pid, splitter; /* 0: not started */
    int in, out, said;   /* -1: none */
    char *part;          /* the name that its output has until it is whole */
};

/* Closes what is open. */
void run_shut(int *fd);
/* Neither end outlives an exec. */
int run_make_pipe(int ends[2], struct carn_error *err);
/* The file that a stage reads, if it reads one; and the one it writes, under another name. */
int run_open_in(const struct carn_stage *stage, struct process *process, struct carn_error *err);
int run_open_part(const struct carn_stage *stage, struct process *process, struct carn_error *err);
bool run_write_all(int fd, const char *from, size_t size);
const char *run_base_name(const char *path);

/* The stage's filter; NULL: not inside. */
const struct carn_filter *run_find_filter(const struct carn_run *run, size_t i);
/* Signals as a new program has them, and its main: its status. */
void run_reset_signals(void);
int run_call(const struct carn_filter *filter, struct carn_stage *stage);

/* run_judge: an exit status, or 128 and the signal. */
int run_wait_for(pid_t pid);
/* What was said: the part of a file from `from` to `to`, or all of it, cut at 64 KiB; the caller
 * frees. */
char *run_read_part(int fd, off_t from, off_t to, struct carn_error *err);
char *run_read_said(int fd, struct carn_error *err);
/* Sets highest; -1 with the culprit's message when a stage was in trouble. */
int run_judge(struct carn_run *run, struct carn_error *err);

/* run_turns: in one process, one after another; true when they were started. */
bool run_all_inside(const struct carn_run *run);
bool run_turns(struct carn_run *run, struct process *processes, struct carn_error *err);

#endif
