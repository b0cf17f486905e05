/* What one wants to know first: how many, what needs a person, and whether the set is even. */
#include "report/section.h"

#include "report/html.h"
#include "report/plot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LISTED = 8, MOST = 150 };

static void count(FILE *to, const char *word, size_t n)
{
    fprintf(to, "<div><dt>%s</dt><dd>%zu</dd></div>", word, n);
}

static void count_all(const struct carn_section *s)
{
    size_t n[CARN_VERDICTS] = {0}, delivered = 0, failed = 0, all = 0;
    for (size_t i = 0; i < s->shown->frame_count; i++) {
        const struct carn_shown_frame *f = &s->shown->frames[i];
        all += f->is_card ? 0 : 1;
        failed += f->failed ? 1 : 0;
        delivered += strcmp(f->state, "delivered") == 0 ? 1 : 0;
        n[f->verdict] += !f->is_card && !f->failed ? 1 : 0;
    }
    fputs("<dl class=\"counts\">", s->to);
    count(s->to, "frames", all);
    if (!s->shown->audit)
        count(s->to, "delivered", delivered);
    for (size_t k = 0; k < CARN_SHOWN_VERDICTS; k++)
        count(s->to, carn_verdict_word(carn_shown_verdicts[k]), n[carn_shown_verdicts[k]]);
    count(s->to, "failed", failed);
    fputs("</dl>\n", s->to);
}

static void tell_aim(const struct carn_section *s)
{
    const struct carn_shown *shown = s->shown;
    fputs("<p>Aim <b>", s->to);
    carn_html(s->to, shown->aim[0] != '\0' ? shown->aim : "not known");
    fputs("</b>", s->to);
    const struct carn_aim_value *v = s->locus->aim.values;
    if (v[CARN_MAGENTA_BY_CYAN].set && v[CARN_YELLOW_BY_MAGENTA].set)
        fprintf(s->to, ": magenta %.2f times cyan, yellow %.2f times magenta",
                v[CARN_MAGENTA_BY_CYAN].value, v[CARN_YELLOW_BY_MAGENTA].value);
    if (!shown->audit && shown->look[0] != '\0' && strcmp(shown->look, "none") != 0)
        fputs("; judged before the look", s->to);
    fputs(shown->camera_count == 1 ? ". Camera " : ". Cameras ", s->to);
    for (size_t i = 0; i < shown->camera_count; i++) {
        size_t frames = 0;
        for (size_t k = 0; k < shown->frame_count; k++)
            frames += strcmp(shown->frames[k].camera, shown->cameras[i]) == 0 ? 1 : 0;
        fputs(i > 0 ? ", <b>" : "<b>", s->to);
        carn_html(s->to, shown->cameras[i]);
        fprintf(s->to, "</b> (%zu)", frames);
    }
    fprintf(s->to, "%s. %zu %s.</p>\n", shown->camera_count == 0 ? "not named" : "",
            shown->people_count, shown->people_count == 1 ? "person" : "people");
}

/* ---- what needs a person ---- */

static const struct carn_shown_frame *frame_of(const struct carn_shown *shown, const char *name)
{
    for (size_t i = 0; i < shown->frame_count; i++)
        if (strcmp(shown->frames[i].name, name) == 0)
            return &shown->frames[i];
    return NULL;
}

static size_t person_of(const struct carn_shown *shown, const char *name)
{
    size_t i = 0;
    while (i < shown->people_count && strcmp(shown->people[i], name) != 0)
        i++;
    return i;
}

/* Worst first, as the kinds of summary.tsv weigh. */
static size_t weight_of(const char *what)
{
    static const char *const kinds[] = {"failed",   "not renewed", "off",      "unsure",
                                        "approved", "card",        "held",     "outlier",
                                        "follow",   "uncorrected", "borrowed", "faces"};
    size_t k = 0;
    while (k < sizeof kinds / sizeof *kinds && strcmp(kinds[k], what) != 0)
        k++;
    return k;
}

static void person_row(const struct carn_section *s, size_t row)
{
    const struct carn_table *t = s->shown->summary;
    const char *about = carn_table_at(t, row, "about");
    const char *what = carn_table_at(t, row, "what");
    const char *note = carn_table_at(t, row, "note");
    const struct carn_shown_frame *f = frame_of(s->shown, about);
    fputs("<li><b class=\"verdict ", s->to);
    carn_html(s->to, strcmp(what, "off") == 0 || strcmp(what, "failed") == 0 ? what : "other");
    fputs("\">", s->to);
    carn_html(s->to, what);
    fputs("</b> ", s->to);
    size_t person = person_of(s->shown, about);
    bool linked = true;
    if (f != NULL && !f->is_card) {
        fputs("<a href=\"#f-", s->to);
        carn_html(s->to, f->id);
        fputs("\">", s->to);
    } else if (strcmp(what, "found") == 0)
        fputs("<a href=\"contact.html\">", s->to);
    else if (f == NULL && person < s->shown->people_count)
        fprintf(s->to, "<a href=\"#p-%zu\">", person);
    else
        linked = false;
    carn_html(s->to, about);
    fputs(linked ? "</a> " : " ", s->to);
    if (strcmp(note, "-") != 0)
        carn_html(s->to, note);
    fputs("</li>\n", s->to);
}

static void list_persons(const struct carn_section *s)
{
    const struct carn_table *t = s->shown->summary;
    int part = carn_table_find(t, "part"), what = carn_table_find(t, "what");
    size_t listed = 0, all = 0;
    for (size_t i = 0; i < carn_table_rows(t); i++)
        all += strcmp(carn_table_cell(t, i, part), "person") == 0 ? 1 : 0;
    fprintf(s->to, "<section aria-labelledby=\"needs\" class=\"sheet\"><h2 id=\"needs\">%s</h2>\n",
            all > 0 ? "What needs a person" : "Nothing needs a person");
    if (all > 0)
        fputs("<ol class=\"needs\">\n", s->to);
    for (size_t k = 0; k <= 12; k++) /* the kinds of weight_of, and all others */
        for (size_t i = 0; i < carn_table_rows(t); i++)
            if (strcmp(carn_table_cell(t, i, part), "person") == 0 &&
                weight_of(carn_table_cell(t, i, what)) == k) {
                if (listed++ == LISTED && all > LISTED + 2)
                    fprintf(s->to,
                            "</ol>\n<details><summary>%zu more</summary><ol class=\"needs\" "
                            "start=\"%d\">\n",
                            all - LISTED, LISTED + 1);
                person_row(s, i);
            }
    if (all > 0)
        fputs(all > LISTED + 2 ? "</ol></details>\n" : "</ol>\n", s->to);
    fputs("</section>\n", s->to);
}

/* ---- evenness ---- */

/* mean of a figure, of the part spread or cameras of summary.tsv. */
static bool mean_of(const struct carn_table *t, const char *part, const char *what, double *before,
                    double *after)
{
    struct carn_error ignored = {0};
    *before = *after = (double)NAN;
    for (size_t i = 0; i < carn_table_rows(t); i++)
        if (strcmp(carn_table_at(t, i, "part"), part) == 0 &&
            strcmp(carn_table_at(t, i, "about"), "mean") == 0 &&
            strcmp(carn_table_at(t, i, "what"), what) == 0) {
            (void)carn_table_number(t, i, carn_table_find(t, "before"), before, &ignored);
            (void)carn_table_number(t, i, carn_table_find(t, "after"), after, &ignored);
        }
    return !isnan(*before) && !isnan(*after) && *before > 0;
}

static const struct {
    const char *what, *name, *unit;
    int decimals;
} figures[] = {{"hue", "hue", "\u00b0", 1},
               {"chroma", "chroma C*", "", 1},
               {"magenta_by_cyan", "M/C", "", 2},
               {"yellow_by_magenta", "Y/M", "", 2}};
static const char *const parts[] = {"spread", "cameras"};
static const char *const heads[] = {"between a person's frames", "between the cameras"};

static void evenness_table(const struct carn_section *s, size_t first)
{
    static const char *const columns[] = {"Widest difference", "of", "as shot", "now", NULL};
    double before, after;
    carn_plot_table(s->to, "evenness", columns);
    for (size_t p = first; p < 2; p++)
        for (size_t k = 0; k < 4; k++) {
            (void)mean_of(s->shown->summary, parts[p], figures[k].what, &before, &after);
            fprintf(s->to, "<tr><th scope=\"row\">%s</th><td>%s</td>", heads[p], figures[k].name);
            carn_html_cell(s->to, before, figures[k].decimals + 1);
            carn_html_cell(s->to, after, figures[k].decimals + 1);
            fputs("</tr>\n", s->to);
        }
    carn_plot_table_end(s->to);
}

/* Two bars for each figure: as shot, which is 100 %, and what is left of it. Units differ between
 * figures, so the axis is in per cent and the values stand beside the bars. */
static void draw_evenness(const struct carn_section *s)
{
    /* Where nobody has two frames by one camera, both parts hold the same figures. */
    size_t first = 1;
    double before, after, other, remains;
    for (size_t k = 0; k < 4; k++)
        if (mean_of(s->shown->summary, parts[0], figures[k].what, &before, &after) &&
            !(mean_of(s->shown->summary, parts[1], figures[k].what, &other, &remains) &&
              fabs(before - other) < 1e-6 && fabs(after - remains) < 1e-6))
            first = 0;
    struct carn_plot plot;
    /* The bars up to MOST per cent; beyond them the figures. */
    const struct carn_plot_axis x = {"what is left, per cent of as shot", 0, 260, true, 0};
    const struct carn_plot_axis y = {"", 0, first == 0 ? 10 : 5, true, 0};
    carn_plot_open(
        &plot, s->to, "evenness", "Evenness",
        "Widest differences of hue, chroma and both ratios of inks, in the mean over all "
        "people, as shot and now, in per cent of what they were as shot.",
        x, y, first == 0 ? 400 : 234);
    for (int tick = 0; tick <= MOST; tick += 50) {
        char text[16];
        snprintf(text, sizeof text, "%d", tick);
        fprintf(s->to, "<path class=\"grid\" d=\"M%.1f %.1fv%.1f\"/>", carn_plot_x(&plot, tick),
                plot.top, plot.height);
        carn_plot_text(&plot, tick, 0, 0, 18, "middle", text);
    }
    for (size_t p = first; p < 2; p++) {
        double at = 9.6 - 5 * (double)p, left = carn_plot_x(&plot, 0);
        fprintf(s->to, "<text class=\"head\" x=\"%.1f\" y=\"%.1f\">%s</text>\n", left + 6,
                carn_plot_y(&plot, at) + 5, heads[p]);
        for (size_t k = 0; k < 4; k++) {
            double row = at - 0.95 * (double)(k + 1);
            double top = carn_plot_y(&plot, row) - 10;
            carn_plot_text(&plot, 0, row, -8, 5, "end", figures[k].name);
            if (!mean_of(s->shown->summary, parts[p], figures[k].what, &before, &after)) {
                carn_plot_text(&plot, 0, row, 8, 5, "start", "not known: one frame or camera");
                continue;
            }
            double now = carn_plot_x(&plot, fmin(100 * after / before, MOST));
            fprintf(s->to,
                    "<rect class=\"k0 o\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"20\"/>"
                    "<rect class=\"k0\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"12\"/>\n",
                    left, top, carn_plot_x(&plot, 100) - left, left, top + 4, now - left);
            char text[80];
            snprintf(text, sizeof text, "%.*f to %.*f%s", figures[k].decimals, before,
                     figures[k].decimals, after, figures[k].unit);
            carn_plot_text(&plot, MOST, row, 10, 5, "start", text);
        }
    }
    carn_plot_key(&plot);
    fprintf(s->to, "Outline: as shot. Filled: %s.",
            s->shown->audit ? "after the cards" : "as delivered");
    evenness_table(s, first);
    carn_plot_close(&plot);
}

void carn_section_first(const struct carn_section *s)
{
    fputs("<header class=\"sheet\"><h1>", s->to);
    carn_html(s->to, s->shown->name);
    fputs("</h1>\n", s->to);
    count_all(s);
    tell_aim(s);
    fputs(
        "<nav aria-label=\"Report\"><a href=\"#people\">People</a> <a href=\"#plots\">Plots</a> <a "
        "href=\"#frames\">Frames</a> <a href=\"contact.html\">Where skin is measured</a> <a "
        "href=\"#tables\">Tables</a></nav></header>\n<main id=\"main\">\n<div class=\"first\">\n",
        s->to);
    list_persons(s);
    draw_evenness(s);
    fputs("</div>\n", s->to);
}
