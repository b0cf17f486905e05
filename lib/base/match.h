/*
 * match: which rows of a table are for a frame, by its name.
 */
#ifndef CARN_MATCH_H
#define CARN_MATCH_H

#include <stddef.h>

/*
 * Rank of a table's frame cell for the frame of this name. 3: the same name; 2: the same name apart
 * from the suffixes; 1: it matches as a pattern (fnmatch(3)), with or without suffixes; 0: it does
 * not match. Only rows of the highest rank that occurs serve a frame.
 */
int carn_table_serves(const char *cell, const char *name);

/* How long a file's name is without its suffix; one that begins with a dot is not all suffix. */
size_t carn_stem(const char *name);

#endif
