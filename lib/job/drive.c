#define _XOPEN_SOURCE 700
#include "job/drive.h"

#include "base/table.h"
#include "job/record.h"
#include "job/story.h"
#include "job/tell.h"

#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;

/* For the time left, which is a guess: the share of a frame's work that measuring takes, and the
 * size in bytes below which a smaller file takes no less time. About what the demo's frames take.
 */
static const double MEASURING = 0.35, LEAST_WORK = 3e5;

struct progress {
    const struct carn_drive *drive;
    struct carn_table *frames;
    double all, done, begun;
    size_t measured, finished, total;
    bool *seen[2]; /* by row of frames: measured, delivered */
};

double carn_drive_left(double done, double all, double passed)
{
    if (done <= 0 || all <= 0)
        return -1;
    return done >= all ? 0 : passed * (all - done) / done;
}

static double now(void)
{
    struct timespec t;
    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static double work_of(const struct progress *p, size_t row)
{
    double size = strtod(carn_table_at(p->frames, row, "size"), NULL);
    return size > LEAST_WORK ? size : LEAST_WORK;
}

static void show_left(const struct progress *p)
{
    double left = carn_drive_left(p->done, p->all, now() - p->begun);
    if (!p->drive->terminal)
        return;
    printf("\r\033[K%zu of %zu measured", p->measured, p->total);
    if (!p->drive->audit)
        printf(", %zu delivered", p->finished);
    if (left >= 0) {
        unsigned long seconds = (unsigned long)(left + 0.5);
        printf("; %lu:%02lu left", seconds / 60, seconds % 60);
    }
    fflush(stdout);
}

static void print_line(struct progress *p, size_t row)
{
    struct carn_story_frame frame;
    struct carn_error ignored = {0};
    if (p->drive->terminal)
        fputs("\r\033[K", stdout);
    (void)carn_story_one(p->frames, row, p->drive->audit, &frame, &ignored);
    if (!frame.card_only) {
        printf("[%zu/%zu] ", p->drive->audit ? p->measured : p->finished, p->total);
        if (p->drive->audit && frame.failed == NULL)
            frame.judged = frame.neutral;
        carn_story_line(stdout, &frame);
        fputc('\n', stdout);
    }
    carn_story_one_clear(&frame);
    fflush(stdout);
}

static void take_line(struct progress *p, char *line)
{
    const char *word, *id;
    bool same;
    char kept[512];
    snprintf(kept, sizeof kept, "%s", line);
    if (!carn_tell_read(line, &word, &id, &same)) {
        carn_show(stdout, kept); /* of make, or of a person's own rules */
        fputc('\n', stdout);
        fflush(stdout);
        return;
    }
    bool delivered = strcmp(word, "delivered") == 0;
    size_t row =
        delivered || strcmp(word, "measured") == 0 ? carn_table_row(p->frames, "id", id) : SIZE_MAX;
    if (row == SIZE_MAX || p->seen[delivered][row])
        return;
    p->seen[delivered][row] = true;
    double work = work_of(p, row) * (delivered ? 1 - MEASURING : p->drive->audit ? 1 : MEASURING);
    /* A step that found nothing to do took no time: its work is taken off the total. */
    p->measured += delivered ? 0 : 1;
    p->finished += delivered && !same ? 1 : 0;
    if (same)
        p->all -= work;
    else
        p->done += work;
    if (!same && delivered != p->drive->audit)
        print_line(p, row);
    show_left(p);
}

static int read_lines(struct progress *p, int fd, struct carn_error *err)
{
    FILE *from = fdopen(fd, "r");
    char line[512];
    if (from == NULL) {
        (void)close(fd);
        return carn_fail(err, CARN_SYSTEM, "make: cannot be read: %s", strerror(errno));
    }
    show_left(p);
    while (fgets(line, sizeof line, from) != NULL) {
        line[strcspn(line, "\n")] = '\0';
        take_line(p, line);
    }
    if (p->drive->terminal)
        fputs("\r\033[K", stdout);
    fclose(from);
    return 0;
}

static pid_t start(const struct carn_drive *drive, int out, int other, struct carn_error *err)
{
    posix_spawn_file_actions_t actions;
    pid_t pid = -1;
    if (posix_spawn_file_actions_init(&actions) != 0)
        return carn_fail(err, CARN_MEMORY, "out of memory");
    (void)posix_spawn_file_actions_adddup2(&actions, out, STDOUT_FILENO);
    (void)posix_spawn_file_actions_addclose(&actions, other);
    char *const *argv = (char *const *)(const void *)drive->argv;
    int cause = posix_spawnp(&pid, argv[0], &actions, NULL, argv, environ);
    (void)posix_spawn_file_actions_destroy(&actions);
    return cause == 0
               ? pid
               : carn_fail(err, CARN_SYSTEM, "%s: cannot be run: %s", argv[0], strerror(cause));
}

static int open_progress(struct progress *p, struct carn_error *err)
{
    p->frames = carn_table_read("work/frames.tsv", err);
    if (p->frames == NULL)
        return -1;
    size_t rows = carn_table_rows(p->frames);
    for (int i = 0; i < 2; i++)
        p->seen[i] = carn_alloc(rows + 1, sizeof **p->seen, err);
    if (p->seen[0] == NULL || p->seen[1] == NULL)
        return -1;
    for (size_t i = 0; i < rows; i++) {
        if (strcmp(carn_table_at(p->frames, i, "listed"), "yes") != 0)
            continue;
        p->total++;
        p->all += work_of(p, i);
    }
    p->begun = now();
    return 0;
}

int carn_drive_make(const struct carn_drive *drive, struct carn_error *err)
{
    struct progress p = {.drive = drive};
    int ends[2] = {-1, -1}, status = 0;
    int rc = open_progress(&p, err);
    if (rc == 0 && pipe(ends) != 0)
        rc = carn_fail(err, CARN_SYSTEM, "cannot make a pipe: %s", strerror(errno));
    pid_t pid = rc == 0 ? start(drive, ends[1], ends[0], err) : -1;
    if (ends[1] >= 0)
        (void)close(ends[1]);
    if (pid > 0) {
        rc = read_lines(&p, ends[0], err);
        while (waitpid(pid, &status, 0) < 0 && errno == EINTR)
            ;
    } else if (ends[0] >= 0) {
        (void)close(ends[0]);
    }
    free(p.seen[0]);
    free(p.seen[1]);
    carn_table_close(p.frames);
    if (rc != 0 || pid <= 0)
        return -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}
