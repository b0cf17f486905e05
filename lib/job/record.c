#include "job/record.h"

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
