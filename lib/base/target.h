/*
 * target: a file that appears under its name only when it is whole.
 *
 * Where the file system can (O_TMPFILE), it has no name until it is whole, and nothing is left
 * however the process ends, but for the moment in which an older file under the name is replaced.
 * Elsewhere it is written under another name beside the target and renamed; then only SIGKILL
 * leaves something. An older file stays as it was until then. It is not synced: waiting for the
 * disk is a fifth of the time of a whole pipeline, and jobs do it themselves. One target at a time
 * in a process.
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
