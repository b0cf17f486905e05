/* The set in plots, each with its table. Marks: shape and colour tell the camera (or the tone),
 * hollow is before, filled is after. */
#include "report/section.h"

#include "correct/proof.h"
#include "report/html.h"
#include "report/plot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Photographs show skin about 1.4 times as chromatic as it is (docs/colour.md). */
static const double PHOTOGRAPHED = 1.4;

/* ---- keys and tables ---- */

static void key_cameras(const struct carn_section *s)
{
    for (size_t i = 0; i < s->shown->camera_count; i++)
        carn_plot_key_camera(s->to, i, s->shown->cameras[i]);
}

static void key_stages(const struct carn_section *s)
{
    carn_plot_key_mark(s->to, 0, true, "hollow: before");
    if (!s->shown->audit)
        carn_plot_key_mark(s->to, 0, false, "filled: after");
}

static void row_head(FILE *to, const char *text)
{
    fputs("<tr><th scope=\"row\">", to);
    carn_html(to, text);
    fputs("</th>", to);
}

static struct carn_plot_axis axis_of(const char *label)
{
    return (struct carn_plot_axis){label, (double)INFINITY, -(double)INFINITY, false, 0};
}

/* ---- the a*b* plane ---- */

static struct carn_table *published(const struct carn_section *s)
{
    struct carn_error ignored = {0};
    return s->skin != NULL ? carn_table_read(s->skin, &ignored) : NULL;
}

static bool skin_at(const struct carn_table *t, size_t row, bool preferred, struct carn_lab *lab)
{
    struct carn_error ignored = {0};
    double chroma = 0, hue = 0;
    const char *kind = carn_table_at(t, row, "kind");
    if (strcmp(kind, preferred ? "preferred" : "measured") != 0 ||
        carn_table_number(t, row, carn_table_find(t, "chroma"), &chroma, &ignored) != 1 ||
        carn_table_number(t, row, carn_table_find(t, "hue"), &hue, &ignored) != 1)
        return false;
    chroma *= preferred ? 1 : PHOTOGRAPHED;
    double angle = hue * acos(-1.0) / 180;
    *lab = (struct carn_lab){0, chroma * cos(angle), chroma * sin(angle)};
    return true;
}

static void draw_published(const struct carn_section *s, const struct carn_plot *plot)
{
    struct carn_table *skin = published(s);
    struct carn_lab lab;
    for (size_t i = 0; skin != NULL && i < carn_table_rows(skin); i++)
        if (skin_at(skin, i, false, &lab))
            fprintf(s->to, "<circle class=\"skin\" cx=\"%.1f\" cy=\"%.1f\" r=\"2\"/>",
                    carn_plot_x(plot, lab.a), carn_plot_y(plot, lab.b));
    for (size_t i = 0; skin != NULL && i < carn_table_rows(skin); i++)
        if (skin_at(skin, i, true, &lab))
            fprintf(s->to, "<path class=\"axis\" d=\"M%.1f %.1fm-7 0h14m-7 -7v14\"/>",
                    carn_plot_x(plot, lab.a), carn_plot_y(plot, lab.b));
    fputs("\n", s->to);
    carn_table_close(skin);
}

static void draw_locus(const struct carn_section *s, const struct carn_plot *plot)
{
    double a[CARN_LOCUS_MOST], b[CARN_LOCUS_MOST];
    for (size_t i = 0; i < s->locus->count; i++) {
        a[i] = s->locus->at[i].a;
        b[i] = s->locus->at[i].b;
    }
    carn_plot_line(plot, "locus", a, b, s->locus->count);
}

/* To the right of the line as it runs from dark to light, so that no label lies between its two
 * branches. */
static void name_locus(const struct carn_section *s, const struct carn_plot *plot)
{
    const struct carn_lab *at = s->locus->at;
    for (size_t i = 0; i < s->locus->count; i += 4) {
        size_t next = i + 2 < s->locus->count ? i + 2 : i, last = i > 2 ? i - 2 : i;
        double along = at[next].a + at[next].b - at[last].a - at[last].b;
        char text[32];
        if (at[i].a < plot->x.low || at[i].a > plot->x.high || at[i].b < plot->y.low ||
            at[i].b > plot->y.high)
            continue;
        snprintf(text, sizeof text, "L* %.0f", at[i].L);
        fprintf(s->to, "<circle class=\"tick\" cx=\"%.1f\" cy=\"%.1f\" r=\"3\"/>",
                carn_plot_x(plot, at[i].a), carn_plot_y(plot, at[i].b));
        if (along > 0)
            carn_plot_text(plot, at[i].a, at[i].b, 9, 14, "start", text);
        else
            carn_plot_text(plot, at[i].a, at[i].b, -9, -5, "end", text);
    }
}

static void draw_plane(const struct carn_section *s)
{
    static const char *const heads[] = {"Person",    "Camera",   "L* before", "a* before",
                                        "b* before", "L* after", "a* after",  "b* after",
                                        "a* aim",    "b* aim",   NULL};
    const struct carn_shown *shown = s->shown;
    struct carn_plot_axis x = {"a* (red)", 5, 25, false, 0}, y = {"b* (yellow)", 10, 35, false, 0};
    struct carn_shown_values before, after;
    struct carn_plot plot;
    for (size_t i = 0; i < shown->reading_count; i++)
        if (shown->readings[i].is_main) {
            carn_plot_hold(&x, shown->readings[i].before.lab.a);
            carn_plot_hold(&y, shown->readings[i].before.lab.b);
        }
    carn_plot_open(&plot, s->to, "plane", "Where people's skin moved in the a*b* plane",
                   "An arrow for each person and camera from the median colour of the middle tone "
                   "after the card to that delivered; the line is the aim's colour by lightness; "
                   "small dots are published skin as photographs show it, crosses what people "
                   "prefer in pictures.",
                   x, y, -1);
    draw_published(s, &plot);
    draw_locus(s, &plot);
    for (size_t i = 0; i < shown->people_count; i++)
        for (size_t k = 0; k < shown->camera_count; k++)
            if (carn_shown_median(shown, shown->people[i], shown->cameras[k], CARN_UNTONED, &before,
                                  &after, s->err) > 0) {
                carn_plot_arrow(&plot, k, before.lab.a, before.lab.b, after.lab.a, after.lab.b);
                carn_plot_mark(&plot, k, true, before.lab.a, before.lab.b);
                carn_plot_mark(&plot, k, false, after.lab.a, after.lab.b);
            }
    name_locus(s, &plot);
    carn_plot_key(&plot);
    key_cameras(s);
    key_stages(s);
    fprintf(
        s->to,
        "<span class=\"key\">line: the aim, by L*</span> <span class=\"key\">small dots: published "
        "skin, chroma %.1f times as photographs show it</span> <span class=\"key\">+ preferred in "
        "pictures</span><p class=\"source\">Published skin, D50: Cooksey, Allen, Tsai, J. Res. "
        "NIST 122:26 (2017); Alaluf et al., Pigment Cell Res. 15:119 (2002); Xiao et al., Opt. "
        "Express 24:14934 (2016). Preferred: Chen et al., J. Imaging Sci. Technol. 57:030501 "
        "(2013), hue 50.5, C* 25.4; Cao, Luo, Liu, 28th Color and Imaging Conf. 94 (2020), hue "
        "46.1, C* 24.7; of both the abstract was read.</p>",
        PHOTOGRAPHED);
    carn_plot_table(s->to, "the plot", heads);
    for (size_t i = 0; i < shown->people_count; i++)
        for (size_t k = 0; k < shown->camera_count; k++)
            if (carn_shown_median(shown, shown->people[i], shown->cameras[k], CARN_UNTONED, &before,
                                  &after, s->err) > 0) {
                const struct carn_lab aim = shown->audit ? before.aim : after.aim;
                const double cells[] = {before.lab.L, before.lab.a, before.lab.b, after.lab.L,
                                        after.lab.a,  after.lab.b,  aim.a,        aim.b};
                row_head(s->to, shown->people[i]);
                carn_html_text_cell(s->to, shown->cameras[k]);
                for (size_t c = 0; c < 8; c++)
                    carn_html_cell(s->to, cells[c], 1);
                fputs("</tr>\n", s->to);
            }
    carn_plot_table_end(s->to);
    carn_plot_close(&plot);
}

/* ---- lightness, on its diagonal ---- */

static void draw_lightness(const struct carn_section *s)
{
    static const char *const heads[] = {"Frame",    "Patch", "Tone", "L* before",
                                        "L* after", "dL*",   NULL};
    const struct carn_shown *shown = s->shown;
    struct carn_plot_axis x = axis_of("L* before, after the card"), y;
    struct carn_plot plot;
    for (size_t i = 0; i < shown->reading_count; i++) {
        carn_plot_hold(&x, shown->readings[i].before.lab.L);
        carn_plot_hold(&x, shown->readings[i].after.lab.L);
    }
    y = x;
    y.label = "L* as delivered";
    carn_plot_open(
        &plot, s->to, "lightness", "Lightness before and after",
        "L* as delivered against L* before, for each tone of each frame. On the diagonal "
        "nobody became lighter or darker.",
        x, y, 0);
    const double ends[2] = {plot.x.low, plot.x.high};
    carn_plot_line(&plot, "locus", ends, ends, 2);
    for (size_t i = 0; i < shown->reading_count; i++) {
        const struct carn_shown_reading *r = &shown->readings[i];
        carn_plot_mark(&plot, r->is_main ? CARN_TONE_MIDDLE : r->tone, false, r->before.lab.L,
                       r->after.lab.L);
    }
    carn_plot_key(&plot);
    carn_plot_key_mark(s->to, CARN_TONE_LIGHT, false, "light");
    carn_plot_key_mark(s->to, CARN_TONE_MIDDLE, false, "middle");
    carn_plot_key_mark(s->to, CARN_TONE_SHADE, false, "shade");
    carn_plot_table(s->to, "the plot", heads);
    for (size_t i = 0; i < shown->reading_count; i++) {
        const struct carn_shown_reading *r = &shown->readings[i];
        row_head(s->to, r->frame);
        carn_html_text_cell(s->to, r->patch);
        carn_html_text_cell(s->to, carn_tone_word(r->tone));
        carn_html_cell(s->to, r->before.lab.L, 1);
        carn_html_cell(s->to, r->after.lab.L, 1);
        carn_html_cell(s->to, r->after.lab.L - r->before.lab.L, 2);
        fputs("</tr>\n", s->to);
    }
    carn_plot_table_end(s->to);
    carn_plot_close(&plot);
}

/* ---- ratios in the order of the frames ---- */

static double ratio_of(const struct carn_shown_values *v, bool yellow)
{
    return yellow ? v->yellow_by_magenta : v->magenta_by_cyan;
}

static void draw_ratio(const struct carn_section *s, bool yellow)
{
    static const char *const heads[] = {"Frame", "before", "after", NULL};
    const struct carn_shown *shown = s->shown;
    const struct carn_aim_value *aim =
        &s->locus->aim.values[yellow ? CARN_YELLOW_BY_MAGENTA : CARN_MAGENTA_BY_CYAN];
    struct carn_plot_axis x = {"frames, in their order", 0, fmax((double)shown->frame_count, 2),
                               false, 0};
    struct carn_plot_axis y = axis_of(yellow ? "yellow / magenta" : "magenta / cyan");
    struct carn_plot plot;
    bool banded = aim->set && isfinite(aim->tolerance);
    double low = aim->value * (1 - aim->tolerance / 100), high = 2 * aim->value - low;
    for (size_t i = 0; i < shown->frame_count; i++) {
        carn_plot_hold(&y, ratio_of(&shown->frames[i].before, yellow));
        carn_plot_hold(&y, ratio_of(&shown->frames[i].after, yellow));
    }
    if (banded) {
        carn_plot_hold(&y, low);
        carn_plot_hold(&y, high);
    }
    /* One very wrong frame must not flatten the others: it is drawn at the edge. */
    if (aim->set)
        y.high = fmin(y.high, 2 * aim->value);
    carn_plot_open(&plot, s->to, yellow ? "yellow" : "magenta",
                   yellow ? "Yellow to magenta" : "Magenta to cyan",
                   "The ratio of inks of each frame before and after, in the order of the frames; "
                   "the band is the aim with its tolerance.",
                   x, y, 300);
    if (banded)
        carn_plot_band(&plot, low, high);
    for (size_t i = 0; i < shown->frame_count; i++) {
        const struct carn_shown_frame *f = &shown->frames[i];
        size_t camera = carn_shown_camera(shown, f->camera);
        carn_plot_mark(&plot, camera, true, (double)i + 1, ratio_of(&f->before, yellow));
        carn_plot_mark(&plot, camera, false, (double)i + 1, ratio_of(&f->after, yellow));
    }
    carn_plot_key(&plot);
    key_cameras(s);
    key_stages(s);
    if (banded)
        fprintf(s->to, "<span class=\"key\">band: %.2f, within %.0f per cent</span> ", aim->value,
                aim->tolerance);
    carn_plot_table(s->to, "the plot", heads);
    for (size_t i = 0; i < shown->frame_count; i++) {
        const struct carn_shown_frame *f = &shown->frames[i];
        if (f->is_card)
            continue;
        row_head(s->to, f->name);
        carn_html_cell(s->to, ratio_of(&f->before, yellow), 2);
        carn_html_cell(s->to, ratio_of(&f->after, yellow), 2);
        fputs("</tr>\n", s->to);
    }
    carn_plot_table_end(s->to);
    carn_plot_close(&plot);
}

/* ---- the cameras, by tone ---- */

static void draw_cameras(const struct carn_section *s)
{
    static const char *const heads[] = {"Tone",      "Camera",   "h before", "h after",
                                        "C* before", "C* after", NULL};
    const struct carn_shown *shown = s->shown;
    struct carn_plot_axis x = axis_of("hue h, degrees, median of all people");
    const size_t rows = CARN_TONES * shown->camera_count;
    const struct carn_plot_axis y = {"", 0, (double)rows + 1, true, 0};
    struct carn_shown_values before, after;
    struct carn_plot plot;
    for (int pass = 0; pass < 3; pass++) { /* the axis, the plot, the table */
        if (pass == 1)
            carn_plot_open(
                &plot, s->to, "cameras", "The cameras, by tone",
                "Median hue over all people by each camera, in the light, middle and shade of the "
                "faces, before and after: equal hues in a tone are equal cameras.",
                x, y, 100 + 34 * (double)(rows > 3 ? rows : 3));
        if (pass == 2) {
            carn_plot_key(&plot);
            key_cameras(s);
            key_stages(s);
            carn_plot_table(s->to, "the plot", heads);
        }
        for (size_t i = 0; i < rows; i++) {
            enum carn_tone tone = (enum carn_tone)(i / shown->camera_count);
            size_t k = i % shown->camera_count;
            /* Readings without a tone count as middle. */
            if (carn_shown_median(shown, NULL, shown->cameras[k],
                                  tone == CARN_TONE_MIDDLE ? CARN_UNTONED : tone, &before, &after,
                                  s->err) == 0)
                continue;
            double h[2] = {carn_hue(before.lab),
                           isnan(after.lab.a) ? after.lab.a : carn_hue(after.lab)};
            if (pass == 0) {
                carn_plot_hold(&x, h[0]);
                carn_plot_hold(&x, h[1]);
            } else if (pass == 1) {
                char text[300];
                double at = (double)rows - (double)i;
                snprintf(text, sizeof text, "%s, %.200s", carn_tone_word(tone), shown->cameras[k]);
                carn_plot_text(&plot, plot.x.low, at, -8, 5, "end", text);
                carn_plot_arrow(&plot, k, h[0], at, h[1], at);
                carn_plot_mark(&plot, k, true, h[0], at);
                carn_plot_mark(&plot, k, false, h[1], at);
            } else {
                row_head(s->to, carn_tone_word(tone));
                carn_html_text_cell(s->to, shown->cameras[k]);
                carn_html_cell(s->to, h[0], 1);
                carn_html_cell(s->to, h[1], 1);
                carn_html_cell(s->to, carn_chroma(before.lab), 1);
                carn_html_cell(s->to, carn_chroma(after.lab), 1);
                fputs("</tr>\n", s->to);
            }
        }
    }
    carn_plot_table_end(s->to);
    carn_plot_close(&plot);
}

/* ---- hue spread in the faces ---- */

static void draw_spread(const struct carn_section *s)
{
    static const char *const heads[] = {"Frame", "Patch", "before, degrees", "after, degrees",
                                        NULL};
    const struct carn_shown *shown = s->shown;
    struct carn_plot_axis x = {"before, degrees", 0, 2, false, 0},
                          y = {"after, degrees", 0, 2, false, 0};
    struct carn_plot plot;
    bool any = false;
    for (size_t i = 0; i < shown->reading_count; i++) {
        const struct carn_shown_reading *r = &shown->readings[i];
        any = any || !isnan(r->before.hue_spread);
        carn_plot_hold(&x, r->before.hue_spread);
        carn_plot_hold(&y, r->after.hue_spread);
    }
    if (!any)
        return;
    x.high = y.high = fmax(x.high, y.high);
    carn_plot_open(&plot, s->to, "spread", "How hue spreads in each face",
                   "Circular standard deviation of hue over a face's skin, after against before. "
                   "Above the upper line a correction spread the hues, and the frame is off.",
                   x, y, 0);
    const double ends[2] = {0, plot.x.high};
    const double most = carn_proof_most_spread(0), slope = carn_proof_most_spread(1) - most;
    carn_plot_line(&plot, "locus", ends, ends, 2);
    const double inner[2] = {0, (plot.x.high - most) / slope}, outer[2] = {most, plot.x.high};
    carn_plot_line(&plot, "limit", inner, outer, 2);
    for (size_t i = 0; i < shown->reading_count; i++) {
        const struct carn_shown_reading *r = &shown->readings[i];
        if (r->is_main)
            carn_plot_mark(&plot, carn_shown_camera(shown, r->camera), false, r->before.hue_spread,
                           r->after.hue_spread);
    }
    carn_plot_key(&plot);
    key_cameras(s);
    fprintf(s->to,
            "<span class=\"key\">line: as it was</span> <span class=\"key\">dashes: the most that "
            "passes, %.2f times and %.1f</span>",
            slope, most);
    carn_plot_table(s->to, "the plot", heads);
    for (size_t i = 0; i < shown->reading_count; i++) {
        const struct carn_shown_reading *r = &shown->readings[i];
        if (!r->is_main || isnan(r->before.hue_spread))
            continue;
        row_head(s->to, r->frame);
        carn_html_text_cell(s->to, r->patch);
        carn_html_cell(s->to, r->before.hue_spread, 1);
        carn_html_cell(s->to, r->after.hue_spread, 1);
        fputs("</tr>\n", s->to);
    }
    carn_plot_table_end(s->to);
    carn_plot_close(&plot);
}

void carn_section_plots(const struct carn_section *s)
{
    fprintf(s->to,
            "<section aria-labelledby=\"plots\"><div class=\"sheet\"><h2 id=\"plots\">Plots</h2><p>"
            "CIELAB, D50. Before is after the grey card, after is as delivered%s.</p></div>\n"
            "<div class=\"plots\">\n",
            s->shown->audit ? ", which nothing is yet" : "");
    draw_plane(s);
    if (!s->shown->audit)
        draw_lightness(s);
    draw_ratio(s, false);
    draw_ratio(s, true);
    if (s->shown->camera_count > 0)
        draw_cameras(s);
    if (!s->shown->audit) {
        draw_spread(s);
        carn_section_moves(s);
    }
    fputs("</div></section>\n", s->to);
}
