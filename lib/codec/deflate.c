#include "codec/deflate.h"

#ifdef CARN_ISAL

#include <isa-l/crc.h>
#include <isa-l/igzip_lib.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>

/* Level 2 packs scenes with grain 0.04 % better than level 1, in the same time; level 3 is slower,
 * and its bytes depend on the processor. */
enum { LEVEL = 2, CHUNK = 64 * 1024 };

/* Blocks of a picture are alike. Every TRIED-th is packed at level 2, and at level 0 with Huffman
 * codes made for it, which is one pass in place of two. Where that is at most MORE larger, its
 * codes serve the blocks up to the next trial: a scene with grain grows by 0.1 % in all. */
enum { TRIED = 16 };
static const double MORE = 0.001;

struct carn_deflate {
    struct isal_zstream stream;
    struct isal_hufftables codes;
    bool quick;
    size_t blocks;
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
static uint8_t *readable(const void *from)
{
    uint8_t *bytes;
    memcpy(&bytes, &from, sizeof from);
    return bytes;
}

static void give(struct isal_zstream *stream, const void *from, size_t size)
{
    stream->next_in = readable(from);
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

static bool make_codes(struct carn_deflate *deflate, const void *from, size_t size)
{
    struct isal_huff_histogram histogram = {0};
    isal_update_histogram(readable(from), (int)size, &histogram);
    return isal_create_hufftables(&deflate->codes, &histogram) == 0;
}

static size_t pack_block(struct carn_deflate *deflate, bool quick, const void *from, size_t size,
                         void *to, size_t room)
{
    struct isal_zstream *stream = &deflate->stream;
    isal_deflate_stateless_init(stream);
    set_up(deflate);
    if (quick) {
        stream->level = 0;
        isal_deflate_set_hufftables(stream, &deflate->codes, IGZIP_HUFFTABLE_CUSTOM);
    }
    stream->end_of_stream = 1;
    give(stream, from, size);
    stream->next_out = to;
    stream->avail_out = (uint32_t)room;
    return isal_deflate_stateless(stream) == COMP_OK ? stream->total_out : 0;
}

size_t carn_deflate_whole(struct carn_deflate *deflate, const void *from, size_t size, void *to,
                          size_t room)
{
    if (size > INT_MAX || room > UINT32_MAX)
        return 0;
    if (deflate->blocks++ % TRIED != 0)
        return pack_block(deflate, deflate->quick, from, size, to, room);
    size_t quick =
        make_codes(deflate, from, size) ? pack_block(deflate, true, from, size, to, room) : 0;
    size_t packed = pack_block(deflate, false, from, size, to, room);
    deflate->quick = quick > 0 && (double)quick <= (1 + MORE) * (double)packed;
    return packed;
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

uint32_t carn_crc32(uint32_t sum, const void *from, size_t size)
{
    return crc32_gzip_refl(sum, from, size);
}

/* Each call of libisal copies the last 32 KiB, which later bytes may repeat; of so many at a time
 * this does not count. */
enum { UNPACKED = 256 * 1024 };

struct carn_inflate {
    struct inflate_state state;
    carn_get *get;
    void *from;
    bool ended;      /* the stream, or what get has, or it is damaged */
    size_t at, have; /* of plain, what was not read yet */
    unsigned char packed[CHUNK];
    unsigned char plain[UNPACKED];
};

struct carn_inflate *carn_inflate_open(carn_get *get, void *from, struct carn_error *err)
{
    struct carn_inflate *inflate = carn_alloc(1, sizeof *inflate, err);
    if (inflate == NULL)
        return NULL;
    isal_inflate_init(&inflate->state);
    inflate->state.crc_flag = ISAL_ZLIB;
    inflate->get = get;
    inflate->from = from;
    return inflate;
}

/* Fills plain as far as the stream goes. */
static int unpack(struct carn_inflate *inflate, struct carn_error *err)
{
    struct inflate_state *state = &inflate->state;
    state->next_out = inflate->plain;
    state->avail_out = UNPACKED;
    while (!inflate->ended && state->avail_out > 0) {
        if (state->avail_in == 0) {
            long got = inflate->get(inflate->from, inflate->packed, CHUNK, err);
            if (got < 0)
                return -1;
            state->next_in = inflate->packed;
            state->avail_in = (uint32_t)got;
        }
        bool all_given = state->avail_in == 0;
        uint32_t room = state->avail_out;
        int result = isal_inflate(state);
        inflate->ended = result != ISAL_DECOMP_OK || state->block_state == ISAL_BLOCK_FINISH ||
                         (all_given && state->avail_out == room);
    }
    inflate->at = 0;
    inflate->have = UNPACKED - state->avail_out;
    return 0;
}

long carn_inflate_read(struct carn_inflate *inflate, void *to, size_t size, struct carn_error *err)
{
    size_t done = 0;
    while (done < size) {
        if (inflate->have == 0 && unpack(inflate, err) != 0)
            return -1;
        size_t part = size - done < inflate->have ? size - done : inflate->have;
        if (part == 0)
            break;
        memcpy((unsigned char *)to + done, inflate->plain + inflate->at, part);
        inflate->at += part;
        inflate->have -= part;
        done += part;
    }
    return (long)done;
}

void carn_inflate_close(struct carn_inflate *inflate)
{
    free(inflate);
}

#else

#include <zlib.h>

uint32_t carn_crc32(uint32_t sum, const void *from, size_t size)
{
    return (uint32_t)crc32_z(sum, from, size);
}

struct carn_inflate *carn_inflate_open(carn_get *get, void *from, struct carn_error *err)
{
    (void)get, (void)from, (void)err;
    return NULL;
}

long carn_inflate_read(struct carn_inflate *inflate, void *to, size_t size, struct carn_error *err)
{
    (void)inflate, (void)to, (void)size, (void)err;
    return 0;
}

void carn_inflate_close(struct carn_inflate *inflate)
{
    (void)inflate;
}

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
