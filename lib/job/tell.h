/*
 * tell: the one line by which a step says what it did, to whoever runs the job.
 */
#ifndef CARN_TELL_H
#define CARN_TELL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* `measured 0007-north-02-birk.tif made`; `same` where nothing was to do. */
void carn_tell_step(FILE *to, const char *word, const char *id, bool same);

/* Takes such a line apart, in place: false when it is none. */
bool carn_tell_read(char *line, const char **word, const char **id, bool *same);

#endif
