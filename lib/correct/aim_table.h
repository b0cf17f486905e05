/*
 * aim_table: aims by name, built in or from a table (carn-tables(5)).
 */
#ifndef CARN_AIM_TABLE_H
#define CARN_AIM_TABLE_H

#include "base/error.h"
#include "base/table.h"
#include "correct/aim.h"

/* The built-in aim, or the one of this name in the table file (columns aim, quantity, value,
 * tolerance; tone, from, to and asked if it likes) when file is not NULL and has it. -1 with a
 * message. */
int carn_aim_open(const char *name, const char *file, struct carn_aim *aim, struct carn_error *err);

/* The aim of this name in the table: 1, 0 when there is none, -1 with a message. */
int carn_aim_find(const char *name, const struct carn_table *table, struct carn_aim *aim,
                  struct carn_error *err);

#endif
