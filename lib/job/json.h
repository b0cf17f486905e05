/*
 * json: cells of tables as JSON (RFC 8259).
 */
#ifndef CARN_JSON_H
#define CARN_JSON_H

#include <stdio.h>

/* A text in quotes, escaped; bytes that are no UTF-8 become '?'. */
void carn_json_text(FILE *to, const char *text);

/* A cell: "-" and "" as null, what is a decimal number as a number, else text. */
void carn_json_cell(FILE *to, const char *cell);

#endif
