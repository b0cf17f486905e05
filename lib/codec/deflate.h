/*
 * deflate: samples of 16 bits packed by libisal, where the build has it: three to four times as
 * fast as zlib and libdeflate at their fastest, and of the same size where samples have grain
 * (docs/speed.md).
 *
 * What comes out is a zlib stream (RFC 1950). On every x86-64 processor with SSE 4.2 its bytes are
 * the same; on others they differ, and unpack to the same samples.
 */
#ifndef CARN_DEFLATE_H
#define CARN_DEFLATE_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct carn_deflate;

/* NULL with kind CARN_NONE where the build has no libisal. */
struct carn_deflate *carn_deflate_open(struct carn_error *err);
void carn_deflate_close(struct carn_deflate *deflate);

/* All of from as one stream at to: its size in bytes, 0 when it would be longer than room. */
size_t carn_deflate_whole(struct carn_deflate *deflate, const void *from, size_t size, void *to,
                          size_t room);

/* More of one stream a file, its end with last. put takes what is packed, 64 KiB at a time, and
 * what is left after the last; it may leave by longjmp. */
void carn_deflate_part(struct carn_deflate *deflate, const void *from, size_t size, bool last,
                       void (*put)(void *to, const unsigned char *packed, size_t size), void *to);

#endif
