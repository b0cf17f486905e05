/*
 * match: which rows of a table are for a frame, by its name.
 */
#ifndef CARN_MATCH_H
#define CARN_MATCH_H

/*
 * Does a table's frame cell mean the frame of this name? 3: the same name; 2: the same but for the
 * suffix of either; 1: it matches as a pattern (fnmatch(3)), with or without suffixes; 0: no. Rows
 * of the highest rank that occurs for a frame are the ones that serve it.
 */
int carn_table_serves(const char *cell, const char *name);

#endif
