/* report: two plain pages, for eyes. */
#define _XOPEN_SOURCE 700
#include "job/report.h"

#include "job/files.h"
#include "job/record.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void html(FILE *to, const char *text)
{
    struct carn_page shown;
    struct carn_error ignored = {0};
    if (carn_page_open(&shown, &ignored) != 0)
        return;
    carn_show(shown.to, text);
    if (carn_page_close(&shown, &ignored) == 0)
        for (const char *c = shown.text; *c != '\0'; c++) {
            const char *as = *c == '&'    ? "&amp;"
                             : *c == '<'  ? "&lt;"
                             : *c == '>'  ? "&gt;"
                             : *c == '"'  ? "&quot;"
                             : *c == '\'' ? "&#39;"
                                          : NULL;
            if (as != NULL)
                fputs(as, to);
            else
                fputc(*c, to);
        }
    free(shown.text);
}

static const char head[] =
    "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src 'self'; "
    "style-src 'unsafe-inline'\"><title>%s</title>\n<style>\nbody{font:14px/1.4 "
    "sans-serif;margin:2em;background:#808080;color:#000}\npre,table,figure{background:#fff}\n"
    "pre{padding:1em;overflow:auto}\ntable{border-collapse:collapse}\ntd,th{padding:.4em "
    ".8em;text-align:left;vertical-align:top;border-bottom:1px solid #999}\nimg{display:block}\n"
    "main{display:flex;flex-wrap:wrap;gap:1em;align-items:flex-start}\nfigure{margin:0;padding:."
    "5em;"
    "max-width:240px;overflow-wrap:anywhere}\ndiv{position:relative}\nsvg{position:absolute;left:0;"
    "top:0;width:100%%;height:100%%}\nrect{fill:none;stroke:#fff;stroke-width:2;"
    "vector-effect:non-scaling-stroke}\n</style></head><body>\n<h1>%s</h1>\n";

static void picture(FILE *to, const struct carn_story_frame *f, const char *which)
{
    char path[200];
    snprintf(path, sizeof path, "report/pictures/%s.%s.jpg", f->id, which);
    if (access(path, R_OK) == 0 && (f->failed == NULL || f->not_renewed))
        fprintf(to, "<img loading=\"lazy\" width=\"240\" src=\"pictures/%s.%s.jpg\" alt=\"\">",
                f->id, which);
}

static void figures(FILE *to, const struct carn_result *r)
{
    static const struct {
        const char *name;
        enum carn_result_value which;
        int decimals;
    } shown[] = {{"L* ", CARN_RESULT_L, 1},
                 {", h ", CARN_RESULT_HUE, 1},
                 {", C* ", CARN_RESULT_CHROMA, 1},
                 {"<br>M/C ", CARN_RESULT_MAGENTA_BY_CYAN, 2},
                 {", Y/M ", CARN_RESULT_YELLOW_BY_MAGENTA, 2}};
    for (size_t i = 0; i < sizeof shown / sizeof *shown; i++) {
        fputs(shown[i].name, to);
        carn_print_number(to, r->value[shown[i].which], shown[i].decimals);
    }
}

static int write_index(const struct carn_story *story, struct carn_error *err)
{
    struct carn_page page;
    char *summary = carn_text("report/summary.txt", err);
    if (carn_page_open(&page, err) != 0) {
        free(summary);
        return -1;
    }
    FILE *to = page.to;
    fprintf(to, head, "Carnation job", "Carnation job");
    fputs("<p>Figures describe a picture, not a person. <a href=\"contact.html\">Where skin is "
          "measured</a></p>\n<pre>",
          to);
    html(to, summary != NULL ? summary : "");
    fputs("</pre>\n<table><tr><th>after the card<th>as delivered<th>frame<th>subject, "
          "camera<th>before<th>after<th>verdict</tr>\n",
          to);
    for (size_t i = 0; i < story->count; i++) {
        const struct carn_story_frame *f = &story->frames[i];
        if (f->card_only)
            continue;
        fputs("<tr><td>", to);
        picture(to, f, "before");
        fputs("<td>", to);
        picture(to, f, "after");
        fputs("<td>", to);
        html(to, f->name);
        fputs("<td>", to);
        html(to, f->subject);
        fputs(", ", to);
        html(to, f->camera);
        fputs("<td>", to);
        if (f->failed == NULL)
            figures(to, &f->neutral);
        fputs("<td>", to);
        if (f->failed == NULL)
            figures(to, &f->after);
        fputs("<td>", to);
        html(to, f->failed != NULL ? "failed: " : carn_verdict_words[f->verdict]);
        fputs(f->failed == NULL && strcmp(f->words, "-") != 0 ? ": " : "", to);
        html(to, f->failed != NULL ? f->failed : strcmp(f->words, "-") != 0 ? f->words : "");
        fputs("</tr>\n", to);
    }
    fputs("</table></body></html>\n", to);
    free(summary);
    return carn_page_keep(&page, "report/index.html", err) < 0 ? -1 : 0;
}

/* A cell of pixels or per cent as per cent of the upright picture. */
static double percent(const char *cell, double whole)
{
    double v = strtod(cell, NULL);
    return strchr(cell, '%') != NULL ? v : whole > 0 ? 100 * v / whole : 0;
}

static double fact_of(const struct carn_story *story, const char *frame, const char *key)
{
    for (size_t i = 0; story->facts != NULL && i < carn_table_rows(story->facts); i++)
        if (strcmp(carn_table_cell(story->facts, i, carn_table_find(story->facts, "frame")),
                   frame) == 0)
            return strtod(carn_table_cell(story->facts, i, carn_table_find(story->facts, key)),
                          NULL);
    return 0;
}

static void boxes(FILE *to, const struct carn_story *story, const struct carn_table *patches,
                  const struct carn_story_frame *f)
{
    double wide = fact_of(story, f->name, "width"), high = fact_of(story, f->name, "height");
    if (fact_of(story, f->name, "orientation") >= 5) { /* Exif: 5 to 8 lie on their side */
        double swap = wide;
        wide = high;
        high = swap;
    }
    int frame_at = carn_table_find(patches, "frame"), tone_at = carn_table_find(patches, "tone");
    for (size_t i = 0; i < carn_table_rows(patches); i++) {
        const char *tone = carn_table_cell(patches, i, tone_at);
        if (strcmp(carn_table_cell(patches, i, frame_at), f->name) != 0 ||
            strcmp(tone, "backdrop") == 0 || strcmp(tone, "card") == 0)
            continue;
        static const char *const columns[] = {"x", "y", "w", "h"};
        double box[4];
        for (size_t k = 0; k < 4; k++)
            box[k] = percent(carn_table_cell(patches, i, carn_table_find(patches, columns[k])),
                             k % 2 == 0 ? wide : high);
        fprintf(to, "<rect x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\"/>", box[0], box[1],
                box[2], box[3]);
    }
}

static int write_contact(const struct carn_story *story, struct carn_error *err)
{
    struct carn_page page;
    struct carn_table *patches = carn_table_read("report/patches.tsv", err);
    if (patches == NULL || carn_page_open(&page, err) != 0) {
        carn_table_close(patches);
        return -1;
    }
    FILE *to = page.to;
    fprintf(to, head, "Carnation contact sheet", "Where skin is measured");
    fputs("<p>Does each box lie on evenly lit skin of the right person? A row in patches.tsv moves "
          "it. Those to look at come first.</p>\n<main>\n",
          to);
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < story->count; i++) {
            const struct carn_story_frame *f = &story->frames[i];
            bool none = strcmp(f->grounds, "none") == 0;
            bool look = f->failed != NULL || none || (!f->given && !f->sure) || f->faces > 1;
            if (look != (pass == 0) || f->card_only)
                continue;
            fputs("<figure><div>", to);
            picture(to, f, "before");
            fputs("<svg viewBox=\"0 0 100 100\" preserveAspectRatio=\"none\">", to);
            boxes(to, story, patches, f);
            fputs("</svg></div><figcaption>", to);
            html(to, f->name);
            fputs("<br>", to);
            if (f->failed != NULL)
                fputs("failed", to);
            else if (f->given)
                fputs("from patches.tsv", to);
            else if (none || f->as_it_is)
                fputs(none ? "no skin found" : "as it is", to);
            else
                fprintf(to, "%s, confidence %.2f", f->sure ? "found" : "unsure", f->confidence);
            if (!f->given && f->faces > 1)
                fprintf(to, ", %zu faces", f->faces);
            fputs("</figcaption></figure>\n", to);
        }
    fputs("</main></body></html>\n", to);
    carn_table_close(patches);
    return carn_page_keep(&page, "report/contact.html", err) < 0 ? -1 : 0;
}

int carn_page_write(const struct carn_story *story, bool audit, struct carn_error *err)
{
    (void)audit;
    return write_index(story, err) != 0 ? -1 : write_contact(story, err);
}
