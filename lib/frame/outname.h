/*
 * outname: names of the files that a run writes, from a pattern with {name} and {n}, each once.
 */
#ifndef CARN_OUTNAME_H
#define CARN_OUTNAME_H

#include "base/error.h"
#include "frame/frame.h"

struct carn_outnames;

struct carn_outnames *carn_outnames_open(struct carn_error *err);
void carn_outnames_close(struct carn_outnames *names);

/*
 * pattern with {name} as the frame's name without folder and suffix and {n} as number; the caller
 * frees. NULL with a message when the frame has no name to fill in, or when this run has written
 * that file already, under whatever name.
 */
char *carn_outnames_fill(struct carn_outnames *names, const char *pattern,
                         const struct carn_frame *frame, size_t number, struct carn_error *err);

/* The path filled in last has been written. */
void carn_outnames_done(struct carn_outnames *names, const char *path);

#endif
