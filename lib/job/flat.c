#include "job/flat.h"

#include <string.h>

static const char CELLS[] = " ; ", ROWS[] = " | ";

void carn_flat_print(FILE *to, const struct carn_table *table, const char *const *columns,
                     size_t count)
{
    size_t rows = table != NULL ? carn_table_rows(table) : 0;
    if (rows == 0)
        fputc('-', to);
    for (size_t i = 0; i < rows; i++) {
        fputs(i > 0 ? ROWS : "", to);
        for (size_t c = 0; c < count; c++) {
            fputs(c > 0 ? CELLS : "", to);
            carn_table_print(to, carn_table_at(table, i, columns[c]));
        }
    }
}

/* Cuts text at by and gives what follows, NULL when by is not in it. */
static char *cut(char *text, const char *by)
{
    char *at = strstr(text, by);
    if (at == NULL)
        return NULL;
    *at = '\0';
    return at + strlen(by);
}

bool carn_flat_next(char **rest, const char **cells, size_t count)
{
    char *row = *rest;
    if (row == NULL || row[0] == '\0' || strcmp(row, "-") == 0)
        return false;
    const char *another = strstr(row, CARN_FLAT_BETWEEN), *next = strstr(row, ROWS);
    bool last = another != NULL && (next == NULL || another < next);
    *rest = cut(row, last ? CARN_FLAT_BETWEEN : ROWS);
    for (size_t c = 0; c < count; c++) {
        cells[c] = row != NULL ? row : "";
        row = row != NULL ? cut(row, CELLS) : NULL;
    }
    return true;
}
