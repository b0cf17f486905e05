/* run: all stages in one process, one after another. */
#define _XOPEN_SOURCE 700
#include "job/run_own.h"

#include "base/target.h"

#include <errno.h>
#include <fcntl.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { KEPT = 32 * 1024 * 1024 };

bool run_all_inside(const struct carn_run *run)
{
    size_t i = 0;
    while (i < run->count && run_find_filter(run, i) != NULL)
        i++;
    return i == run->count && i > 0;
}

/* What a stage came to. */
struct came {
    int status;
    off_t said; /* where in the file of messages its own end */
};

static bool has_reader(const struct carn_run *run, size_t i)
{
    size_t k = i + 1;
    while (k < run->count && run->stages[k].from != (int)i)
        k++;
    return k < run->count;
}

static int prepare_in_turn(struct carn_run *run, struct process *processes, int ends[2],
                           struct carn_error *err)
{
    for (size_t i = 0; i < run->count; i++) {
        const struct carn_stage *stage = &run->stages[i];
        if (run_open_in(stage, &processes[i], err) != 0)
            return -1;
        if (has_reader(run, i))
            processes[i].out = carn_target_scratch("a picture between two filters", err);
        else if (stage->out != NULL)
            (void)run_open_part(stage, &processes[i], err);
        if (err->kind != CARN_NONE)
            return -1;
    }
    processes[0].said = carn_target_scratch("messages", err);
    return processes[0].said >= 0 ? run_make_pipe(ends, err) : -1;
}

/* All stages, each told to `to` when it is over. A filter leaves the process as it was: what it
 * opened is closed again, and lib/ keeps nothing that another frame would change. */
_Noreturn static void take_turns(struct carn_run *run, struct process *processes, int to)
{
    int own = fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 0);
    run_reset_signals();
#ifdef __GLIBC__ /* what one filter gave back serves the next: its pages are there already */
    (void)mallopt(M_MMAP_THRESHOLD, KEPT);
    (void)mallopt(M_TRIM_THRESHOLD, KEPT);
#endif
    for (size_t i = 0; i < run->count; i++) {
        int from = run->stages[i].from;
        int in = from == CARN_NO_STAGE ? processes[i].in : processes[from].out;
        int out = processes[i].out >= 0 ? processes[i].out : own;
        /* What the last filter left in standard input's buffer, and that it met the end. POSIX has
         * fflush drop it for a file that can be sought. */
        (void)fflush(stdin); // cppcheck-suppress fflushOnInputStream
        clearerr(stdin);
        (void)lseek(in, 0, SEEK_SET); /* for each of its readers anew */
        if (dup2(in, STDIN_FILENO) < 0 || dup2(out, STDOUT_FILENO) < 0 ||
            dup2(processes[0].said, STDERR_FILENO) < 0)
            _exit(CANNOT_RUN);
        clearerr(stdout);
        struct came came = {.status = run_call(run_find_filter(run, i), &run->stages[i])};
        came.said = lseek(processes[0].said, 0, SEEK_CUR);
        if (!run_write_all(to, (const char *)&came, sizeof came))
            _exit(CANNOT_RUN);
        if (came.status > 1 && !run->stages[i].tolerant)
            break;
    }
    _exit(0);
}

static bool read_came(int from, struct came *came)
{
    ssize_t got;
    do
        got = read(from, came, sizeof *came);
    while (got < 0 && errno == EINTR);
    return got == (ssize_t)sizeof *came;
}

/* Those that did not begin count as cut off: the one before them is the culprit. */
bool run_turns(struct carn_run *run, struct process *processes, struct carn_error *err)
{
    int ends[2] = {-1, -1}, ended = CANNOT_RUN;
    off_t said = 0;
    size_t i = 0;
    pid_t pid = -1;
    if (prepare_in_turn(run, processes, ends, err) == 0) {
        pid = fork();
        if (pid == 0)
            take_turns(run, processes, ends[1]);
        if (pid < 0)
            carn_fail(err, CARN_SYSTEM, "%s: cannot be started: %s",
                      run_base_name(run->stages[0].argv[0]), strerror(errno));
    }
    run_shut(&ends[1]);
    if (pid > 0) {
        struct came came;
        for (; i < run->count && read_came(ends[0], &came); i++) {
            run->stages[i].status = came.status;
            run->stages[i].said = run_read_part(processes[0].said, said, came.said, err);
            said = came.said;
        }
        ended = run_wait_for(pid);
        if (i < run->count) /* what the one that died said before */
            run->stages[i].said =
                run_read_part(processes[0].said, said, lseek(processes[0].said, 0, SEEK_END), err);
    }
    for (size_t k = i; k < run->count; k++)
        run->stages[k].status = k == i && ended != 0 ? ended : 128 + SIGPIPE;
    run_shut(&ends[0]);
    for (size_t k = 0; k < run->count; k++) {
        run_shut(&processes[k].in);
        run_shut(&processes[k].out);
        run_shut(&processes[k].said);
    }
    return pid > 0;
}
