/*
 * record: a small table of two columns, key and value: a request to a step of a job.
 */
#ifndef CARN_RECORD_H
#define CARN_RECORD_H

#include "base/error.h"
#include "base/table.h"

#include <stdio.h>

void carn_record_begin(FILE *to);
void carn_record_put(FILE *to, const char *key, const char *value);
__attribute__((format(printf, 3, 4))) void carn_record_print(FILE *to, const char *key,
                                                             const char *format, ...);

/* The value of a key, "" when there is none. */
const char *carn_record_get(const struct carn_table *record, const char *key);

/* Prints a number for a table: so many decimals, no minus zero, "-" for one that is unknown (NAN).
 * Never through the locale: programs of the suite do not set one. */
void carn_print_number(FILE *to, double value, int decimals);

/* A text for people: bytes that could steer a terminal (C0, DEL, C1, and what is no UTF-8) are
 * shown as '?'. */
void carn_show(FILE *to, const char *text);

#endif
