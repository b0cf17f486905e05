/*
 * flat: the rows of a small table in one cell, as provenance has curves (carn-job(5)): cells
 * separated by ` ; `, rows by ` | `, several tables by ` || `.
 */
#ifndef CARN_FLAT_H
#define CARN_FLAT_H

#include "base/table.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* Between two tables. */
#define CARN_FLAT_BETWEEN " || "

/* The rows of table, count columns of each; "-" for a table that is NULL or has no row. */
void carn_flat_print(FILE *to, const struct carn_table *table, const char *const *columns,
                     size_t count);

/* Cuts the next row, of whichever table, off *rest, which starts as the cell, and that into count
 * cells, "" where there are fewer. The text is changed. False at its end, and for "-". */
bool carn_flat_next(char **rest, const char **cells, size_t count);

#endif
