/* What became of the stages of a run: their status, what they said, and the culprit. */
#include "job/run_own.h"

#include "base/io.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { SAID_LIMIT = 64 * 1024 };

int run_wait_for(pid_t pid)
{
    int status = 0;
    while (waitpid(pid, &status, 0) < 0)
        if (errno != EINTR)
            return CANNOT_RUN;
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

char *run_read_part(int fd, off_t from, off_t to, struct carn_error *err)
{
    size_t size = to - from > SAID_LIMIT ? SAID_LIMIT : to > from ? (size_t)(to - from) : 0;
    char *said = carn_alloc(size + 1, 1, err);
    size_t used = 0;
    ssize_t got = 0;
    while (said != NULL && used < size &&
           (got = pread(fd, said + used, size - used, from + (off_t)used)) > 0)
        used += (size_t)got;
    return said;
}

char *run_read_said(int fd, struct carn_error *err)
{
    struct stat st;
    return run_read_part(fd, 0, fstat(fd, &st) == 0 ? st.st_size : SAID_LIMIT, err);
}

/* The first line of what a stage said that is no note, into text. */
static bool own_message(const char *said, char *text, size_t size)
{
    for (const char *line = said; line != NULL && *line != '\0';) {
        size_t n = strcspn(line, "\n");
        if (n > 0) {
            snprintf(text, size, "%.*s", (int)(n < size ? n : size - 1), line);
            if (strstr(text, ": note: ") == NULL)
                return true;
        }
        line += n + (line[n] == '\n');
    }
    return false;
}

static int tell_culprit(struct carn_run *run, const struct carn_stage *stage,
                        struct carn_error *err)
{
    char text[sizeof err->text];
    const char *name = run_base_name(stage->argv[0]);
    if (stage->status == 128 + SIGPIPE)
        return carn_fail(err, CARN_INPUT,
                         "%s: the next stage went away before it had read everything", name);
    if (stage->status == 126 || stage->status == CANNOT_RUN)
        return carn_fail(err, CARN_INPUT, "%s: cannot be run", name);
    run->own_words = stage->said != NULL && own_message(stage->said, text, sizeof text);
    if (run->own_words)
        return carn_fail(err, CARN_INPUT, "%s", text);
    if (stage->status > 128)
        return carn_fail(err, CARN_SYSTEM, "%s: ended by signal %d", name, stage->status - 128);
    return carn_fail(err, CARN_INPUT, "%s: failed with status %d and no message", name,
                     stage->status);
}

int run_judge(struct carn_run *run, struct carn_error *err)
{
    const struct carn_stage *culprit = NULL, *cut_off = NULL;
    for (size_t i = 0; i < run->count; i++) {
        const struct carn_stage *stage = &run->stages[i];
        if (stage->tolerant)
            continue;
        if (stage->status == 128 + SIGPIPE)
            cut_off = cut_off != NULL ? cut_off : stage;
        else if (stage->status > 1)
            culprit = culprit != NULL ? culprit : stage;
        else if (stage->status > run->highest)
            run->highest = stage->status;
    }
    if (culprit == NULL)
        culprit = cut_off;
    return culprit == NULL ? 0 : tell_culprit(run, culprit, err);
}
