#define _XOPEN_SOURCE 700 /* umask, mkstemp with POSIX.1-2008 */
#include "base/target.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct carn_target {
    char *path;
    char *work; /* the name while it is written; NULL for standard output */
    int fd;
};

/* The name that a signal has to remove; the handler cannot reach anything else. */
static char doomed[PATH_MAX];
static volatile sig_atomic_t doomed_set;
static const int ending[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT};
enum { ENDING = sizeof ending / sizeof ending[0] };

static void on_signal(int number)
{
    if (doomed_set)
        (void)unlink(doomed);
    /* SA_RESETHAND has put the default back, so this ends the process the way it was asked to. */
    (void)raise(number);
}

static void hold_signals(bool hold, sigset_t *before)
{
    sigset_t set;
    sigemptyset(&set);
    for (int i = 0; i < ENDING; i++)
        sigaddset(&set, ending[i]);
    if (hold)
        sigprocmask(SIG_BLOCK, &set, before);
    else
        sigprocmask(SIG_SETMASK, before, NULL);
}

/* Once a process. A signal that the caller's parent had ignored stays ignored (nohup). */
static void catch_signals(void)
{
    static bool caught;
    if (caught)
        return;
    caught = true;
    for (int i = 0; i < ENDING; i++) {
        struct sigaction old;
        struct sigaction act = {.sa_flags = (int)SA_RESETHAND};
        act.sa_handler = on_signal;
        sigemptyset(&act.sa_mask);
        if (sigaction(ending[i], NULL, &old) == 0 && old.sa_handler == SIG_DFL)
            (void)sigaction(ending[i], &act, NULL);
    }
}

int carn_target_scratch(const char *label, struct carn_error *err)
{
    const char *folder = getenv("TMPDIR");
    if (folder == NULL || folder[0] == '\0')
        folder = "/tmp";
    char name[PATH_MAX];
    int length = snprintf(name, sizeof name, "%s/carn-XXXXXX", folder);
    if (length < 0 || (size_t)length >= sizeof name)
        return carn_fail_at(err, CARN_SYSTEM, label, "the folder in TMPDIR has too long a name");
    int fd = mkstemp(name);
    if (fd < 0)
        return carn_fail_at(err, CARN_SYSTEM, label, "cannot make a temporary file in %s: %s",
                            folder, strerror(errno));
    (void)unlink(name);
    (void)fcntl(fd, F_SETFD, FD_CLOEXEC);
    return fd;
}

/* `FOLDER/.carn-XXXXXX` for `FOLDER/FILE`; the caller frees. */
static char *work_name(const char *path, struct carn_error *err)
{
    static const char tail[] = ".carn-XXXXXX";
    const char *slash = strrchr(path, '/');
    size_t folder = slash == NULL ? 0 : (size_t)(slash - path) + 1;
    char *name = carn_alloc(folder + sizeof tail, 1, err);
    if (name == NULL)
        return NULL;
    memcpy(name, path, folder);
    memcpy(name + folder, tail, sizeof tail);
    return name;
}

/* Makes the file and tells the signal handler of it in one step. */
static int begin(struct carn_target *target, struct carn_error *err)
{
    struct stat st;
    if (stat(target->path, &st) == 0 && !S_ISREG(st.st_mode))
        return carn_fail_at(err, CARN_USAGE, target->path,
                            "is not a plain file; a stream is written with -t TYPE -");
    target->work = work_name(target->path, err);
    if (target->work == NULL)
        return -1;
    if (strlen(target->work) >= sizeof doomed)
        return carn_fail_at(err, CARN_SYSTEM, target->path, "the name is too long");
    catch_signals();
    sigset_t before;
    hold_signals(true, &before);
    target->fd = mkstemp(target->work);
    int cause = errno;
    if (target->fd >= 0) {
        memcpy(doomed, target->work, strlen(target->work) + 1);
        doomed_set = 1;
    }
    hold_signals(false, &before);
    if (target->fd < 0) {
        free(target->work);
        target->work = NULL;
        return carn_fail_at(err, CARN_SYSTEM, target->path, "cannot be made: %s", strerror(cause));
    }
    /* mkstemp makes it private; a picture has the mode any new file of the user has. */
    mode_t mask = umask(0);
    (void)umask(mask);
    (void)fchmod(target->fd, 0666 & ~mask);
    return 0;
}

struct carn_target *carn_target_open(const char *path, struct carn_error *err)
{
    struct carn_target *target = carn_alloc(1, sizeof *target, err);
    if (target == NULL)
        return NULL;
    target->fd = -1;
    target->path = carn_copy(path, err);
    int made = -1;
    if (target->path != NULL && strcmp(path, "-") == 0)
        made = target->fd = carn_target_scratch("<stdout>", err);
    else if (target->path != NULL)
        made = begin(target, err);
    if (made < 0) {
        carn_target_close(target);
        return NULL;
    }
    return target;
}

int carn_target_fd(const struct carn_target *target)
{
    return target->fd;
}

static int copy_out(int fd, struct carn_error *err)
{
    static char block[64 * 1024];
    if (lseek(fd, 0, SEEK_SET) < 0)
        return carn_fail_at(err, CARN_SYSTEM, "<stdout>", "temporary file: %s", strerror(errno));
    for (;;) {
        ssize_t got = read(fd, block, sizeof block);
        if (got == 0)
            return 0;
        if (got < 0)
            return carn_fail_at(err, CARN_SYSTEM, "<stdout>", "temporary file: %s",
                                strerror(errno));
        for (ssize_t done = 0; done < got;) {
            ssize_t put = write(STDOUT_FILENO, block + done, (size_t)(got - done));
            if (put < 0 && errno == EINTR)
                continue;
            if (put < 0)
                return carn_fail_at(err, CARN_SYSTEM, "<stdout>", "cannot write: %s",
                                    strerror(errno));
            done += put;
        }
    }
}

int carn_target_finish(struct carn_target *target, struct carn_error *err)
{
    if (target->work == NULL)
        return copy_out(target->fd, err);
    int closed = close(target->fd);
    target->fd = -1;
    if (closed != 0)
        return carn_fail_at(err, CARN_SYSTEM, target->path, "cannot write: %s", strerror(errno));
    sigset_t before;
    hold_signals(true, &before);
    int renamed = rename(target->work, target->path);
    int cause = errno;
    if (renamed == 0)
        doomed_set = 0;
    hold_signals(false, &before);
    if (renamed != 0)
        return carn_fail_at(err, CARN_SYSTEM, target->path, "cannot be renamed into place: %s",
                            strerror(cause));
    free(target->work);
    target->work = NULL;
    return 0;
}

void carn_target_close(struct carn_target *target)
{
    if (target == NULL)
        return;
    if (target->fd >= 0)
        (void)close(target->fd);
    if (target->work != NULL) {
        (void)unlink(target->work);
        doomed_set = 0;
    }
    free(target->work);
    free(target->path);
    free(target);
}
