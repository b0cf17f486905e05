/* A row a frame, worst first: what it is, the pictures before and after, the faces, the figures. */
#include "report/section.h"

#include "job/result.h"
#include "report/html.h"

#include <math.h>
#include <string.h>

static void option(FILE *to, const char *text)
{
    fputs("<option>", to);
    carn_html(to, text);
    fputs("</option>", to);
}

/* Shown by the script alone: without it all rows are there, worst first. */
static void controls(const struct carn_section *s)
{
    fputs("<form id=\"find\" hidden><label>Order <select name=\"order\"><option "
          "value=\"rank\">worst first</option><option value=\"place\">as shot</option><option "
          "value=\"person\">by person</option><option value=\"left\">most left to the "
          "aim</option></select></label>\n<label>Verdict <select name=\"verdict\"><option "
          "value=\"\">all</option>",
          s->to);
    for (size_t i = 0; i < CARN_SHOWN_VERDICTS; i++)
        option(s->to, carn_verdict_word(carn_shown_verdicts[i]));
    option(s->to, "failed");
    fputs(
        "</select></label>\n<label>Person <select name=\"person\"><option value=\"\">all</option>",
        s->to);
    for (size_t i = 0; i < s->shown->people_count; i++)
        option(s->to, s->shown->people[i]);
    fputs(
        "</select></label>\n<label>Camera <select name=\"camera\"><option value=\"\">all</option>",
        s->to);
    for (size_t i = 0; i < s->shown->camera_count; i++)
        option(s->to, s->shown->cameras[i]);
    fputs("</select></label>\n<label>Depth <select name=\"depth\"><option value=\"\">all</option>",
          s->to);
    for (size_t i = 0; i < CARN_DEPTHS; i++)
        option(s->to, carn_depths[i]);
    fputs("</select></label>\n<output name=\"count\"></output></form>\n", s->to);
}

static void picture(const struct carn_section *s, const struct carn_shown_frame *f, int which)
{
    static const char *const words[] = {"after the card", "as delivered"};
    if (f->picture[which] == NULL) {
        fputs("<span class=\"none\">no picture</span>", s->to);
        return;
    }
    fputs("<img loading=\"lazy\"", s->to);
    carn_section_size(s->to, f, 210, 260);
    fputs(" src=\"", s->to);
    carn_html(s->to, f->picture[which]);
    fputs("\" alt=\"", s->to);
    carn_html(s->to, f->name);
    fprintf(s->to, " %s\">", words[which]);
}

static void figures(FILE *to, const char *name, const struct carn_shown_values *v)
{
    fprintf(to, "<tr><th scope=\"row\">%s</th>", name);
    carn_html_cell(to, v->lab.L, 1);
    carn_html_cell(to, v->chroma, 1);
    carn_html_cell(to, v->hue, 1);
    carn_html_cell(to, v->magenta_by_cyan, 2);
    carn_html_cell(to, v->yellow_by_magenta, 2);
    carn_html_cell(to, v->difference, 1);
    fputs("</tr>", to);
}

/* Each person's face before and after; the first's where only squares are known. */
static void faces(const struct carn_section *s, const struct carn_shown_frame *f)
{
    const struct carn_shown *shown = s->shown;
    size_t told = 0;
    for (size_t i = 0; i < shown->box_count; i++) {
        const struct carn_shown_box *b = &shown->boxes[i];
        if (b->face == 0 || strcmp(b->frame, f->name) != 0 || strcmp(b->subject, "-") == 0)
            continue;
        fputs(told++ > 0 ? "<br>" : "", s->to);
        carn_section_crop(s, f, b->subject, 0, 130, "face before");
        carn_section_crop(s, f, b->subject, 1, 130, "face after");
    }
    if (told > 0)
        return;
    carn_section_crop(s, f, NULL, 0, 130, "face before");
    carn_section_crop(s, f, NULL, 1, 130, "face after");
}

static void row(const struct carn_section *s, size_t at)
{
    static const char *const heads[] = {"", "L*", "C*", "h", "M/C", "Y/M", "left", NULL};
    const struct carn_shown_frame *f = &s->shown->frames[at];
    const char *verdict = carn_shown_verdict(f);
    FILE *to = s->to;
    double left = s->shown->audit ? f->before.difference : f->after.difference;
    fputs("<tr id=\"f-", to);
    carn_html(to, f->id);
    fprintf(to, "\" data-place=\"%zu\" data-left=\"%.1f\" data-verdict=\"", at,
            isnan(left) ? 0.0 : left);
    carn_html(to, verdict);
    fputs("\" data-person=\"", to);
    carn_html(to, f->subject);
    fputs("\" data-camera=\"", to);
    carn_html(to, f->camera);
    fputs("\" data-depth=\"", to);
    carn_html(to, f->depth);
    fputs("\"><th scope=\"row\" class=\"what\"><span class=\"name\">", to);
    carn_html(to, f->name);
    fputs("</span> <b class=\"verdict ", to);
    carn_html(to, verdict);
    fputs("\">", to);
    carn_html(to, verdict);
    fputs("</b><span class=\"who\">", to);
    carn_html(to, f->subject);
    fputs(", camera ", to);
    carn_html(to, f->camera);
    fputs("</span>", to);
    const char *const notes[] = {f->words, f->flags, f->message};
    for (size_t k = 0; k < 3; k++)
        if (strcmp(notes[k], "-") != 0) {
            fputs(k == 1 ? "<span class=\"note\">flags: " : "<span class=\"note\">", to);
            carn_html(to, notes[k]);
            fputs("</span>", to);
        }
    if (f->outlier)
        fputs("<span class=\"note\">lies far from its group</span>", to);
    if (f->approved)
        fputs("<span class=\"note\">approved</span>", to);
    if (f->picture[0] != NULL && f->picture[1] != NULL) {
        fputs("<button type=\"button\" class=\"over\" hidden>Lay over<span class=\"unseen\"> each "
              "other: ",
              to);
        carn_html(to, f->name);
        fputs("</span></button>", to);
    }
    fputs("</th>\n<td class=\"shot\">", to);
    picture(s, f, 0);
    fputs("</td><td class=\"shot\">", to);
    if (!s->shown->audit)
        picture(s, f, 1);
    fputs("</td><td class=\"pair\">", to);
    faces(s, f);
    fputs("</td>\n<td class=\"numbers\">", to);
    if (!f->failed && !isnan(f->before.lab.L)) {
        fputs("<table>", to);
        carn_html_heads(to, heads);
        fputs("<tbody>", to);
        figures(to, "before", &f->before);
        if (!s->shown->audit)
            figures(to, "after", &f->after);
        fputs("</tbody></table>", to);
    }
    fputs("</td></tr>\n", to);
}

void carn_section_frames(const struct carn_section *s)
{
    static const char *const heads[] = {"Frame",
                                        "Before: after the card",
                                        "After: as delivered",
                                        "Faces, before and after",
                                        "Figures",
                                        NULL};
    fputs("<section aria-labelledby=\"frames\"><div class=\"sheet\"><h2 "
          "id=\"frames\">Frames</h2><p>Left: "
          "CIEDE2000 to the aim. Chroma C* and hue h in degrees of the middle tone, ratios of "
          "inks.</p>\n",
          s->to);
    controls(s);
    fputs("</div>\n<table class=\"frames\">", s->to);
    carn_html_heads(s->to, heads);
    fputs("<tbody>\n", s->to);
    for (size_t i = 0; i < s->shown->frame_count; i++)
        if (!s->shown->frames[s->shown->order[i]].is_card)
            row(s, s->shown->order[i]);
    fputs("</tbody></table></section>\n", s->to);
}
