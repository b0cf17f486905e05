/*
 * target: a file that appears under its name only when it is whole.
 *
 * Where the file system has O_TMPFILE, the file has no name until it is whole, so nothing is left
 * behind however the process ends. The exception is the moment in which an older file of the same
 * name is replaced. Elsewhere it is written under another name beside the target and renamed; then
 * only SIGKILL leaves something behind. An older file stays as it was until then. Files are not
 * synced: that would take a fifth of the time of a whole pipeline, and jobs do it themselves. A
 * process has one target at a time.
 */
#ifndef CARN_TARGET_H
#define CARN_TARGET_H

#include "base/error.h"

struct carn_target;

/* path "-" is standard output: then the bytes are copied there at the end. NULL with a message; a
 * path to something that is no plain file is refused. */
struct carn_target *carn_target_open(const char *path, struct carn_error *err);

/* The descriptor to write to; it can seek and stays the target's. */
int carn_target_fd(const struct carn_target *target);

int carn_target_finish(struct carn_target *target, struct carn_error *err);

/* Frees; a target that was not finished leaves nothing. */
void carn_target_close(struct carn_target *target);

/* An unlinked temporary file in $TMPDIR or /tmp; -1 with a message that begins with label. */
int carn_target_scratch(const char *label, struct carn_error *err);

#endif
