#include "report/page.h"

#include "base/io.h"
#include "base/text.h"
#include "base/tool.h"
#include "job/files.h"
#include "report/html.h"
#include "report/section.h"

#include <stdlib.h>
#include <string.h>

enum { MOST = 1 << 20 }; /* of a script or style sheet */

/* A file of share/carnation as text; the caller frees. */
static char *share_text(const char *name, size_t *size, struct carn_error *err)
{
    char path[4200];
    if (carn_tool_share(name, path, sizeof path, err) != 0)
        return NULL;
    char *bytes = carn_read_file(path, MOST, size, err);
    char *text = bytes != NULL ? carn_grow(bytes, *size + 1, 1, err) : NULL;
    if (text == NULL)
        free(bytes);
    else
        text[*size] = '\0';
    return text;
}

/* A script's name in a content-security policy: its SHA-256 in base64. */
static char *sum_of(const char *text, size_t size, struct carn_error *err)
{
    unsigned char sum[32];
    return carn_sha256_text(text, size, sum, err) == 0 ? carn_base64(sum, sizeof sum, err) : NULL;
}

int carn_page_head(FILE *to, const char *title, const char *script, struct carn_error *err)
{
    size_t size = 0, length = 0;
    char *style = share_text("report.css", &size, err);
    char *code = script != NULL ? share_text(script, &length, err) : NULL;
    char *sum = code != NULL ? sum_of(code, length, err) : NULL;
    if (err->kind == CARN_NONE) {
        /* Inline styles are allowed: the style of an element says where its crop lies. */
        fputs(
            "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n<meta "
            "http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src 'self'; "
            "style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'",
            to);
        if (sum != NULL)
            fprintf(to, "; script-src 'sha256-%s'", sum);
        fputs(
            "\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<meta "
            "name=\"color-scheme\" content=\"light dark\">\n<title>",
            to);
        carn_html(to, title);
        fprintf(to, "</title>\n<style>\n%s</style>\n</head><body>\n", style);
    }
    free(style);
    free(code);
    free(sum);
    return err->kind == CARN_NONE ? 0 : -1;
}

int carn_page_end(FILE *to, const char *script, struct carn_error *err)
{
    size_t length = 0;
    char *code = script != NULL ? share_text(script, &length, err) : NULL;
    if (code != NULL)
        fprintf(to, "<script>%s</script>\n", code);
    free(code);
    fputs("</body></html>\n", to);
    return err->kind == CARN_NONE ? 0 : -1;
}

/* The dialog that shows two pictures over each other; the script opens and fills it. */
static void over(FILE *to)
{
    fputs("<dialog id=\"over\" aria-labelledby=\"over-name\"><div class=\"bar\"><h2 "
          "id=\"over-name\">Over each other</h2><span id=\"over-which\" "
          "role=\"status\"></span><button "
          "type=\"button\" id=\"over-flip\">Flip</button><label>Wipe <input type=\"range\" "
          "id=\"over-wipe\" min=\"0\" max=\"100\" value=\"100\"></label><button type=\"button\" "
          "id=\"over-back\">Frame before</button><button type=\"button\" id=\"over-next\">Next "
          "frame</button><button type=\"button\" id=\"over-close\">Close</button></div><div "
          "class=\"stack\"></div></dialog>\n",
          to);
}

static void tables(const struct carn_section *s)
{
    static const char *const files[] = {"summary.tsv", "summary.json", "summary.txt",
                                        "frames.tsv",  "before.tsv",   "after.tsv",
                                        "patches.tsv", "facts.tsv",    "provenance.tsv"};
    fputs("</main>\n<footer class=\"sheet\"><h2 id=\"tables\">Tables</h2><p>", s->to);
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        if (s->shown->audit && (i == 5 || i == 8))
            continue;
        fprintf(s->to, "%s<a href=\"%s\">%s</a>", i > 0 ? ", " : "", files[i], files[i]);
    }
    fputs("; carn-job(5) says what is in them. Figures describe a picture, not a "
          "person.</p></footer>\n",
          s->to);
}

int carn_page_index(const struct carn_shown *shown, struct carn_error *err)
{
    static const char script[] = "report.js";
    struct carn_page page;
    struct carn_error ignored = {0};
    struct carn_locus locus;
    char skin[4200];
    if (carn_locus_find(shown, &locus, err) != 0 || carn_page_open(&page, err) != 0)
        return -1;
    struct carn_section s = {
        .to = page.to,
        .shown = shown,
        .locus = &locus,
        .srgb = carn_profile_open(NULL, 0, 3, err),
        .skin = carn_tool_share("skin.tsv", skin, sizeof skin, &ignored) == 0 ? skin : NULL,
        .err = err};
    int rc = s.srgb != NULL ? carn_page_head(page.to, shown->name, script, err) : -1;
    if (rc == 0) {
        fputs("<a class=\"skip\" href=\"#main\">To what needs a person</a>\n", page.to);
        carn_section_first(&s);
        carn_section_people(&s);
        carn_section_plots(&s);
        carn_section_frames(&s);
        tables(&s);
        over(page.to);
        rc = carn_page_end(page.to, script, err);
    }
    carn_profile_close(s.srgb);
    if (rc != 0) {
        (void)carn_page_close(&page, &ignored);
        free(page.text);
        return -1;
    }
    return carn_page_keep(&page, "report/index.html", err) < 0 ? -1 : 0;
}
