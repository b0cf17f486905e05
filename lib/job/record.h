/*
 * record: a small table of two columns, key and value: a request to a step of a job.
 */
#ifndef CARN_RECORD_H
#define CARN_RECORD_H

#include "base/error.h"
#include "base/table.h"
#include "base/text.h"

#include <stdio.h>

void carn_record_begin(FILE *to);
void carn_record_put(FILE *to, const char *key, const char *value);
__attribute__((format(printf, 3, 4))) void carn_record_print(FILE *to, const char *key,
                                                             const char *format, ...);

/* The value of a key, "" when there is none. */
const char *carn_record_get(const struct carn_table *record, const char *key);

#endif
