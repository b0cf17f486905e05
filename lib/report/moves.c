/* The moves themselves: what each curve turns and scales, from provenance.tsv. */
#include "report/section.h"

#include "job/flat.h"
#include "report/html.h"
#include "report/plot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 64 };

struct move {
    const char *subject, *camera;
    struct carn_lab from, to;
};

static bool read_lab(const char *cell, struct carn_lab *lab)
{
    return sscanf(cell, "%lf %lf %lf", &lab->L, &lab->a, &lab->b) == 3;
}

/* The turns of a cell of column curve, at most MOST. */
static size_t turns_of(const char *cell, struct carn_lab from[MOST], struct carn_lab to[MOST],
                       struct carn_error *err)
{
    char *text = carn_copy(cell, err), *rest = text;
    const char *cells[3]; /* kind, from, to */
    size_t count = 0;
    while (count < MOST && carn_flat_next(&rest, cells, 3))
        count += strcmp(cells[0], "turn") == 0 && read_lab(cells[1], &from[count]) &&
                 read_lab(cells[2], &to[count]);
    free(text);
    return count;
}

/* Each curve once: frames of a group share theirs. */
static size_t collect(const struct carn_table *t, struct move *moves, size_t most,
                      struct carn_error *err)
{
    struct carn_lab from[MOST], to[MOST];
    size_t count = 0;
    int curve = carn_table_find(t, "curve"), subject = carn_table_find(t, "subject");
    for (size_t i = 0; i < carn_table_rows(t); i++) {
        bool told = false;
        for (size_t k = 0; !told && k < i; k++)
            told = strcmp(carn_table_cell(t, k, curve), carn_table_cell(t, i, curve)) == 0;
        size_t turns = told ? 0 : turns_of(carn_table_cell(t, i, curve), from, to, err);
        for (size_t k = 0; k < turns && count < most; k++)
            moves[count++] = (struct move){carn_table_cell(t, i, subject),
                                           carn_table_at(t, i, "camera"), from[k], to[k]};
    }
    return count;
}

void carn_section_moves(const struct carn_section *s)
{
    static const char *const heads[] = {"Person",       "Camera",           "at L*",
                                        "hue, degrees", "chroma, per cent", NULL};
    struct carn_plot_axis x = {"hue turned, degrees (+ to yellow)", -1, 1, false, 0};
    struct carn_plot_axis y = {"chroma, per cent of before", 95, 105, false, 0};
    struct carn_plot plot;
    size_t rows = s->shown->provenance != NULL ? carn_table_rows(s->shown->provenance) : 0;
    size_t most = rows * 4 + MOST;
    struct move *moves = carn_alloc(most, sizeof *moves, s->err);
    size_t count =
        rows > 0 && moves != NULL ? collect(s->shown->provenance, moves, most, s->err) : 0;
    for (size_t i = 0; i < count; i++) {
        carn_plot_hold(&x, carn_hue_difference(carn_hue(moves[i].from), carn_hue(moves[i].to)));
        carn_plot_hold(&y, 100 * carn_chroma(moves[i].to) / carn_chroma(moves[i].from));
    }
    if (count > 0) {
        carn_plot_open(
            &plot, s->to, "moves", "The moves",
            "How far each curve turns hue and by how much it scales chroma, a mark for each tone "
            "that it was solved at. In the middle of the crossed lines nothing moves.",
            x, y, 0);
        const double across[2] = {plot.x.low, plot.x.high}, full[2] = {100, 100}, none[2] = {0, 0};
        const double up[2] = {plot.y.low, plot.y.high};
        carn_plot_line(&plot, "locus", across, full, 2);
        carn_plot_line(&plot, "locus", none, up, 2);
        for (size_t i = 0; i < count; i++)
            carn_plot_mark(&plot, carn_shown_camera(s->shown, moves[i].camera), false,
                           carn_hue_difference(carn_hue(moves[i].from), carn_hue(moves[i].to)),
                           100 * carn_chroma(moves[i].to) / carn_chroma(moves[i].from));
        carn_plot_key(&plot);
        for (size_t i = 0; i < s->shown->camera_count; i++)
            carn_plot_key_camera(s->to, i, s->shown->cameras[i]);
        carn_plot_table(s->to, "the moves", heads);
        for (size_t i = 0; i < count; i++) {
            fputs("<tr>", s->to);
            carn_html_text_cell(s->to, moves[i].subject);
            carn_html_text_cell(s->to, moves[i].camera);
            carn_html_cell(s->to, moves[i].from.L, 1);
            carn_html_cell(s->to,
                           carn_hue_difference(carn_hue(moves[i].from), carn_hue(moves[i].to)), 1);
            carn_html_cell(s->to, 100 * carn_chroma(moves[i].to) / carn_chroma(moves[i].from), 0);
            fputs("</tr>\n", s->to);
        }
        carn_plot_table_end(s->to);
        carn_plot_close(&plot);
    }
    free(moves);
}
