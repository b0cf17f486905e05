#include "report/html.h"

#include "base/table.h"
#include "base/text.h"
#include "job/files.h"

#include <stdlib.h>

void carn_html(FILE *to, const char *text)
{
    struct carn_page shown;
    struct carn_error ignored = {0};
    if (carn_page_open(&shown, &ignored) != 0)
        return;
    carn_show(shown.to, text);
    if (carn_page_close(&shown, &ignored) == 0)
        for (const char *c = shown.text; *c != '\0'; c++)
            switch (*c) {
            case '&':
                fputs("&amp;", to);
                break;
            case '<':
                fputs("&lt;", to);
                break;
            case '>':
                fputs("&gt;", to);
                break;
            case '"':
                fputs("&quot;", to);
                break;
            case '\'':
                fputs("&#39;", to);
                break;
            default:
                fputc(*c, to);
            }
    free(shown.text);
}

void carn_html_heads(FILE *to, const char *const *names)
{
    fputs("<thead><tr>", to);
    for (; *names != NULL; names++)
        fprintf(to, **names != '\0' ? "<th scope=\"col\">%s</th>" : "<td>%s</td>", *names);
    fputs("</tr></thead>\n", to);
}

void carn_html_cell(FILE *to, double value, int decimals)
{
    fputs("<td>", to);
    carn_print_number(to, value, decimals);
    fputs("</td>", to);
}

void carn_html_text_cell(FILE *to, const char *text)
{
    fputs("<td>", to);
    carn_html(to, text);
    fputs("</td>", to);
}
