/*
 * sweep: runs a program again and again and lets another call of it fail each time (shim.c).
 *
 * usage: sweep [-r] [-d] [-m MOST] [-i INPUT] [-o OUTPUT] SHIM COMMAND [ARGUMENT]...
 *
 * First without a fault, which shows what is right. Then for each kind and every n, or for MOST of
 * them evenly spread. A run is
 *   right    status, standard output, standard error and OUTPUT are as without a fault;
 *   refused  status 2, one line on standard error beside notes, on standard output no more than the
 *            beginning of what is right (-r: whatever rows), no OUTPUT or all of it;
 *   died     ended by SIGSEGV or SIGABRT for a failed allocation (only with -d: a library's fault);
 *   wrong    anything else.
 * Prints a row a kind: program, kind, calls, injected, refused, right, died, wrong; what was wrong
 * goes to standard error. Status 1 when anything was, 2 for trouble.
 */
#define _GNU_SOURCE
#include "shim.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

enum { SHOWN = 12 }; /* wrong runs of a kind to tell of */

struct bytes {
    char *at;
    size_t size;
    bool there;
};

struct run {
    int status; /* 128 and more: by a signal */
    struct bytes out, err, file;
};

struct job {
    const char *shim, *input, *output;
    char **command;
    bool rows, may_die;
    struct fault_count *count;
    int count_fd, out_fd, err_fd;
};

static void die(const char *what)
{
    fprintf(stderr, "sweep: %s: %s\n", what, strerror(errno));
    exit(2);
}

static struct bytes take(int fd)
{
    struct bytes b = {.there = fd >= 0};
    if (fd < 0)
        return b;
    off_t size = lseek(fd, 0, SEEK_END);
    b.size = size > 0 ? (size_t)size : 0;
    b.at = malloc(b.size + 1);
    if (b.at == NULL || pread(fd, b.at, b.size, 0) != (ssize_t)b.size)
        die("what a run wrote");
    b.at[b.size] = '\0';
    return b;
}

static bool same(const struct bytes *a, const struct bytes *b)
{
    return a->there == b->there && a->size == b->size &&
           (a->size == 0 || memcmp(a->at, b->at, a->size) == 0);
}

static void child(const struct job *job, enum fault_kind kind, unsigned long n)
{
    char fault[80];
    int in = open(job->input != NULL ? job->input : "/dev/null", O_RDONLY);
    if (in < 0 || dup2(in, STDIN_FILENO) < 0 || dup2(job->out_fd, STDOUT_FILENO) < 0 ||
        dup2(job->err_fd, STDERR_FILENO) < 0)
        _exit(125);
    if (in > STDERR_FILENO)
        (void)close(in);
    snprintf(fault, sizeof fault, "%s %lu /proc/self/fd/%d", fault_kinds[kind], n, job->count_fd);
    if (setenv("CARN_FAULT", fault, 1) != 0 || setenv("LD_PRELOAD", job->shim, 1) != 0)
        _exit(125);
    execvp(job->command[0], job->command);
    _exit(126);
}

static struct run run(struct job *job, enum fault_kind kind, unsigned long n)
{
    struct run r = {0};
    int status;
    *job->count = (struct fault_count){0};
    if (ftruncate(job->out_fd, 0) != 0 || ftruncate(job->err_fd, 0) != 0 ||
        lseek(job->out_fd, 0, SEEK_SET) != 0 || lseek(job->err_fd, 0, SEEK_SET) != 0)
        die("temporary files");
    if (job->output != NULL)
        (void)unlink(job->output);
    pid_t pid = fork();
    if (pid == 0)
        child(job, kind, n);
    if (pid < 0 || waitpid(pid, &status, 0) != pid)
        die("fork");
    r.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    if (job->count->ready == 0 && r.status != 126) {
        fprintf(stderr, "sweep: the shim did not start in %s\n", job->command[0]);
        exit(2);
    }
    r.out = take(job->out_fd);
    r.err = take(job->err_fd);
    int fd = job->output != NULL ? open(job->output, O_RDONLY) : -1;
    r.file = take(fd);
    if (fd >= 0)
        (void)close(fd);
    return r;
}

static void drop(struct run *r)
{
    free(r->out.at);
    free(r->err.at);
    free(r->file.at);
}

/* Lines that are no note, and whether each begins with a program's name. */
static int lines(const char *text, bool *named)
{
    int n = 0;
    *named = true;
    for (const char *at = text; *at != '\0';) {
        const char *end = strchrnul(at, '\n');
        const char *note = strstr(at, ": note: ");
        if (note == NULL || note > end) {
            n++;
            *named = *named && strncmp(at, "carn-", 5) == 0;
        }
        at = *end == '\n' ? end + 1 : end;
    }
    return n;
}

enum verdict { REFUSED, RIGHT, DIED, WRONG, VERDICTS };

static enum verdict judge(const struct job *job, enum fault_kind kind, const struct run *r,
                          const struct run *right)
{
    bool named;
    if (r->status == right->status && same(&r->out, &right->out) && same(&r->err, &right->err) &&
        same(&r->file, &right->file))
        return RIGHT;
    if (job->may_die && kind == FAULT_ALLOC &&
        (r->status == 128 + SIGSEGV || r->status == 128 + SIGABRT) && !r->file.there)
        return DIED;
    bool beginning = r->out.size <= right->out.size &&
                     (r->out.size == 0 || memcmp(r->out.at, right->out.at, r->out.size) == 0);
    bool whole = !r->file.there || same(&r->file, &right->file);
    return r->status == 2 && (beginning || job->rows) && whole && lines(r->err.at, &named) == 1 &&
                   named
               ? REFUSED
               : WRONG;
}

static int sweep_kind(struct job *job, enum fault_kind kind, unsigned long most)
{
    struct run right = run(job, kind, 0);
    unsigned long calls = job->count->seen, tries = most > 0 && most < calls ? most : calls;
    unsigned long counts[VERDICTS] = {0}, injected = 0;
    const char *program = strrchr(job->command[0], '/');
    program = program != NULL ? program + 1 : job->command[0];
    if (right.status > 1) {
        fprintf(stderr, "sweep: %s fails by itself, status %d: %s\n", program, right.status,
                right.err.at);
        exit(2);
    }
    for (unsigned long i = 0; i < tries; i++) {
        unsigned long n = tries > 1 ? 1 + i * (calls - 1) / (tries - 1) : 1;
        struct run r = run(job, kind, n);
        injected += job->count->struck;
        enum verdict verdict = judge(job, kind, &r, &right);
        if (++counts[verdict] <= SHOWN && verdict == WRONG)
            fprintf(stderr, "%s: %s %lu of %lu: status %d, %zu of %zu bytes out%s: %.300s\n",
                    program, fault_kinds[kind], n, calls, r.status, r.out.size, right.out.size,
                    r.file.there ? ", a file" : "", r.err.at);
        drop(&r);
    }
    printf("%s\t%s\t%lu\t%lu", program, fault_kinds[kind], calls, injected);
    for (int v = 0; v < VERDICTS; v++)
        printf("\t%lu", counts[v]);
    putchar('\n');
    fflush(stdout);
    drop(&right);
    return counts[WRONG] > 0;
}

int main(int argc, char **argv)
{
    struct job job = {0};
    unsigned long most = 0;
    int option, status = 0;
    while ((option = getopt(argc, argv, "+rdm:i:o:")) != -1)
        switch (option) {
        case 'r':
            job.rows = true;
            break;
        case 'd':
            job.may_die = true;
            break;
        case 'm':
            most = strtoul(optarg, NULL, 10);
            break;
        case 'i':
            job.input = optarg;
            break;
        case 'o':
            job.output = optarg;
            break;
        default:
            return 2;
        }
    if (argc - optind < 2) {
        fputs(
            "usage: sweep [-r] [-d] [-m MOST] [-i INPUT] [-o OUTPUT] SHIM COMMAND [ARGUMENT]...\n",
            stderr);
        return 2;
    }
    job.shim = argv[optind];
    job.command = argv + optind + 1;
    job.count_fd = memfd_create("count", 0);
    job.out_fd = memfd_create("out", 0);
    job.err_fd = memfd_create("err", 0);
    if (job.count_fd < 0 || job.out_fd < 0 || job.err_fd < 0 ||
        ftruncate(job.count_fd, sizeof *job.count) != 0)
        die("memfd_create");
    job.count = mmap(NULL, sizeof *job.count, PROT_READ | PROT_WRITE, MAP_SHARED, job.count_fd, 0);
    if (job.count == MAP_FAILED)
        die("mmap");
    for (int kind = 0; kind < FAULT_CALLS; kind++)
        status |= sweep_kind(&job, (enum fault_kind)kind, most);
    return status;
}
