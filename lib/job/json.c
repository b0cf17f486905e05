#include "job/json.h"

#include "base/text.h"
#include "job/files.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

void carn_json_text(FILE *to, const char *text)
{
    struct carn_page shown;
    struct carn_error ignored = {0};
    fputc('"', to);
    if (carn_page_open(&shown, &ignored) == 0) {
        carn_show(shown.to, text);
        if (carn_page_close(&shown, &ignored) == 0)
            for (const char *c = shown.text; *c != '\0'; c++) {
                if (*c == '"' || *c == '\\')
                    fputc('\\', to);
                if ((unsigned char)*c < 0x20) /* JSON allows none unescaped */
                    fprintf(to, "\\u%04x", (unsigned)*c);
                else
                    fputc(*c, to);
            }
        free(shown.text);
    }
    fputc('"', to);
}

/* Sign, digits, point and digits: as JSON has it, so no sign + and no 0 in front. */
static bool is_number(const char *text)
{
    text += *text == '-' ? 1 : 0;
    size_t whole = strspn(text, "0123456789");
    if (whole == 0 || (whole > 1 && *text == '0'))
        return false;
    text += whole;
    if (*text == '.') {
        size_t rest = strspn(text + 1, "0123456789");
        if (rest == 0)
            return false;
        text += 1 + rest;
    }
    return *text == '\0';
}

void carn_json_cell(FILE *to, const char *cell)
{
    if (cell[0] == '\0' || strcmp(cell, "-") == 0)
        fputs("null", to);
    else if (is_number(cell))
        fputs(cell, to);
    else
        carn_json_text(to, cell);
}
