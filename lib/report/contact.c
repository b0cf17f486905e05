/* contact.html: where skin and cards are measured, and rows for a person to paste. */
#include "report/page.h"

#include "base/match.h"
#include "base/tone.h"
#include "job/files.h"
#include "report/html.h"
#include "report/section.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- what is drawn ---- */

static void shape(FILE *to, const struct carn_shown_box *b, const char *class)
{
    if (carn_tone_of(b->tone) == CARN_TONE_ALL) {
        fprintf(to, "<ellipse class=\"%s\" cx=\"%.2f\" cy=\"%.2f\" rx=\"%.2f\" ry=\"%.2f\"", class,
                b->x + b->w / 2, b->y + b->h / 2, b->w / 2, b->h / 2);
        fputs("/>", to);
    } else
        fprintf(to, "<rect class=\"%s\" x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\"/>",
                class, b->x, b->y, b->w, b->h);
}

static void boxes(FILE *to, const struct carn_shown *shown, const struct carn_shown_frame *f)
{
    for (size_t i = 0; i < shown->box_count; i++) {
        const struct carn_shown_box *b = &shown->boxes[i];
        if (strcmp(b->frame, f->name) != 0 || carn_tone_of(b->tone) == CARN_TONE_BACKDROP)
            continue;
        /* Per cent of width and height are not square: a tilt turns in the picture's own shape. */
        double ratio = f->high > 0 ? f->wide / f->high : 1;
        double x = b->x + b->w / 2, y = b->y + b->h / 2;
        if (b->tilt < 0 || b->tilt > 0)
            fprintf(to,
                    "<g transform=\"translate(%.2f %.2f) scale(1 %.4f) rotate(%.1f) scale(1 %.4f) "
                    "translate(%.2f %.2f)\">",
                    x, y, ratio, b->tilt, 1 / ratio, -x, -y);
        shape(to, b, "under");
        shape(to, b, carn_tone_of(b->tone) == CARN_TONE_CARD ? "card" : "skin");
        fputs(b->tilt < 0 || b->tilt > 0 ? "</g>" : "", to);
    }
}

/* ---- rows of job.tsv ---- */

static void cell(FILE *to, const char *text)
{
    struct carn_page page;
    struct carn_error ignored = {0};
    if (carn_page_open(&page, &ignored) != 0)
        return;
    carn_table_print(page.to, text);
    if (carn_page_close(&page, &ignored) == 0)
        carn_html(to, page.text);
    free(page.text);
}

/* The header of one of the job's own tables, else the usual one, parted by tabs. */
static void header(FILE *to, const struct carn_table *table, const char *usual)
{
    if (table == NULL) {
        fputs(usual, to);
        return;
    }
    for (size_t c = 0; c < carn_table_columns(table); c++) {
        fputs(c > 0 ? "&#9;" : "", to);
        carn_html(to, carn_table_name(table, c));
    }
}

/* The row that serves the frame, under its own name; a row that is there is kept. */
static void job_row(FILE *to, const struct carn_table *job, const struct carn_shown_frame *f)
{
    size_t best = 0;
    int rank = 0;
    for (size_t i = 0; job != NULL && i < carn_table_rows(job); i++) {
        int serves = carn_table_serves(carn_table_at(job, i, "frame"), f->name);
        if (serves > rank) {
            rank = serves;
            best = i;
        }
    }
    if (rank == 0) {
        const char *const cells[] = {f->name, f->subject, f->camera, f->card,
                                     f->approved ? "yes" : "-"};
        for (size_t c = 0; c < 5; c++) {
            fputs(c > 0 ? "&#9;" : "", to);
            cell(to, cells[c]);
        }
        return;
    }
    for (size_t c = 0; c < carn_table_columns(job); c++) {
        fputs(c > 0 ? "&#9;" : "", to);
        cell(to, strcmp(carn_table_name(job, c), "frame") == 0
                     ? f->name
                     : carn_table_cell(job, best, (int)c));
    }
}

/* ---- the page ---- */

/* Those first of which it is not sure where skin is: not found, little confidence, several faces.
 */
static bool look_first(const struct carn_shown_frame *f)
{
    return f->failed || f->ground == CARN_GROUND_NONE ||
           (f->ground == CARN_GROUND_FOUND && (f->verdict == CARN_UNSURE || f->faces > 1));
}

/* What a page says of where the frame's skin is. */
static void tell_ground(FILE *to, const struct carn_shown_frame *f)
{
    if (f->failed)
        fputs("failed", to);
    else if (f->ground == CARN_GROUND_GIVEN)
        fputs("from patches.tsv", to);
    else if (f->ground == CARN_GROUND_NONE)
        fputs("no skin found", to);
    else if (f->ground == CARN_GROUND_FOUND) {
        fputs("found, confidence ", to);
        carn_html(to, f->confidence);
        if (f->faces > 1)
            fprintf(to, "; %zu faces", f->faces);
    } else
        carn_html(to, carn_ground_word(f->ground));
}

static void place(FILE *to, const struct carn_shown *shown, const struct carn_table *job,
                  const struct carn_shown_frame *f)
{
    fputs("<figure class=\"place\" data-frame=\"", to);
    cell(to, f->name);
    fputs("\" data-job=\"", to);
    job_row(to, job, f);
    fputs("\"><div class=\"board\">", to);
    if (f->picture[0] != NULL) {
        fputs("<img loading=\"lazy\"", to);
        carn_section_size(to, f, 240, 1e4);
        fputs(" src=\"", to);
        carn_html(to, f->picture[0]);
        fputs("\" alt=\"", to);
        carn_html(to, f->name);
        fputs("\">", to);
    }
    fputs("<svg viewBox=\"0 0 100 100\" preserveAspectRatio=\"none\" aria-hidden=\"true\">", to);
    boxes(to, shown, f);
    fputs("</svg></div>\n<figcaption>", to);
    carn_html(to, f->name);
    fputs("<br>", to);
    tell_ground(to, f);
    fputs("<br><button type=\"button\" hidden>Choose<span class=\"unseen\"> ", to);
    carn_html(to, f->name);
    fputs("</span></button></figcaption></figure>\n", to);
}

static void number(FILE *to, const char *name)
{
    fprintf(to,
            "<label>%s <input type=\"number\" name=\"%s\" min=\"0\" max=\"100\" step=\"0.1\"> "
            "%%</label>",
            name, name);
}

static void desk(FILE *to, const struct carn_table *patches, const struct carn_table *job)
{
    fputs("<form id=\"desk\" class=\"desk sheet\" hidden data-patches=\"", to);
    header(to, patches, "frame&#9;patch&#9;tone&#9;x&#9;y&#9;w&#9;h");
    fputs("\" data-job=\"", to);
    header(to, job, "frame&#9;subject&#9;camera&#9;card&#9;approved");
    fputs("\"><h2 id=\"rows\">Rows to paste: <span id=\"desk-frame\">no frame "
          "chosen</span></h2>\n<div "
          "class=\"fields\"><label>Patch <input type=\"text\" name=\"patch\" "
          "value=\"face-1\"></label><label>Tone <select name=\"tone\"><option value=\"all\">all, a "
          "face's oval</option><option>light</option><option>middle</option><option>shade"
          "</option><option>card</option><option>backdrop</option></select></label>",
          to);
    number(to, "x");
    number(to, "y");
    number(to, "w");
    number(to, "h");
    fputs(
        "<label>Subject <input type=\"text\" name=\"subject\"></label><label>Approved <input "
        "type=\"checkbox\" name=\"approved\"></label><span id=\"desk-said\" "
        "role=\"status\"></span></div>\n<div class=\"rows\"><div><label>For patches.tsv<textarea "
        "name=\"patch-rows\" rows=\"3\" readonly></textarea></label><button type=\"button\" "
        "data-copy=\"patch-rows\">Copy rows for patches.tsv</button></div><div><label>For job.tsv, "
        "in place of the frame's row<textarea name=\"job-rows\" rows=\"3\" "
        "readonly></textarea></label><button type=\"button\" data-copy=\"job-rows\">Copy rows for "
        "job.tsv</button></div></div></form>\n",
        to);
}

int carn_page_contact(const struct carn_shown *shown, struct carn_error *err)
{
    static const char script[] = "contact.js";
    struct carn_page page;
    if (carn_page_open(&page, err) != 0)
        return -1;
    struct carn_table *job = carn_table_try("job.tsv"), *patches = carn_table_try("patches.tsv");
    char title[600];
    snprintf(title, sizeof title, "%s: where skin is measured", shown->name);
    int rc = carn_page_head(page.to, title, script, err);
    if (rc == 0) {
        fputs("<header class=\"sheet\"><h1>Where skin is measured</h1>\n<p>Does each oval or box "
              "lie on "
              "the right person's skin? Those to look at come first. Ovals are faces, boxes are "
              "patches, dashed ones grey cards. Drag a box on a picture, or choose it and type "
              "numbers: its row for patches.tsv stands beside, in per cent of the upright "
              "picture.</p>\n<nav aria-label=\"Report\"><a "
              "href=\"index.html\">Report</a></nav></header>"
              "\n<main>\n<h2 class=\"unseen\">Frames</h2><div class=\"contact\"><div "
              "class=\"places\">\n",
              page.to);
        for (int pass = 0; pass < 2; pass++)
            for (size_t i = 0; i < shown->frame_count; i++)
                if (!shown->frames[i].is_card && look_first(&shown->frames[i]) == (pass == 0))
                    place(page.to, shown, job, &shown->frames[i]);
        fputs("</div>\n", page.to);
        desk(page.to, patches, job);
        fputs("</div></main>\n", page.to);
        rc = carn_page_end(page.to, script, err);
    }
    carn_table_close(job);
    carn_table_close(patches);
    if (rc == 0)
        return carn_page_keep(&page, "report/contact.html", err) < 0 ? -1 : 0;
    struct carn_error ignored = {0};
    (void)carn_page_close(&page, &ignored);
    free(page.text);
    return -1;
}
