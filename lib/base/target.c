#define _GNU_SOURCE /* O_TMPFILE */
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
    char *work; /* the name while it is written; NULL while it has none */
    int fd;
    bool standard; /* output */
};

/* The name that a signal has to remove; the handler cannot reach anything else. */
static char doomed[PATH_MAX];
static volatile sig_atomic_t doomed_set;
static const int ending[] = {SIGINT,  SIGTERM, SIGHUP,  SIGQUIT, SIGPIPE, SIGXFSZ, SIGXCPU,
                             SIGALRM, SIGUSR1, SIGUSR2, SIGABRT, SIGSEGV, SIGBUS,  SIGFPE};
enum { ENDING = sizeof ending / sizeof ending[0] };

static void doom(const char *name)
{
    strcpy(doomed, name);
    doomed_set = 1;
}

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

/* A file without a name in folder, to be read and written; -1 where the file system has none. */
static int open_nameless(const char *folder, mode_t mode)
{
#ifdef O_TMPFILE
    return open(folder, O_TMPFILE | O_RDWR | O_CLOEXEC, mode);
#else
    (void)folder;
    (void)mode;
    errno = EOPNOTSUPP;
    return -1;
#endif
}

int carn_target_scratch(const char *label, struct carn_error *err)
{
    const char *folder = getenv("TMPDIR");
    if (folder == NULL || folder[0] == '\0')
        folder = "/tmp";
    int fd = open_nameless(folder, 0600);
    if (fd >= 0)
        return fd;
    char name[PATH_MAX];
    int length = snprintf(name, sizeof name, "%s/carn-XXXXXX", folder);
    if (length < 0 || (size_t)length >= sizeof name)
        return carn_fail_at(err, CARN_SYSTEM, label, "the folder in TMPDIR has too long a name");
    fd = mkstemp(name);
    if (fd < 0)
        return carn_fail_at(err, CARN_SYSTEM, label, "cannot make a temporary file in %s: %s",
                            folder, strerror(errno));
    (void)unlink(name);
    (void)fcntl(fd, F_SETFD, FD_CLOEXEC);
    return fd;
}

/* `FOLDER/TAIL` for `FOLDER/FILE`; the caller frees. */
static char *beside(const char *path, const char *tail, struct carn_error *err)
{
    const char *slash = strrchr(path, '/');
    size_t folder = slash == NULL ? 0 : (size_t)(slash - path) + 1;
    char *name = carn_alloc(folder + strlen(tail) + 1, 1, err);
    if (name == NULL)
        return NULL;
    memcpy(name, path, folder);
    strcpy(name + folder, tail);
    return name;
}

/* The link in /proc by which a file without a name can be given one. */
struct by_number {
    char text[40];
};

static struct by_number number_of(int fd)
{
    struct by_number by;
    snprintf(by.text, sizeof by.text, "/proc/self/fd/%d", fd);
    return by;
}

/* Where the file system and /proc let it, the file has no name until it is whole: then not even
 * SIGKILL leaves anything. False: not here. */
static bool begin_nameless(struct carn_target *target, struct carn_error *err)
{
    char *folder = beside(target->path, ".", err);
    if (folder == NULL)
        return false;
    target->fd = open_nameless(folder, 0666);
    free(folder);
    if (target->fd < 0)
        return false;
    if (access(number_of(target->fd).text, F_OK) == 0)
        return true;
    (void)close(target->fd);
    target->fd = -1;
    return false;
}

/* Makes the file and tells the signal handler of it in one step. */
static int begin_named(struct carn_target *target, struct carn_error *err)
{
    target->work = beside(target->path, ".carn-XXXXXX", err);
    if (target->work == NULL)
        return -1;
    sigset_t before;
    hold_signals(true, &before);
    target->fd = mkstemp(target->work);
    int cause = errno;
    if (target->fd >= 0)
        doom(target->work);
    hold_signals(false, &before);
    if (target->fd < 0) {
        free(target->work);
        target->work = NULL;
        return carn_fail_at(err, CARN_SYSTEM, target->path, "cannot be made: %s", strerror(cause));
    }
    (void)fcntl(target->fd, F_SETFD, FD_CLOEXEC);
    /* mkstemp makes it private; a picture has the mode any new file of the user has. */
    mode_t mask = umask(0);
    (void)umask(mask);
    (void)fchmod(target->fd, 0666 & ~mask);
    return 0;
}

static int begin(struct carn_target *target, struct carn_error *err)
{
    struct stat st;
    if (stat(target->path, &st) == 0 && !S_ISREG(st.st_mode))
        return carn_fail_at(err, CARN_USAGE, target->path,
                            "is not a plain file; a stream is written with -t TYPE -");
    if (strlen(target->path) + sizeof ".carn-XXXXXX" >= sizeof doomed)
        return carn_fail_at(err, CARN_SYSTEM, target->path, "the name is too long");
    catch_signals();
    if (begin_nameless(target, err))
        return 0;
    return err->kind != CARN_NONE ? -1 : begin_named(target, err);
}

struct carn_target *carn_target_open(const char *path, struct carn_error *err)
{
    struct carn_target *target = carn_alloc(1, sizeof *target, err);
    if (target == NULL)
        return NULL;
    target->fd = -1;
    target->path = carn_copy(path, err);
    int made = -1;
    target->standard = strcmp(path, "-") == 0;
    if (target->standard && isatty(STDOUT_FILENO)) {
        carn_fail_at(err, CARN_USAGE, "<stdout>",
                     "is a terminal; pictures go into a pipe or a file");
        carn_target_close(target);
        return NULL;
    }
    if (target->path != NULL && target->standard)
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

/* What only close(2) tells is wanted before the file has its name. */
static int check_written(const struct carn_target *target, struct carn_error *err)
{
    int again = fcntl(target->fd, F_DUPFD_CLOEXEC, 3);
    if (again >= 0 && close(again) == 0)
        return 0;
    return carn_fail_at(err, CARN_SYSTEM, target->path, "cannot write: %s", strerror(errno));
}

/* A name beside the target for a file that has none, since linkat(2) replaces nothing. */
static int name_work(struct carn_target *target, struct carn_error *err)
{
    int made = -1;
    for (unsigned try = 0; made != 0 && try < 1000; try++) {
        char tail[64];
        snprintf(tail, sizeof tail, ".carn-%lx-%x", (unsigned long)getpid() & 0xffffffff, try);
        free(target->work);
        target->work = beside(target->path, tail, err);
        if (target->work == NULL)
            return -1;
        made =
            linkat(AT_FDCWD, number_of(target->fd).text, AT_FDCWD, target->work, AT_SYMLINK_FOLLOW);
        if (made != 0 && errno != EEXIST)
            break;
    }
    if (made == 0) {
        doom(target->work);
        return 0;
    }
    free(target->work);
    target->work = NULL;
    return -1;
}

/* Gives the file its name. Only while one of that name is replaced does it have another for a
 * moment. */
static int put_in_place(struct carn_target *target, struct carn_error *err)
{
    if (target->work == NULL && linkat(AT_FDCWD, number_of(target->fd).text, AT_FDCWD, target->path,
                                       AT_SYMLINK_FOLLOW) == 0)
        return 0;
    if (target->work == NULL && (errno != EEXIST || name_work(target, err) != 0))
        return -1;
    if (rename(target->work, target->path) != 0)
        return -1;
    doomed_set = 0;
    free(target->work);
    target->work = NULL;
    return 0;
}

int carn_target_finish(struct carn_target *target, struct carn_error *err)
{
    if (target->standard)
        return copy_out(target->fd, err);
    if (check_written(target, err) != 0)
        return -1;
    sigset_t before;
    hold_signals(true, &before);
    int placed = put_in_place(target, err);
    int cause = errno;
    hold_signals(false, &before);
    if (placed != 0)
        return carn_fail_at(err, CARN_SYSTEM, target->path, "cannot be put into place: %s",
                            strerror(cause));
    (void)close(target->fd);
    target->fd = -1;
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
