#define _GNU_SOURCE /* tee, splice */
#include "job/run_own.h"

#include "base/io.h"
#include "base/target.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

extern char **environ;

/* ---- what to run ---- */

int carn_run_add(struct carn_run *run, int from, const char *in, const char *program)
{
    if (run->count >= CARN_STAGES) {
        run->full = true;
        return CARN_STAGES - 1;
    }
    struct carn_stage *stage = &run->stages[run->count];
    *stage = (struct carn_stage){.argv = {program}, .from = from, .in = in};
    return (int)run->count++;
}

void carn_run_word(struct carn_run *run, const char *word)
{
    struct carn_stage *stage = &run->stages[run->count - 1];
    size_t n = 0;
    while (stage->argv[n] != NULL)
        n++;
    if (word != NULL && n + 1 < CARN_ARGUMENTS)
        stage->argv[n] = word;
    else if (word != NULL)
        run->full = true;
}

void carn_run_words(struct carn_run *run, const char *first, const char *second)
{
    carn_run_word(run, first);
    carn_run_word(run, second);
}

void carn_run_clear(struct carn_run *run)
{
    for (size_t i = 0; i < run->count; i++)
        free(run->stages[i].said);
    *run = (struct carn_run){.inside = run->inside, .in_turn = run->in_turn};
}

/* ---- descriptors ---- */

void run_shut(int *fd)
{
    if (*fd >= 0)
        (void)close(*fd);
    *fd = -1;
}

int run_make_pipe(int ends[2], struct carn_error *err)
{
    if (pipe(ends) != 0)
        return carn_fail(err, CARN_SYSTEM, "cannot make a pipe: %s", strerror(errno));
    (void)fcntl(ends[0], F_SETFD, FD_CLOEXEC);
    (void)fcntl(ends[1], F_SETFD, FD_CLOEXEC);
    return 0;
}

int run_open_part(const struct carn_stage *stage, struct process *process, struct carn_error *err)
{
    size_t size = strlen(stage->out) + sizeof ".part";
    process->part = carn_alloc(size, 1, err);
    if (process->part == NULL)
        return -1;
    snprintf(process->part, size, "%s.part", stage->out);
    process->out = open(process->part, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    if (process->out < 0)
        return carn_fail(err, CARN_SYSTEM, "%s: cannot write: %s", process->part, strerror(errno));
    return 0;
}

/* ---- one output for several readers ---- */

bool run_write_all(int fd, const char *from, size_t size)
{
    while (size > 0) {
        ssize_t put = write(fd, from, size);
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0)
            return false;
        from += put;
        size -= (size_t)put;
    }
    return true;
}

#ifdef SPLICE_F_MOVE
/* For two readers, as Linux can: the pages of the first pipe are handed on to both, and nothing is
 * copied. Comes back, with nothing taken, where that cannot be. */
static void split_pages(int from, const int to[2])
{
    for (;;) {
        ssize_t got = tee(from, to[0], CARN_BLOCK, 0);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return;
        if (got == 0)
            _exit(0);
        while (got > 0) {
            ssize_t put = splice(from, NULL, to[1], NULL, (size_t)got, 0);
            if (put < 0 && errno == EINTR)
                continue;
            if (put <= 0)
                _exit(2);
            got -= put;
        }
    }
}
#endif

/* In a process of its own, so that two of them in one run cannot wait for each other. Ends without
 * a message: the stage that ended early has one. */
_Noreturn static void split(int from, const int *to, size_t count)
{
    static char block[CARN_BLOCK];
    (void)signal(SIGPIPE, SIG_DFL);
#ifdef SPLICE_F_MOVE
    if (count == 2)
        split_pages(from, to);
#endif
    for (;;) {
        ssize_t got = read(from, block, sizeof block);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0)
            _exit(got < 0 ? 2 : 0);
        for (size_t i = 0; i < count; i++)
            if (!run_write_all(to[i], block, (size_t)got))
                _exit(2);
    }
}

/* Gives the readers of stage i their ends; with more than one there is a splitter between. */
static int connect_readers(struct carn_run *run, struct process *processes, size_t i,
                           struct carn_error *err)
{
    size_t readers[CARN_STAGES], count = 0;
    int ends[2], to[CARN_STAGES];
    for (size_t k = 0; k < run->count; k++)
        if (run->stages[k].from == (int)i)
            readers[count++] = k;
    if (count == 0)
        return 0;
    if (run_make_pipe(ends, err) != 0)
        return -1;
    processes[i].out = ends[1];
    if (count == 1) {
        processes[readers[0]].in = ends[0];
        return 0;
    }
    size_t made = 0;
    int from = ends[0];
    for (; made < count; made++) {
        if (run_make_pipe(ends, err) != 0)
            break;
        processes[readers[made]].in = ends[0];
        to[made] = ends[1];
    }
    if (made == count) {
        processes[i].splitter = fork();
        if (processes[i].splitter < 0)
            carn_fail(err, CARN_SYSTEM, "cannot start a process: %s", strerror(errno));
        if (processes[i].splitter == 0) {
            /* Any other descriptor left open would keep a pipe from ending. */
            for (size_t k = 0; k < run->count; k++) {
                run_shut(&processes[k].in);
                run_shut(&processes[k].out);
            }
            split(from, to, count);
        }
    }
    for (size_t k = 0; k < made; k++)
        run_shut(&to[k]);
    run_shut(&from);
    return made == count && processes[i].splitter > 0 ? 0 : -1;
}

/* ---- starting ---- */

const char *run_base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash != NULL ? slash + 1 : path;
}

/* What exec does: signals that are caught are as they were at first. */
void run_reset_signals(void)
{
    struct sigaction now, first = {.sa_flags = 0};
    first.sa_handler = SIG_DFL;
    for (int number = 1; number < SIGRTMIN; number++)
        if (sigaction(number, NULL, &now) == 0 && (number == SIGPIPE || now.sa_handler != SIG_IGN))
            (void)sigaction(number, &first, NULL);
}

int run_call(const struct carn_filter *filter, struct carn_stage *stage)
{
    char **argv = (char **)(void *)stage->argv;
    int argc = 0;
    while (argv[argc] != NULL)
        argc++;
    optind = 1;
    int status = filter->main(argc, argv);
    (void)fflush(NULL);
    return status;
}

/* Begins as a new program does: three streams, no other descriptor of the run, its own options. */
_Noreturn static void become(struct carn_run *run, struct process *processes, size_t i,
                             const struct carn_filter *filter)
{
    int out = processes[i].out >= 0 ? processes[i].out : STDOUT_FILENO;
    run_reset_signals();
    if (dup2(processes[i].in, STDIN_FILENO) < 0 || dup2(out, STDOUT_FILENO) < 0 ||
        dup2(processes[i].said, STDERR_FILENO) < 0)
        _exit(CANNOT_RUN);
    for (size_t k = 0; k < run->count; k++) {
        run_shut(&processes[k].in);
        run_shut(&processes[k].out);
        run_shut(&processes[k].said);
    }
    _exit(run_call(filter, &run->stages[i]));
}

/* NULL: no such filter inside. */
const struct carn_filter *run_find_filter(const struct carn_run *run, size_t i)
{
    const struct carn_filter *filter = run->inside;
    const char *name = run_base_name(run->stages[i].argv[0]);
    while (filter != NULL && filter->name != NULL && strcmp(filter->name, name) != 0)
        filter++;
    return filter != NULL && filter->name != NULL ? filter : NULL;
}

/* 0 started, 1 no such filter inside, -1 with a message. */
static int start_inside(struct carn_run *run, struct process *processes, size_t i,
                        struct carn_error *err)
{
    const struct carn_filter *filter = run_find_filter(run, i);
    if (filter == NULL)
        return 1;
    processes[i].pid = fork();
    if (processes[i].pid == 0)
        become(run, processes, i, filter);
    if (processes[i].pid > 0)
        return 0;
    processes[i].pid = 0;
    return carn_fail(err, CARN_SYSTEM, "%s: cannot be started: %s", filter->name, strerror(errno));
}

static int start(const struct carn_stage *stage, struct process *process, struct carn_error *err)
{
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    sigset_t set;
    if (posix_spawn_file_actions_init(&actions) != 0)
        return carn_fail(err, CARN_MEMORY, "cannot start a process: out of memory");
    if (posix_spawnattr_init(&attributes) != 0) {
        (void)posix_spawn_file_actions_destroy(&actions);
        return carn_fail(err, CARN_MEMORY, "cannot start a process: out of memory");
    }
    /* Where the parent ignores SIGPIPE, every writer would report a broken pipe. */
    sigemptyset(&set);
    sigaddset(&set, SIGPIPE);
    (void)posix_spawnattr_setsigdefault(&attributes, &set);
    (void)posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGDEF);
    if (process->in >= 0)
        (void)posix_spawn_file_actions_adddup2(&actions, process->in, STDIN_FILENO);
    if (process->out >= 0)
        (void)posix_spawn_file_actions_adddup2(&actions, process->out, STDOUT_FILENO);
    (void)posix_spawn_file_actions_adddup2(&actions, process->said, STDERR_FILENO);
    char *const *argv = (char *const *)(const void *)stage->argv;
    int cause = posix_spawnp(&process->pid, stage->argv[0], &actions, &attributes, argv, environ);
    (void)posix_spawn_file_actions_destroy(&actions);
    (void)posix_spawnattr_destroy(&attributes);
    if (cause == 0)
        return 0;
    process->pid = 0;
    return cause == ENOENT || cause == EACCES || cause == ENOEXEC
               ? 1
               : carn_fail(err, CARN_SYSTEM, "%s: cannot be started: %s", stage->argv[0],
                           strerror(cause));
}

int run_open_in(const struct carn_stage *stage, struct process *process, struct carn_error *err)
{
    const char *in = stage->in != NULL ? stage->in : "/dev/null";
    if (stage->from == CARN_NO_STAGE)
        process->in = open(in, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    return stage->from != CARN_NO_STAGE || process->in >= 0
               ? 0
               : carn_fail(err, CARN_SYSTEM, "%s: cannot open: %s", in, strerror(errno));
}

static int prepare(struct carn_run *run, struct process *processes, struct carn_error *err)
{
    for (size_t i = 0; i < run->count; i++) {
        struct carn_stage *stage = &run->stages[i];
        if (run_open_in(stage, &processes[i], err) != 0)
            return -1;
        processes[i].said = carn_target_scratch("messages", err);
        if (processes[i].said < 0 || connect_readers(run, processes, i, err) != 0)
            return -1;
        if (processes[i].out < 0 && stage->out != NULL &&
            run_open_part(stage, &processes[i], err) != 0)
            return -1;
    }
    return 0;
}

/* ---- side by side ---- */

/* Puts finished files under their names, or takes away what was begun. */
static int settle(const struct carn_run *run, struct process *processes, bool good,
                  struct carn_error *err)
{
    int rc = good ? 0 : -1;
    for (size_t i = 0; i < run->count; i++) {
        if (processes[i].part == NULL)
            continue;
        if (rc == 0 && rename(processes[i].part, run->stages[i].out) != 0)
            rc = carn_fail(err, CARN_SYSTEM, "%s: cannot be renamed into place: %s",
                           run->stages[i].out, strerror(errno));
        if (rc != 0)
            (void)unlink(processes[i].part);
    }
    return rc;
}

/* Starts all and waits for them; false with a message when that failed, whatever became of them. */
static bool run_at_once(struct carn_run *run, struct process *processes, bool *split_failed,
                        struct carn_error *err)
{
    bool good = prepare(run, processes, err) == 0;
    for (size_t i = 0; i < run->count; i++) {
        int started = good ? start_inside(run, processes, i, err) : -1;
        if (started == 1)
            started = start(&run->stages[i], &processes[i], err);
        good = good && started >= 0;
        run->stages[i].status = started == 0 ? 0 : CANNOT_RUN;
        run_shut(&processes[i].in);
        run_shut(&processes[i].out);
    }
    for (size_t i = 0; i < run->count; i++) {
        if (processes[i].pid > 0)
            run->stages[i].status = run_wait_for(processes[i].pid);
        if (processes[i].splitter > 0 && run_wait_for(processes[i].splitter) != 0)
            *split_failed = true;
        if (processes[i].said >= 0)
            run->stages[i].said = run_read_said(processes[i].said, err);
        run_shut(&processes[i].said);
    }
    return good;
}

int carn_run_all(struct carn_run *run, struct carn_error *err)
{
    struct process processes[CARN_STAGES];
    if (run->full)
        return carn_fail(err, CARN_LIMIT,
                         "a pipeline of more than %d stages, or a stage of more than %d arguments",
                         CARN_STAGES, CARN_ARGUMENTS - 2);
    for (size_t i = 0; i < CARN_STAGES; i++)
        processes[i] = (struct process){.in = -1, .out = -1, .said = -1};
    (void)fflush(stdout);
    bool good = true, split_failed = false;
    if (run->in_turn && run_all_inside(run))
        good = run_turns(run, processes, err);
    else
        good = run_at_once(run, processes, &split_failed, err);
    run->highest = 0;
    good = good && run_judge(run, err) == 0;
    if (good && split_failed)
        good = carn_fail(err, CARN_SYSTEM, "a pipe between the stages broke") == 0;
    int rc = settle(run, processes, good, err);
    for (size_t i = 0; i < run->count; i++)
        free(processes[i].part);
    return rc;
}
