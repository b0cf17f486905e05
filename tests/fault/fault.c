/*
 * A library to preload (LD_PRELOAD) that makes one thing go wrong in a whole tree of processes: at
 * the CARN_FAULT_AT-th of its kind, counted over all of them in the file CARN_FAULT_COUNT.
 *
 * CARN_FAULT: start  the program is killed before it has done anything
 *             move   killed before a file is renamed, removed or given a time
 *             write  the file that is opened for writing is on a full disk
 * CARN_FAULT_AT 0 counts only.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

/* The functions that this library stands before; name: with 64 behind or not. */
typedef int open_function(const char *, int, ...);
typedef FILE *fopen_function(const char *, const char *);
typedef int path_function(const char *);
typedef int rename_function(const char *, const char *);
typedef int times_function(int, const struct timespec *);
typedef int template_function(char *);
/* NOLINTNEXTLINE(bugprone-macro-parentheses): a declaration */
#define NEXT(type, name) type##_function *next = (type##_function *)dlsym(RTLD_NEXT, name)

/* Is it this one's turn? */
static bool due(const char *kind)
{
    const char *asked = getenv("CARN_FAULT"), *at = getenv("CARN_FAULT_AT");
    const char *path = getenv("CARN_FAULT_COUNT");
    if (asked == NULL || at == NULL || path == NULL || strcmp(asked, kind) != 0)
        return false;
    NEXT(open, "open");
    int fd = next(path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    long count = 0;
    if (fd < 0 || flock(fd, LOCK_EX) != 0 || pread(fd, &count, sizeof count, 0) < 0)
        abort();
    count++;
    if (pwrite(fd, &count, sizeof count, 0) != (ssize_t)sizeof count)
        abort();
    (void)close(fd);
    return count == atol(at);
}

static void die(void)
{
    (void)raise(SIGKILL);
}

__attribute__((constructor)) static void begin(void)
{
    if (due("start"))
        die();
}

/* ---- move ---- */

int rename(const char *from, const char *to)
{
    NEXT(rename, "rename");
    if (due("move"))
        die();
    return next(from, to);
}

int unlink(const char *path)
{
    NEXT(path, "unlink");
    if (due("move"))
        die();
    return next(path);
}

int futimens(int fd, const struct timespec times[2])
{
    NEXT(times, "futimens");
    if (due("move"))
        die();
    return next(fd, times);
}

/* ---- write ---- */

/* The file is there, and takes nothing. */
static void fill(int fd)
{
    struct stat st;
    if (fd < 0 || fstat(fd, &st) != 0 || !S_ISREG(st.st_mode) || !due("write"))
        return;
    NEXT(open, "open");
    int flags = fcntl(fd, F_GETFD), full = next("/dev/full", O_RDWR);
    if (full < 0 || dup2(full, fd) < 0)
        abort();
    (void)fcntl(fd, F_SETFD, flags);
    (void)close(full);
}

static int open_as(const char *name, const char *path, int flags, mode_t mode)
{
    NEXT(open, name);
    int fd = next(path, flags, mode);
    if ((flags & O_ACCMODE) != O_RDONLY)
        fill(fd);
    return fd;
}

int open(const char *path, int flags, ...)
{
    va_list more;
    va_start(more, flags);
    mode_t mode = (flags & O_CREAT) != 0 ? (mode_t)va_arg(more, int) : 0;
    va_end(more);
    return open_as("open", path, flags, mode);
}

int open64(const char *path, int flags, ...)
{
    va_list more;
    va_start(more, flags);
    mode_t mode = (flags & O_CREAT) != 0 ? (mode_t)va_arg(more, int) : 0;
    va_end(more);
    return open_as("open64", path, flags, mode);
}

static FILE *fopen_as(const char *name, const char *path, const char *mode)
{
    NEXT(fopen, name);
    FILE *file = next(path, mode);
    if (file != NULL && strpbrk(mode, "wa+") != NULL)
        fill(fileno(file));
    return file;
}

FILE *fopen(const char *path, const char *mode)
{
    return fopen_as("fopen", path, mode);
}

FILE *fopen64(const char *path, const char *mode)
{
    return fopen_as("fopen64", path, mode);
}

static int mkstemp_as(const char *name, char *path)
{
    NEXT(template, name);
    int fd = next(path);
    fill(fd);
    return fd;
}

int mkstemp(char *path)
{
    return mkstemp_as("mkstemp", path);
}

int mkstemp64(char *path)
{
    return mkstemp_as("mkstemp64", path);
}
