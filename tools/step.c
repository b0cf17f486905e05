/* carn-step: one pipeline as one step: every stage's status counts; the result is whole or absent.
 */
#include "base/tool.h"
#include "job/files.h"
#include "job/run.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct asked {
    const char *output, *status, *notes, *failed;
    bool keep;
};

/* Stages are separated by a single bar. */
static int take_stages(struct carn_run *run, int count, char **words, struct carn_error *err)
{
    int from = CARN_NO_STAGE, taken = 0;
    for (int i = 0; i < count; i++) {
        bool bar = strcmp(words[i], "|") == 0;
        if (bar ? taken == 0 || i + 1 == count : false)
            return carn_fail(err, CARN_INPUT, "a stage of the pipeline is empty");
        if (bar) {
            taken = 0;
            continue;
        }
        if (taken++ == 0) {
            from = carn_run_add(run, from, NULL, words[i]);
            if (run->full)
                return carn_fail(err, CARN_LIMIT, "more than %d stages", CARN_STAGES);
        } else if (taken >= CARN_ARGUMENTS) {
            return carn_fail(err, CARN_LIMIT, "%s: more than %d arguments",
                             run->stages[from].argv[0], CARN_ARGUMENTS - 2);
        } else {
            carn_run_word(run, words[i]);
        }
    }
    return count > 0 ? 0 : carn_fail(err, CARN_USAGE, "no pipeline given; see carn-step --help");
}

static void say(const struct carn_run *run, FILE *to)
{
    for (size_t i = 0; i < run->count; i++)
        if (run->stages[i].said != NULL)
            fputs(run->stages[i].said, to);
}

static int write_notes(const struct carn_run *run, const char *path, struct carn_error *err)
{
    struct carn_page page;
    if (carn_page_open(&page, err) != 0)
        return -1;
    say(run, page.to);
    return carn_page_keep(&page, path, err) < 0 ? -1 : 0;
}

/* What is removed or renamed onto is a plain file, or not there: never a device, a pipe or a
 * folder.
 */
static int check_names(const struct asked *asked, struct carn_error *err)
{
    const char *const names[] = {asked->output, asked->status, asked->notes, asked->failed};
    struct stat st;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (names[i] != NULL && stat(names[i], &st) == 0 && !S_ISREG(st.st_mode))
            return carn_fail_at(err, CARN_INPUT, names[i], "is not a plain file");
    return 0;
}

/* Renames the finished result; with -k not when the file has the same bytes. */
static int settle(const struct asked *asked, const char *made, struct carn_error *err)
{
    if (asked->keep && carn_same_bytes(made, asked->output))
        return unlink(made);
    return carn_move(made, asked->output, err);
}

static int do_step(struct carn_tool *tool, const struct asked *asked, struct carn_run *run)
{
    struct carn_error *err = &tool->err;
    char made[4200], status[8];
    if (asked->output != NULL) {
        snprintf(made, sizeof made, "%s.%ld.part", asked->output, (long)getpid());
        run->stages[run->count - 1].out = made;
    }
    if (carn_run_all(run, err) != 0) {
        if (asked->output != NULL)
            (void)unlink(asked->output);
        return -1;
    }
    if (asked->notes == NULL)
        say(run, stderr);
    else if (write_notes(run, asked->notes, err) != 0)
        return -1;
    snprintf(status, sizeof status, "%d\n", run->highest);
    if (asked->status != NULL && carn_keep(asked->status, status, err) < 0)
        return -1;
    return asked->output != NULL ? settle(asked, made, err) : 0;
}

/* Two steps of one frame may fail at once, so each writes a file of its own and renames it. */
static int mark(const char *path, const char *message, struct carn_error *err)
{
    char part[4200];
    snprintf(part, sizeof part, "%s.%ld.part", path, (long)getpid());
    FILE *to = fopen(part, "w");
    bool good = to != NULL && fprintf(to, "%s\n", message) > 0;
    good = (to == NULL || fclose(to) == 0) && good && rename(part, path) == 0;
    return good ? 0 : carn_fail(err, CARN_SYSTEM, "%s: cannot write: %s", path, strerror(errno));
}

static void tell_trouble(struct carn_tool *tool, const struct asked *asked, bool own_words)
{
    char line[2100], message[2200];
    carn_error_line(&tool->err, line, sizeof line);
    snprintf(message, sizeof message, "%s%s", own_words ? "" : "carn-step: ", line);
    tool->err = (struct carn_error){0};
    if (asked->failed != NULL) {
        (void)mark(asked->failed, message, &tool->err);
        return;
    }
    fprintf(stderr, "%s\n", message);
    tool->status = 2;
}

int main(int argc, char **argv)
{
    struct asked asked = {0};
    const struct carn_option options[] = {
        {'o', "output", "FILE", "write the result under another name, then rename it",
         .text = &asked.output},
        {'k', "keep", NULL, "leave FILE alone when the result has the same bytes",
         .flag = &asked.keep},
        {'s', "status", "FILE", "write the highest status of the stages, 0 or 1, there",
         .text = &asked.status},
        {'n', "notes", "FILE", "write what the stages said there; else on standard error",
         .text = &asked.notes},
        {'f', "failed", "FILE",
         "after trouble write the message there, end with 0; nothing runs while it is there",
         .text = &asked.failed},
        {0},
    };
    struct carn_tool tool = {.name = "carn-step",
                             .operands = "-- STAGE [ARGUMENT]... ['|' STAGE [ARGUMENT]...]...",
                             .purpose = "Runs a pipeline and looks at the status of every stage: 0 "
                                        "or 1 is done,\nover 1 or a signal is trouble.",
                             .options = options};
    struct carn_run run = {0};

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    bool go = key == 0 && tool.err.kind == CARN_NONE &&
              take_stages(&run, argc - optind, argv + optind, &tool.err) == 0 &&
              check_names(&asked, &tool.err) == 0;

    /* data */
    if (go && asked.failed != NULL && access(asked.failed, F_OK) == 0) {
        if (asked.output != NULL)
            (void)unlink(asked.output);
    } else if (go && do_step(&tool, &asked, &run) != 0) {
        tell_trouble(&tool, &asked, run.own_words);
    }

    /* clean up */
    carn_run_clear(&run);
    return carn_tool_end(&tool);
}
