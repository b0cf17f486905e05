/*
 * kept: what a job keeps of a frame, in work/frame/ID. A frame's id is that of work/frames.tsv.
 */
#ifndef CARN_KEPT_H
#define CARN_KEPT_H

#include "base/table.h"

#include <stdbool.h>

/* Fills path with that of a file kept of the frame, and returns it. */
enum { CARN_KEPT_PATH = 300 };
const char *carn_kept_path(char path[CARN_KEPT_PATH], const char *id, const char *file);

/* A table kept of the frame; NULL without a message when it is not there or no table. The caller
 * closes it. */
struct carn_table *carn_kept_table(const char *id, const char *file);

/* Its provenance, made.tsv, likewise: one row, or NULL. */
struct carn_table *carn_kept_made(const char *id);

/* Is all there that a step left of the frame, its pictures in report/ too? Else the step has to be
 * done again, whatever its stamp says. out: the file's name in out/; of a card alone there is
 * none. */
bool carn_kept_measured(const char *id);
bool carn_kept_delivered(const char *id, const char *out);

/* Was it measured as a card alone, which is not delivered? */
bool carn_kept_is_card(const char *id);

#endif
