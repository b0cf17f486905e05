#include "job/guess_write.h"
#include "job/guess_own.h"

#include <stdlib.h>
#include <string.h>

void guess_row(FILE *to, const struct carn_table *table, const char *const *columns,
               const char *const *cells, size_t count)
{
    for (size_t c = 0; c < carn_table_columns(table); c++) {
        const char *cell = "";
        for (size_t k = 0; k < count; k++)
            if (strcmp(carn_table_name(table, c), columns[k]) == 0)
                cell = cells[k];
        fputs(c > 0 ? "\t" : "", to);
        carn_table_print(to, cell);
    }
    fputc('\n', to);
}

static void put_rows(struct guess_work *w)
{
    static const char *const columns[] = {"frame", "subject", "camera", "card"};
    for (size_t i = 0; i < w->guess.count; i++) {
        const struct carn_guess_picture *p = &w->guess.pictures[w->guess.order[i]];
        const char *const cells[] = {p->frame, p->subject, p->camera, p->card};
        if (p->fresh)
            guess_row(w->rows.to, w->jobs, columns, cells, 4);
    }
}

/* Appends to a table of the job in one go, keeping what stands there. */
static int append(const char *path, struct carn_page *page, struct carn_error *err)
{
    struct carn_page whole;
    if (carn_page_close(page, err) != 0)
        return -1;
    char *old = page->size > 0 ? carn_text(path, err) : NULL;
    int rc = err->kind == CARN_NONE ? 0 : -1;
    if (rc == 0 && old != NULL && (rc = carn_page_open(&whole, err)) == 0) {
        size_t n = strlen(old);
        fprintf(whole.to, "%s%s%s", old, n > 0 && old[n - 1] != '\n' ? "\n" : "", page->text);
        rc = carn_page_keep(&whole, path, err) < 0 ? -1 : 0;
    }
    free(old);
    return rc;
}

static int guess(const struct carn_guess_from *from, struct guess_work *w)
{
    struct carn_page without;
    if (carn_page_open(&without, w->err) != 0)
        return -1;
    int rc = carn_guess_make(from, &w->guess, w->err);
    if (rc == 0)
        rc = guess_look(w);
    if (rc == 0) {
        guess_tell_all(w);
        rc = guess_choose_cards(w, without.to);
    }
    if (carn_page_close(&without, w->err) != 0)
        rc = -1;
    if (rc == 0) {
        put_rows(w);
        guess_tell_rest(w, without.text);
    }
    free(without.text);
    return rc;
}

static int write_all(struct guess_work *w)
{
    return append("patches.tsv", &w->cards, w->err) == 0 && append("job.tsv", &w->rows, w->err) == 0
               ? carn_page_close(&w->told, w->err)
               : -1;
}

static void close_page(struct carn_page *page)
{
    struct carn_error ignored = {0};
    (void)carn_page_close(page, &ignored);
    free(page->text);
}

char *carn_guess_write(struct carn_guess_from *from, const char *bin, struct carn_error *err)
{
    struct guess_work w = {.err = err, .bin = bin};
    char *told = NULL;
    w.jobs = carn_table_read("job.tsv", err);
    w.patches = w.jobs != NULL ? carn_table_read("patches.tsv", err) : NULL;
    from->jobs = w.jobs;
    from->patches = w.patches;
    /* Rows would go to columns that are not there. */
    bool sound = w.patches != NULL && carn_table_need(w.jobs, "frame", err) >= 0 &&
                 carn_table_need(w.patches, "frame", err) >= 0;
    if (sound && carn_page_open(&w.told, err) == 0 && carn_page_open(&w.rows, err) == 0 &&
        carn_page_open(&w.cards, err) == 0 && guess(from, &w) == 0 && write_all(&w) == 0) {
        told = w.told.text;
        w.told.text = NULL;
    }
    close_page(&w.told);
    close_page(&w.rows);
    close_page(&w.cards);
    carn_guess_close(&w.guess);
    carn_table_close(w.jobs);
    carn_table_close(w.patches);
    from->jobs = from->patches = NULL;
    return told;
}
