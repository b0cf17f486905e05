#include "base/table.h"

#include "base/text.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { SIZE_LIMIT = 256 * 1024 * 1024, COLUMN_LIMIT = 4096 };

static const char MARK[] = "\xEF\xBB\xBF"; /* the byte order mark, in UTF-8 */

struct carn_table {
    char *label;
    char *text; /* the whole file, cut into cells in place */
    size_t rows, columns;
    char **names;
    char **cells;  /* rows * columns, each into text */
    size_t *lines; /* the line number of each row */
    size_t room;   /* rows that cells and lines have room for */
};

/* ---- reading ---- */

static int read_all(FILE *from, struct carn_table *table, struct carn_error *err)
{
    size_t room = 65536, used = 0;
    for (;;) {
        char *grown = carn_grow(table->text, room + 1, 1, err);
        if (grown == NULL)
            return -1;
        table->text = grown;
        used += fread(table->text + used, 1, room - used, from);
        if (used < room)
            break;
        if (room >= SIZE_LIMIT)
            return carn_fail_at(err, CARN_LIMIT, table->label, "a table of more than %d bytes",
                                SIZE_LIMIT);
        room *= 2;
    }
    if (ferror(from))
        return carn_fail_at(err, CARN_SYSTEM, table->label, "cannot read: %s", strerror(errno));
    table->text[used] = '\0';
    if (used >= 2 &&
        (memcmp(table->text, "\xff\xfe", 2) == 0 || memcmp(table->text, "\xfe\xff", 2) == 0 ||
         (table->text[0] == '\0') != (table->text[1] == '\0')))
        return carn_fail_at(
            err, CARN_INPUT, table->label,
            "is UTF-16 text; a table is UTF-8 (iconv -f UTF-16 -t UTF-8 makes one)");
    if (strlen(table->text) != used)
        return carn_fail_at(err, CARN_INPUT, table->label, "byte %zu is zero, this is not a table",
                            strlen(table->text) + 1);
    return 0;
}

/* Cuts the next line off *rest, without its line end; NULL at the end of the text. */
static char *next_line(char **rest)
{
    char *line = *rest;
    if (*line == '\0')
        return NULL;
    size_t n = strcspn(line, "\n");
    *rest = line + n + (line[n] == '\n');
    if (n > 0 && line[n - 1] == '\r')
        line[n - 1] = '\0';
    line[n] = '\0';
    return line;
}

/* Cuts a line at its tabs: the number of cells, or room + 1 when there are more. */
static size_t cut_cells(char *line, char **cells, size_t room)
{
    size_t n = 0;
    for (char *at = line; at != NULL;) {
        char *tab = strchr(at, '\t');
        if (tab != NULL)
            *tab++ = '\0';
        if (n == room)
            return room + 1;
        cells[n++] = at;
        at = tab;
    }
    return n;
}

/* Spreadsheets leave columns without a name; carn_table_print writes them as -. */
static bool is_name(const char *cell)
{
    return cell[0] != '\0' && strcmp(cell, "-") != 0;
}

/* At the beginning of a file it would be a comment or tell of another encoding. */
static bool is_opening(const char *name)
{
    return name[0] == '#' || strncmp(name, MARK, 3) == 0 || strncmp(name, "\xff\xfe", 2) == 0 ||
           strncmp(name, "\xfe\xff", 2) == 0;
}

static int take_header(struct carn_table *table, char *line, size_t number, struct carn_error *err)
{
    size_t columns = 1;
    if (strchr(line, '\r') != NULL) /* or the whole file would be a header, and no row an error */
        return carn_fail_at(err, CARN_INPUT, table->label,
                            "line %zu holds a carriage return; lines end in LF or CRLF, not in CR "
                            "alone (tr '\\r' '\\n' mends it)",
                            number);
    for (const char *c = line; *c != '\0'; c++)
        columns += *c == '\t';
    if (columns > COLUMN_LIMIT)
        return carn_fail_at(err, CARN_LIMIT, table->label, "line %zu has more than %d columns",
                            number, COLUMN_LIMIT);
    table->names = carn_alloc(columns, sizeof *table->names, err);
    if (table->names == NULL)
        return -1;
    table->columns = cut_cells(line, table->names, columns);
    for (size_t i = 0; i < columns; i++) {
        carn_unescape(table->names[i]);
        if (i == 0 && is_opening(table->names[0]))
            return carn_fail_at(err, CARN_INPUT, table->label,
                                "line %zu: the first column's name begins with # or a byte order "
                                "mark, which it could not where the file begins",
                                number);
        for (size_t j = 0; j < i; j++)
            if (is_name(table->names[i]) && strcmp(table->names[i], table->names[j]) == 0)
                return carn_fail_at(err, CARN_INPUT, table->label,
                                    "line %zu has the column '%s' twice", number, table->names[i]);
    }
    return 0;
}

static int take_row(struct carn_table *table, char *line, size_t number, struct carn_error *err)
{
    if (table->rows == table->room) {
        size_t room = table->room * 2 + 16;
        char **cells = carn_grow(table->cells, room * table->columns, sizeof *cells, err);
        if (cells == NULL)
            return -1;
        table->cells = cells;
        size_t *lines = carn_grow(table->lines, room, sizeof *lines, err);
        if (lines == NULL)
            return -1;
        table->lines = lines;
        table->room = room;
    }
    char **cells = table->cells + table->rows * table->columns;
    size_t n = cut_cells(line, cells, table->columns);
    if (n > table->columns)
        return carn_fail_at(err, CARN_INPUT, table->label,
                            "line %zu has more than the header's %zu cells", number,
                            table->columns);
    for (size_t i = 0; i < n; i++)
        carn_unescape(cells[i]);
    for (; n < table->columns; n++)
        cells[n] = line + strlen(line);
    table->lines[table->rows++] = number;
    return 0;
}

static int cut_table(struct carn_table *table, struct carn_error *err)
{
    char *rest = table->text, *line;
    if (strncmp(rest, MARK, 3) == 0)
        rest += 3;
    for (size_t number = 1; (line = next_line(&rest)) != NULL; number++) {
        bool header = table->names == NULL;
        if (line[strspn(line, "\t ")] == '\0' || (header && line[0] == '#'))
            continue;
        if ((header ? take_header(table, line, number, err) : take_row(table, line, number, err)) !=
            0)
            return -1;
    }
    if (table->names == NULL)
        return carn_fail_at(err, CARN_INPUT, table->label,
                            "no header row, a table begins with its column names");
    return 0;
}

struct carn_table *carn_table_read(const char *path, struct carn_error *err)
{
    bool standard = strcmp(path, "-") == 0;
    struct carn_table *table = carn_alloc(1, sizeof *table, err);
    if (table == NULL)
        return NULL;
    table->label = carn_copy(standard ? "<stdin>" : path, err);
    FILE *from = table->label == NULL ? NULL : standard ? stdin : fopen(path, "rb");
    if (from == NULL && table->label != NULL)
        carn_fail_at(err, CARN_SYSTEM, path, "cannot open: %s", strerror(errno));
    bool good = from != NULL && read_all(from, table, err) == 0 && cut_table(table, err) == 0;
    if (from != NULL && !standard)
        fclose(from);
    if (!good) {
        carn_table_close(table);
        return NULL;
    }
    return table;
}

struct carn_table *carn_table_try(const char *path)
{
    struct carn_error ignored = {0};
    return carn_table_read(path, &ignored);
}

void carn_table_close(struct carn_table *table)
{
    if (table == NULL)
        return;
    free(table->label);
    free(table->text);
    free(table->names);
    free(table->cells);
    free(table->lines);
    free(table);
}

/* ---- asking ---- */

const char *carn_table_label(const struct carn_table *table)
{
    return table->label;
}

size_t carn_table_rows(const struct carn_table *table)
{
    return table->rows;
}

size_t carn_table_columns(const struct carn_table *table)
{
    return table->columns;
}

const char *carn_table_name(const struct carn_table *table, size_t column)
{
    return table->names[column];
}

size_t carn_table_line(const struct carn_table *table, size_t row)
{
    return table->lines[row];
}

int carn_table_find(const struct carn_table *table, const char *name)
{
    for (size_t i = 0; i < table->columns; i++)
        if (strcmp(table->names[i], name) == 0)
            return (int)i;
    return -1;
}

/* What a header of one cell is separated by, in words; "" where nothing shows. */
static const char *separated_otherwise(const struct carn_table *table)
{
    static const struct {
        const char *by, *words;
    } ways[] = {
        {";", ": it is one cell with semicolons, and columns are separated by tabs"},
        {",", ": it is one cell with commas, and columns are separated by tabs"},
        {" ", ": it is one cell with spaces, and columns are separated by tabs"},
    };
    for (size_t i = 0; table->columns == 1 && i < sizeof ways / sizeof *ways; i++)
        if (strstr(table->names[0], ways[i].by) != NULL)
            return ways[i].words;
    return "";
}

int carn_table_need(const struct carn_table *table, const char *name, struct carn_error *err)
{
    int column = carn_table_find(table, name);
    if (column < 0)
        carn_fail_at(err, CARN_INPUT, table->label, "no column '%s' in the header%s", name,
                     separated_otherwise(table));
    return column;
}

const char *carn_table_cell(const struct carn_table *table, size_t row, int column)
{
    return column < 0 ? "-" : table->cells[row * table->columns + (size_t)column];
}

int carn_table_fail(const struct carn_table *table, size_t row, int column, struct carn_error *err,
                    const char *format, ...)
{
    char text[512];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    return carn_fail_at(err, CARN_INPUT, table->label, "line %zu, column '%s': %s",
                        table->lines[row], column < 0 ? "-" : table->names[column], text);
}

int carn_table_numbers(const struct carn_table *table, size_t row, int column, double *values,
                       size_t count, struct carn_error *err)
{
    const char *cell = carn_table_cell(table, row, column);
    if (cell[0] == '\0' || strcmp(cell, "-") == 0)
        return 0;
    const char *at = cell;
    for (size_t i = 0; i < count; i++) {
        char *end = NULL;
        double v = strtod(at, &end);
        if (end == at || !isfinite(v) || strpbrk(at, "xX") != NULL) /* no 0x40 */
            return carn_table_fail(table, row, column, err, "'%s' is not %s", cell,
                                   count == 1 ? "a number" : "that many numbers");
        values[i] = v;
        at = end;
    }
    if (at[strspn(at, " ")] != '\0')
        return carn_table_fail(table, row, column, err, "'%s' is not %s", cell,
                               count == 1 ? "a number" : "that many numbers");
    return 1;
}

int carn_table_number(const struct carn_table *table, size_t row, int column, double *value,
                      struct carn_error *err)
{
    return carn_table_numbers(table, row, column, value, 1, err);
}

/* ---- by name ---- */

size_t carn_table_row(const struct carn_table *table, const char *column, const char *text)
{
    int at = carn_table_find(table, column);
    for (size_t i = 0; at >= 0 && i < carn_table_rows(table); i++)
        if (strcmp(carn_table_cell(table, i, at), text) == 0)
            return i;
    return SIZE_MAX;
}

const char *carn_table_at(const struct carn_table *table, size_t row, const char *column)
{
    return carn_table_cell(table, row, carn_table_find(table, column));
}

const char *carn_table_text(const struct carn_table *table, size_t row, const char *column)
{
    const char *cell = carn_table_at(table, row, column);
    return cell[0] != '\0' ? cell : "-";
}

double carn_table_value(const struct carn_table *table, size_t row, const char *column)
{
    struct carn_error ignored = {0};
    double v = (double)NAN;
    (void)carn_table_number(table, row, carn_table_find(table, column), &v, &ignored);
    return v;
}

/* ---- writing ---- */

static bool would_break(const char *at)
{
    static const char digits[] = "0123456789abcdefABCDEF";
    unsigned char c = (unsigned char)*at;
    return c < 0x20 || c == 0x7f ||
           (c == '%' && at[1] != '\0' && strchr(digits, at[1]) != NULL && at[2] != '\0' &&
            strchr(digits, at[2]) != NULL);
}

void carn_table_print(FILE *to, const char *cell)
{
    if (cell[0] == '\0')
        fputc('-', to);
    else if (cell[strspn(cell, " ")] == '\0') { /* a line of spaces alone would be blank */
        fputs("%20", to);
        cell++;
    }
    for (; *cell != '\0'; cell++) {
        bool c1 = (unsigned char)cell[0] == 0xc2 && ((unsigned char)cell[1] & 0xe0) == 0x80;
        if (c1)
            fprintf(to, "%%C2%%%02X", (unsigned)(unsigned char)*++cell);
        else if (would_break(cell))
            fprintf(to, "%%%02X", (unsigned)(unsigned char)*cell);
        else
            fputc(*cell, to);
    }
}

void carn_table_print_names(FILE *to, const struct carn_table *table)
{
    for (size_t i = 0; i < table->columns; i++) {
        fputs(i > 0 ? "\t" : "", to);
        carn_table_print(to, table->names[i]);
    }
}

void carn_table_print_row(FILE *to, const struct carn_table *table, size_t row, int at,
                          const char *text)
{
    for (int i = 0; i < (int)table->columns; i++) {
        fputs(i > 0 ? "\t" : "", to);
        carn_table_print(to, i == at ? text : carn_table_cell(table, row, i));
    }
}

const char *carn_number_text(char text[CARN_NUMBER], double value, int decimals)
{
    if (isfinite(value))
        snprintf(text, CARN_NUMBER, "%.*f", decimals,
                 fabs(value) < 0.5 * pow(10, -decimals) ? 0.0 : value);
    else
        strcpy(text, "-");
    return text;
}

void carn_print_number(FILE *to, double value, int decimals)
{
    char text[CARN_NUMBER];
    fputs(carn_number_text(text, value, decimals), to);
}
