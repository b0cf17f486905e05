/*
 * deflate: zlib streams (RFC 1950) by libisal, where the build has it. Samples of 16 bits are
 * packed three to four times as fast as by zlib and libdeflate at their fastest, into the same size
 * where they have grain (docs/speed.md), and unpacked in half the time of zlib.
 *
 * On every x86-64 processor with SSE 4.2 the packed bytes are the same; on others they differ, and
 * unpack to the same samples.
 */
#ifndef CARN_DEFLATE_H
#define CARN_DEFLATE_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct carn_deflate;

/* NULL with kind CARN_NONE where the build has no libisal. */
struct carn_deflate *carn_deflate_open(struct carn_error *err);
void carn_deflate_close(struct carn_deflate *deflate);

/* All of from as one stream at to: its size in bytes, 0 when it would be longer than room. */
size_t carn_deflate_whole(struct carn_deflate *deflate, const void *from, size_t size, void *to,
                          size_t room);

/* More of one stream a file, its end with last. put takes what is packed, a block of 256 KiB at a
 * time; it may leave by longjmp. */
typedef void carn_put(void *to, const unsigned char *packed, size_t size);
void carn_deflate_part(struct carn_deflate *deflate, const void *from, size_t size, bool last,
                       carn_put *put, void *to);

/* CRC-32 (ISO 3309, as zlib's crc32) of more bytes; sum is 0 to begin with. */
uint32_t carn_crc32(uint32_t sum, const void *from, size_t size);

struct carn_inflate;

/* get gives up to room bytes of the stream, fewer only at its end, -1 with a message. NULL as with
 * carn_deflate_open. */
typedef long carn_get(void *from, void *to, size_t room, struct carn_error *err);
struct carn_inflate *carn_inflate_open(carn_get *get, void *from, struct carn_error *err);
void carn_inflate_close(struct carn_inflate *inflate);

/* The next size bytes of what was packed: how many there are, fewer where the stream ends or is
 * damaged; -1 where get failed. */
long carn_inflate_read(struct carn_inflate *inflate, void *to, size_t size, struct carn_error *err);

#endif
