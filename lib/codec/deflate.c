#include "codec/deflate.h"

#ifdef CARN_ISAL

#include <isa-l/igzip_lib.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* Level 2 packs scenes with grain 0.04 % better than level 1, in the same time; level 3 is slower,
 * and its bytes depend on the processor. */
enum { LEVEL = 2, CHUNK = 64 * 1024 };

struct carn_deflate {
    struct isal_zstream stream;
    unsigned char chunk[CHUNK];
    unsigned char tables[ISAL_DEF_LVL2_DEFAULT];
};

static void set_up(struct carn_deflate *deflate)
{
    deflate->stream.level = LEVEL;
    deflate->stream.level_buf = deflate->tables;
    deflate->stream.level_buf_size = sizeof deflate->tables;
    deflate->stream.gzip_flag = IGZIP_ZLIB;
}

/* Without a cast that drops const: libisal only reads it. */
static void give(struct isal_zstream *stream, const void *from, size_t size)
{
    memcpy(&stream->next_in, &from, sizeof from);
    stream->avail_in = (uint32_t)size;
}

struct carn_deflate *carn_deflate_open(struct carn_error *err)
{
    struct carn_deflate *deflate = carn_alloc(1, sizeof *deflate, err);
    if (deflate == NULL)
        return NULL;
    isal_deflate_init(&deflate->stream);
    set_up(deflate);
    deflate->stream.next_out = deflate->chunk;
    deflate->stream.avail_out = CHUNK;
    return deflate;
}

size_t carn_deflate_whole(struct carn_deflate *deflate, const void *from, size_t size, void *to,
                          size_t room)
{
    struct isal_zstream *stream = &deflate->stream;
    if (size > UINT32_MAX || room > UINT32_MAX)
        return 0;
    isal_deflate_stateless_init(stream);
    set_up(deflate);
    stream->end_of_stream = 1;
    give(stream, from, size);
    stream->next_out = to;
    stream->avail_out = (uint32_t)room;
    return isal_deflate_stateless(stream) == COMP_OK ? stream->total_out : 0;
}

void carn_deflate_part(struct carn_deflate *deflate, const void *from, size_t size, bool last,
                       void (*put)(void *to, const unsigned char *packed, size_t size), void *to)
{
    struct isal_zstream *stream = &deflate->stream;
    give(stream, from, size);
    stream->end_of_stream = last;
    do {
        if (stream->avail_out == 0) {
            put(to, deflate->chunk, CHUNK);
            stream->next_out = deflate->chunk;
            stream->avail_out = CHUNK;
        }
        isal_deflate(stream);
    } while (stream->avail_out == 0);
    if (last)
        put(to, deflate->chunk, CHUNK - stream->avail_out);
}

void carn_deflate_close(struct carn_deflate *deflate)
{
    free(deflate);
}

#else

struct carn_deflate *carn_deflate_open(struct carn_error *err)
{
    (void)err;
    return NULL;
}

size_t carn_deflate_whole(struct carn_deflate *deflate, const void *from, size_t size, void *to,
                          size_t room)
{
    (void)deflate, (void)from, (void)size, (void)to, (void)room;
    return 0;
}

void carn_deflate_part(struct carn_deflate *deflate, const void *from, size_t size, bool last,
                       void (*put)(void *to, const unsigned char *packed, size_t size), void *to)
{
    (void)deflate, (void)from, (void)size, (void)last, (void)put, (void)to;
}

void carn_deflate_close(struct carn_deflate *deflate)
{
    (void)deflate;
}

#endif
