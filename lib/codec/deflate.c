#include "codec/deflate.h"

#ifdef CARN_ISAL

#include <isa-l/crc.h>
#include <isa-l/igzip_lib.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>

/* Level 2 packs scenes with grain 0.04 % better than level 1, in the same time; level 3 is slower,
 * and its bytes depend on the processor. */
enum { LEVEL = 2 };

/* Blocks of a picture are alike. Every TRIED-th is packed at level 2, and at level 0 with the
 * Huffman codes of the trial before, which is one pass in place of two. Where that is at most MORE
 * larger, the blocks up to the next trial are packed so, with codes made for this one: a scene with
 * grain grows by 0.1 % in all. */
enum { TRIED = 16 };
static const double MORE = 0.002;

/* A stream a file is made of blocks. What cannot be packed takes up to 5 bytes more in each 64 KiB.
 */
enum { BLOCK = 256 * 1024, PACKED = BLOCK + 1024, HEADER = 2, TRAILER = 4 };

struct carn_deflate {
    struct isal_zstream stream;
    struct isal_hufftables codes;
    bool coded, quick;
    size_t blocks;
    uint32_t sum; /* Adler-32 of a stream a file */
    size_t held;  /* of block */
    unsigned char block[BLOCK];
    unsigned char packed[HEADER + PACKED + TRAILER];
    unsigned char tables[ISAL_DEF_LVL2_DEFAULT];
};

/* What is packed at a time: a whole stream, or a part of one. */
struct part {
    const void *from;
    size_t size;
    uint16_t wrapper;
    bool last;
};

struct carn_deflate *carn_deflate_open(struct carn_error *err)
{
    struct carn_deflate *deflate = carn_alloc(1, sizeof *deflate, err);
    if (deflate != NULL)
        deflate->sum = 1;
    return deflate;
}

/* Without a cast that drops const: libisal only reads it. */
static uint8_t *readable(const void *from)
{
    uint8_t *bytes;
    memcpy(&bytes, &from, sizeof from);
    return bytes;
}

static void make_codes(struct carn_deflate *deflate, const struct part *part)
{
    struct isal_huff_histogram histogram = {0};
    isal_update_histogram(readable(part->from), (int)part->size, &histogram);
    deflate->coded = isal_create_hufftables(&deflate->codes, &histogram) == 0;
}

static size_t pack_so(struct carn_deflate *deflate, const struct part *part, bool quick, void *to,
                      size_t room)
{
    struct isal_zstream *stream = &deflate->stream;
    isal_deflate_stateless_init(stream);
    if (quick) {
        isal_deflate_set_hufftables(stream, &deflate->codes, IGZIP_HUFFTABLE_CUSTOM);
    } else {
        stream->level = LEVEL;
        stream->level_buf = deflate->tables;
        stream->level_buf_size = sizeof deflate->tables;
    }
    stream->gzip_flag = part->wrapper;
    stream->end_of_stream = part->last;
    stream->flush = part->last ? NO_FLUSH : FULL_FLUSH;
    stream->next_in = readable(part->from);
    stream->avail_in = (uint32_t)part->size;
    stream->next_out = to;
    stream->avail_out = (uint32_t)room;
    return isal_deflate_stateless(stream) == COMP_OK ? stream->total_out : 0;
}

static size_t pack(struct carn_deflate *deflate, const struct part *part, void *to, size_t room)
{
    if (deflate->blocks++ % TRIED != 0)
        return pack_so(deflate, part, deflate->quick, to, room);
    size_t quick = deflate->coded ? pack_so(deflate, part, true, to, room) : 0;
    size_t packed = pack_so(deflate, part, false, to, room);
    make_codes(deflate, part);
    deflate->quick = deflate->coded && quick > 0 && (double)quick <= (1 + MORE) * (double)packed;
    return packed;
}

size_t carn_deflate_whole(struct carn_deflate *deflate, const void *from, size_t size, void *to,
                          size_t room)
{
    struct part part = {from, size, IGZIP_ZLIB, true};
    return size > INT_MAX || room > UINT32_MAX ? 0 : pack(deflate, &part, to, room);
}

/* RFC 1950: what stands before the first block and after the last one. */
static size_t begin_stream(unsigned char *to)
{
    to[0] = 0x78; /* deflate, a window of 32 KiB */
    to[1] = 0x01; /* by the fastest way; a multiple of 31 with the byte before */
    return HEADER;
}

static size_t end_stream(unsigned char *to, uint32_t sum)
{
    for (int i = 0; i < TRAILER; i++)
        to[i] = (unsigned char)(sum >> (24 - 8 * i));
    return TRAILER;
}

static void put_block(struct carn_deflate *deflate, bool last, carn_put *put, void *to)
{
    struct part part = {deflate->block, deflate->held, IGZIP_DEFLATE, last};
    size_t size = deflate->blocks == 0 ? begin_stream(deflate->packed) : 0;
    deflate->sum = isal_adler32(deflate->sum, deflate->block, deflate->held);
    deflate->held = 0;
    size += pack(deflate, &part, deflate->packed + size, PACKED);
    if (last)
        size += end_stream(deflate->packed + size, deflate->sum);
    put(to, deflate->packed, size);
}

void carn_deflate_part(struct carn_deflate *deflate, const void *from, size_t size, bool last,
                       carn_put *put, void *to)
{
    const unsigned char *at = from;
    while (size > 0) {
        size_t part = size < BLOCK - deflate->held ? size : BLOCK - deflate->held;
        memcpy(deflate->block + deflate->held, at, part);
        deflate->held += part;
        at += part;
        size -= part;
        if (deflate->held == BLOCK)
            put_block(deflate, false, put, to);
    }
    if (last)
        put_block(deflate, true, put, to);
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
enum { UNPACKED = 256 * 1024, CHUNK = 64 * 1024 };

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
                       carn_put *put, void *to)
{
    (void)deflate, (void)from, (void)size, (void)last, (void)put, (void)to;
}

void carn_deflate_close(struct carn_deflate *deflate)
{
    (void)deflate;
}

#endif
