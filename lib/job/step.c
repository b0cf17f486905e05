/* step: what the steps share. */
#define _XOPEN_SOURCE 700
#include "job/step_own.h"

#include "colour/separation.h"
#include "correct/reading.h"
#include "job/look.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

const char *step_text(struct carn_step *step, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    const char *text = carn_texts_print(&step->texts, &step->why, format, args);
    va_end(args);
    return text;
}

const char *step_file(struct carn_step *step, const char *file)
{
    return step_text(step, "%s/%s", step->folder, file);
}

const char *step_program(struct carn_step *step, const char *name)
{
    return step_text(step, "%s/%s", step->bin, name);
}

const char *step_asked(const struct carn_step *step, const char *key)
{
    return carn_record_get(step->request, key);
}

bool step_asked_is(const struct carn_step *step, const char *key, const char *value)
{
    return strcmp(carn_record_get(step->request, key), value) == 0;
}

struct carn_step *carn_step_open(const char *kind, const char *id, const char *bin,
                                 const struct carn_filter *filters, struct carn_error *err)
{
    struct stat st;
    struct carn_step *step = carn_alloc(1, sizeof *step, err);
    if (step == NULL)
        return NULL;
    step->bin = bin;
    step->filters = filters;
    if (kind[0] == '\0') {
        snprintf(step->folder, sizeof step->folder, "work");
        return step;
    }
    snprintf(step->id, sizeof step->id, "%s", id);
    snprintf(step->folder, sizeof step->folder, "work/%s/%s", kind, step->id);
    if (!carn_plain_name(id) || strlen(id) >= sizeof step->id || lstat(step->folder, &st) != 0 ||
        !S_ISDIR(st.st_mode)) {
        carn_fail(err, CARN_INPUT, "work/%s/%.80s: no such folder; carn-job makes it", kind, id);
        carn_step_close(step);
        return NULL;
    }
    carn_sweep(step->folder);
    step->request = carn_table_read(step_file(step, "request.tsv"), err);
    if (step->request == NULL) {
        carn_step_close(step);
        return NULL;
    }
    return step;
}

void carn_step_close(struct carn_step *step)
{
    if (step == NULL)
        return;
    carn_texts_clear(&step->texts);
    free(step->notes);
    carn_table_close(step->request);
    free(step);
}

const char *carn_step_message(struct carn_step *step)
{
    carn_error_line(&step->why, step->line, sizeof step->line);
    return step->line;
}

/* ---- programs ---- */

/* The notes of a stage: lines with ": note: ", each once. */
static void keep_notes(struct carn_step *step, const char *said)
{
    while (said != NULL && *said != '\0') {
        size_t n = strcspn(said, "\n");
        char line[512];
        snprintf(line, sizeof line, "%.*s\n", (int)(n < 500 ? n : 500), said);
        if (strstr(line, ": note: ") != NULL &&
            (step->notes == NULL || strstr(step->notes, line) == NULL)) {
            size_t size = step->notes_size + strlen(line);
            char *grown = realloc(step->notes, size + 1);
            if (grown != NULL) {
                memcpy(grown + step->notes_size, line, strlen(line) + 1);
                step->notes = grown;
                step->notes_size = size;
            }
        }
        said += n + (said[n] == '\n');
    }
}

int step_look_at(struct carn_step *step, const char *picture, size_t *colours,
                 struct carn_error *err)
{
    struct carn_look_at look;
    int rc = carn_look(picture, step->filters != NULL, true, &look, err);
    step->small = look.small;
    *colours = look.colours;
    return rc;
}

int step_run(struct carn_step *step, struct carn_run *run, int *highest)
{
    run->inside = step->filters;
    run->in_turn = run->in_turn || step->small;
    int rc = step->why.kind == CARN_NONE ? carn_run_all(run, &step->why) : -1;
    for (size_t i = 0; i < run->count; i++)
        if (!run->stages[i].aside)
            keep_notes(step, run->stages[i].said);
    if (highest != NULL)
        *highest = run->highest;
    carn_run_clear(run);
    return rc;
}

void step_ink(struct carn_step *step, struct carn_run *run)
{
    bool bpc = !step_asked_is(step, "black_point", "no");
    if (step->filters != NULL) /* once for all that are forked */
        carn_separation_keep(step_asked(step, "separation"), bpc);
    carn_run_words(run, "-k", step_asked(step, "separation"));
    if (!bpc)
        carn_run_word(run, "-B");
}

void step_add_sample(struct carn_step *step, struct carn_run *run, int from, const char *in,
                     const char *patches, const char *out)
{
    int at = carn_run_add(run, from, in, step_program(step, "carn-sample"));
    carn_run_words(run, "-q", "-p");
    carn_run_word(run, patches);
    step_ink(step, run);
    run->stages[at].out = out;
}

/* ---- failure as data ---- */

int step_write_failed(struct carn_step *step, const char *path, void (*header)(FILE *to),
                      struct carn_error *err)
{
    struct carn_page page;
    if (carn_page_open(&page, err) != 0)
        return -1;
    fputs("# failed: ", page.to);
    for (const char *c = carn_step_message(step); *c != '\0'; c++)
        fputc(*c == '\n' || *c == '\r' ? ' ' : *c, page.to);
    fputc('\n', page.to);
    header(page.to);
    return carn_page_keep(&page, path, err) < 0 ? -1 : 0;
}

char *carn_step_failed(const char *path, struct carn_error *err)
{
    static const char mark[] = "# failed: ";
    char line[1200] = "";
    FILE *from = fopen(path, "rb");
    if (from == NULL)
        return errno == ENOENT ? NULL : carn_copy(strerror(errno), err);
    bool failed =
        fgets(line, sizeof line, from) != NULL && strncmp(line, mark, sizeof mark - 1) == 0;
    fclose(from);
    if (!failed)
        return NULL;
    line[strcspn(line, "\n")] = '\0';
    return carn_copy(line + sizeof mark - 1, err);
}

/* ---- has anything changed? ---- */

static unsigned long long sum_of(const char *const *paths, size_t count)
{
    unsigned long long sum = 0;
    for (size_t i = 0; i < count; i++) {
        struct carn_error ignored = {0};
        char *text = paths[i] != NULL ? carn_text(paths[i], &ignored) : NULL;
        sum = carn_text_sum(sum, text != NULL ? text : "\001missing");
        free(text);
    }
    return sum;
}

struct step_made step_made(struct carn_step *step, const char *name, const char *const *inputs,
                           size_t count)
{
    return (struct step_made){.stamp = step_file(step, name),
                              .key = step_text(step, "%s/%s.key", step->folder, name),
                              .sum = sum_of(inputs, count)};
}

bool step_is_made(const struct step_made *made, const char *table, struct carn_error *err)
{
    struct carn_error ignored = {0};
    char want[24], *text = carn_text(made->key, &ignored), *failed = carn_step_failed(table, err);
    snprintf(want, sizeof want, "%016llx\n", made->sum);
    bool same =
        text != NULL && strcmp(text, want) == 0 && failed == NULL && access(table, R_OK) == 0;
    free(text);
    free(failed);
    return same;
}

void step_unmake(const struct step_made *made)
{
    (void)unlink(made->stamp);
    (void)unlink(made->key);
}

int step_keep_notes(struct carn_step *step, const char *file, struct carn_error *err)
{
    return carn_keep(step_file(step, file), step->notes != NULL ? step->notes : "", err) < 0 ? -1
                                                                                             : 0;
}

int step_keep_made(const struct step_made *made, struct carn_error *err)
{
    char text[24];
    snprintf(text, sizeof text, "%016llx\n", made->sum);
    return carn_keep(made->key, text, err) < 0 || carn_touch(made->stamp, err) != 0 ? -1 : 0;
}

/* ---- tables ---- */

static void copy_rows(const struct carn_table *table, FILE *to, bool header, const char *frame,
                      step_subject subject_of, const void *with)
{
    int frame_at = carn_table_find(table, "frame"), subject_at = carn_table_find(table, "subject");
    int patch_at = carn_table_find(table, "patch");
    size_t columns = carn_table_columns(table);
    if (header) {
        carn_table_print_names(to, table);
        fputc('\n', to);
    }
    for (size_t i = 0; i < carn_table_rows(table); i++) {
        for (size_t c = 0; c < columns; c++) {
            const char *cell = carn_table_cell(table, i, (int)c);
            if ((int)c == frame_at)
                cell = frame;
            if ((int)c == subject_at && subject_of != NULL)
                cell = subject_of(with, carn_table_cell(table, i, patch_at));
            carn_table_print(to, cell);
            fputc(c + 1 < columns ? '\t' : '\n', to);
        }
    }
}

int step_merge(const char *const *paths, size_t count, const char *to, const char *frame,
               step_subject subject_of, const void *with, struct carn_error *err)
{
    struct carn_page page;
    bool header = true;
    if (carn_page_open(&page, err) != 0)
        return -1;
    int rc = 0;
    for (size_t i = 0; rc == 0 && i < count; i++) {
        if (paths[i] == NULL || access(paths[i], F_OK) != 0)
            continue;
        struct carn_table *table = carn_table_read(paths[i], err);
        rc = table != NULL ? 0 : -1;
        if (rc == 0)
            copy_rows(table, page.to, header, frame, subject_of, with);
        header = header && rc != 0;
        carn_table_close(table);
    }
    if (rc == 0 && header)
        carn_reading_print_header(page.to);
    if (rc != 0) {
        (void)carn_page_close(&page, err);
        free(page.text);
        return -1;
    }
    return carn_page_keep(&page, to, err) < 0 ? -1 : 0;
}
