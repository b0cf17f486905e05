#include "job/record.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

void carn_record_begin(FILE *to)
{
    fputs("key\tvalue\n", to);
}

void carn_record_put(FILE *to, const char *key, const char *value)
{
    fprintf(to, "%s\t", key);
    carn_table_print(to, value);
    fputc('\n', to);
}

void carn_record_print(FILE *to, const char *key, const char *format, ...)
{
    char text[512];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    carn_record_put(to, key, text);
}

const char *carn_record_get(const struct carn_table *record, const char *key)
{
    for (size_t i = 0; i < carn_table_rows(record); i++) {
        if (strcmp(carn_table_cell(record, i, 0), key) != 0)
            continue;
        const char *value = carn_table_cell(record, i, 1);
        return strcmp(value, "-") == 0 ? "" : value;
    }
    return "";
}

void carn_print_number(FILE *to, double value, int decimals)
{
    if (isnan(value))
        fputc('-', to);
    else
        fprintf(to, "%.*f", decimals, fabs(value) < 0.5 * pow(10, -decimals) ? 0.0 : value);
}

/* The length of the UTF-8 character at text that may be shown, 0 when it may not. */
static size_t shown(const char *text)
{
    const unsigned char *c = (const unsigned char *)text;
    size_t length = c[0] < 0x80 ? 1 : c[0] >= 0xf0 ? 4 : c[0] >= 0xe0 ? 3 : c[0] >= 0xc2 ? 2 : 0;
    if (c[0] < 0x20 || c[0] == 0x7f || c[0] > 0xf4)
        return 0;
    for (size_t i = 1; i < length; i++)
        if ((c[i] & 0xc0) != 0x80)
            return 0;
    return c[0] == 0xc2 && c[1] < 0xa0 ? 0 : length;
}

void carn_show(FILE *to, const char *text)
{
    while (*text != '\0') {
        size_t length = shown(text);
        if (length == 0) {
            fputc('?', to);
            text++;
            continue;
        }
        fwrite(text, 1, length, to);
        text += length;
    }
}
