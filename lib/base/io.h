/*
 * io: bytes in and out of a file descriptor, in blocks, every call checked.
 *
 * Blocks are 256 KiB, and a pipe is asked to hold as much: measured as the fastest that does not
 * use up a user's pipe allowance. A handle that failed stays failed.
 */
#ifndef CARN_IO_H
#define CARN_IO_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

enum { CARN_BLOCK = 256 * 1024 };

struct carn_in;
struct carn_out;

/* label names the stream in messages, as "<stdin>" or a file name. The descriptor stays the
 * caller's. NULL with a message when memory is out. */
struct carn_in *carn_in_open(int fd, const char *label, struct carn_error *err);
void carn_in_close(struct carn_in *in);

/* Up to size bytes, fewer only at the end of the input; -1 on a read error. */
long carn_in_read(struct carn_in *in, void *to, size_t size, struct carn_error *err);

/* The next byte, taken or only looked at; -1 at the end, -2 on a read error. */
int carn_in_byte(struct carn_in *in, struct carn_error *err);
int carn_in_peek(struct carn_in *in, struct carn_error *err);

const char *carn_in_label(const struct carn_in *in);

/* Whether the input has given any byte yet. */
bool carn_in_started(const struct carn_in *in);

/* A whole file of at most limit bytes; the caller frees. */
void *carn_read_file(const char *path, size_t limit, size_t *size, struct carn_error *err);

/* As carn_in_open; a terminal is refused. carn_out_finish flushes what is buffered and closes the
 * descriptor, so that a full disk is seen; carn_out_close frees without writing. */
struct carn_out *carn_out_open(int fd, const char *label, struct carn_error *err);
int carn_out_write(struct carn_out *out, const void *from, size_t size, struct carn_error *err);
int carn_out_finish(struct carn_out *out, struct carn_error *err);
void carn_out_close(struct carn_out *out);

#endif
