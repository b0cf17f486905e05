/*
 * table: tab-separated text with a header row, columns found by name (carn-tables(5)).
 *
 * Reads what people and spreadsheets write: UTF-8 with or without a byte order mark, LF or CRLF,
 * lines starting with # before the header are comments, blank lines are skipped, missing cells at
 * the end of a line read as "". A cell may hold any byte but tab and line ends; control characters
 * are written %HH, a % that would read as such an escape %25, and the first of spaces alone %20.
 * Numbers are C locale decimals.
 */
#ifndef CARN_TABLE_H
#define CARN_TABLE_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

struct carn_table;

/* path "-" is standard input. NULL with a message (file, line) when it cannot be read, has no
 * header, a column twice, or a line with more cells than the header. Tables up to 256 MiB. */
struct carn_table *carn_table_read(const char *path, struct carn_error *err);

/* A table that may be missing: NULL without a message. */
struct carn_table *carn_table_try(const char *path);
void carn_table_close(struct carn_table *table);

const char *carn_table_label(const struct carn_table *table); /* the path, or "<stdin>" */
size_t carn_table_rows(const struct carn_table *table);
size_t carn_table_columns(const struct carn_table *table);
const char *carn_table_name(const struct carn_table *table, size_t column);
size_t carn_table_line(const struct carn_table *table, size_t row); /* counted from 1 */

/* The column's number, or -1 when there is none. carn_table_need fails with a message instead. */
int carn_table_find(const struct carn_table *table, const char *name);
int carn_table_need(const struct carn_table *table, const char *name, struct carn_error *err);

/* The cell, escapes decoded; "" when the line is short; "-" when column is -1. */
const char *carn_table_cell(const struct carn_table *table, size_t row, int column);

/* The first row whose cell in this column is text; SIZE_MAX when there is none. */
size_t carn_table_row(const struct carn_table *table, const char *column, const char *text);

/* By the name of a column. at: as carn_table_cell. text: "-" for an empty cell too. value: as a
 * number, NAN where there is none. */
const char *carn_table_at(const struct carn_table *table, size_t row, const char *column);
const char *carn_table_text(const struct carn_table *table, size_t row, const char *column);
double carn_table_value(const struct carn_table *table, size_t row, const char *column);

/* The cell as a number: 1 when there is one, 0 when it is "-" or "" or column is -1 (value is then
 * untouched), -1 with a message that says file, line, column and text. */
int carn_table_number(const struct carn_table *table, size_t row, int column, double *value,
                      struct carn_error *err);

/* As carn_table_number with count numbers separated by spaces. */
int carn_table_numbers(const struct carn_table *table, size_t row, int column, double *values,
                       size_t count, struct carn_error *err);

/* A message about one cell: `FILE: line N, column 'C': ` and then the format. Returns -1. */
__attribute__((format(printf, 5, 6))) int carn_table_fail(const struct carn_table *table,
                                                          size_t row, int column,
                                                          struct carn_error *err,
                                                          const char *format, ...);

/* Writes one cell, escaped; "" is written as "-". */
void carn_table_print(FILE *to, const char *cell);

/* A number as text: so many decimals, no minus zero, "-" for one that is unknown (NAN, or
 * infinite). Never through the locale: programs of the suite do not set one. And the same, written.
 */
enum { CARN_NUMBER = 320 }; /* bytes: the largest double has 309 digits before the point */
const char *carn_number_text(char text[CARN_NUMBER], double value, int decimals);
void carn_print_number(FILE *to, double value, int decimals);

/* The names of all columns, and the cells of a row, separated by tabs, without the line's end. In
 * column at (-1: none) stands text in place of the row's cell. */
void carn_table_print_names(FILE *to, const struct carn_table *table);
void carn_table_print_row(FILE *to, const struct carn_table *table, size_t row, int at,
                          const char *text);

#endif
