/* Whole picture files; each that is read is written as a file of another kind and read again. */
#include "fuzz.h"

#include "frame/keys.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* What bytes a key holds, if it is sound, the other frame's holds too. */
static bool same_blob(const struct carn_frame *a, const struct carn_frame *b, const char *key)
{
    struct carn_error err = {0}, why = {0};
    size_t sizes[2] = {0, 0};
    void *x = carn_frame_blob(a, key, &sizes[0], &err);
    void *y = x != NULL ? carn_frame_blob(b, key, &sizes[1], &why) : NULL;
    bool same = x == NULL || (y != NULL && sizes[0] == sizes[1] && memcmp(x, y, sizes[0]) == 0);
    free(x);
    free(y);
    return same;
}

/* Are the samples those of the depth that the frame says it had? */
static bool fits_depth(const struct carn_frame *frame, const uint16_t *rows, size_t samples)
{
    bool fits = true;
    for (size_t i = 0; carn_frame_depth(frame) == 8 && fits && i < samples; i++)
        fits = rows[i] % 257 == 0;
    return fits;
}

void fuzz_picture(const uint8_t *data, size_t size)
{
    static const char *const kinds[] = {"tif", "png", "jpg", "pam", "ppm"};
    struct carn_frame frame = {0}, back = {0};
    uint16_t *rows = fuzz_read(fuzz_file(0, data, size), &frame);
    const char *kind = kinds[size % 5];
    const char *path = rows != NULL ? fuzz_write(&frame, rows, kind) : NULL;
    if (path != NULL) {
        uint16_t *again = fuzz_read(path, &back);
        fuzz_must(again != NULL && back.width == frame.width && back.height == frame.height &&
                      back.colours == frame.colours,
                  "a picture that was written is read, in its size and colours");
        /* JPEG is lossy, associated alpha is divided for PNG, and 16 bits dithered to 8. */
        bool exact = size % 5 != 2 && back.alpha == frame.alpha && !carn_frame_associated(&frame);
        size_t samples = frame.width * frame.height * carn_frame_channels(&frame);
        if (exact && frame.weight == back.weight && fits_depth(&frame, rows, samples))
            fuzz_must(memcmp(rows, again, samples * sizeof *rows) == 0, "its samples are the same");
        fuzz_must(size % 5 > 3 || same_blob(&frame, &back, "icc"), "its profile is the same");
        free(again);
    }
    free(rows);
    carn_frame_clear(&frame);
    carn_frame_clear(&back);
}

/* ---- PNG: chunks are changed inside, deflated ones inflated, and their sums made right ---- */

enum { HEAD = 8, FRAME = 12 }; /* bytes before the chunks, and of a chunk beside its data */

static uint32_t number(const uint8_t *p)
{
    return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3];
}

static void put(uint8_t *p, uint32_t v)
{
    for (int i = 0; i < 4; i++)
        p[i] = (uint8_t)(v >> (24 - 8 * i));
}

/* A chunk's data, with its type in front. */
struct chunk {
    size_t at, size; /* of the data */
    size_t deflated; /* where deflated data begin in it; size: nowhere */
};

static bool next_chunk(const uint8_t *data, size_t size, size_t *at, struct chunk *chunk)
{
    if (*at + FRAME > size || number(data + *at) > size - *at - FRAME)
        return false;
    *chunk = (struct chunk){.at = *at + 8, .size = number(data + *at)};
    const uint8_t *type = data + *at + 4, *text = data + chunk->at;
    const uint8_t *zero = chunk->size > 0 ? memchr(text, 0, chunk->size) : NULL;
    size_t name = zero != NULL ? (size_t)(zero - text) : chunk->size;
    chunk->deflated = chunk->size;
    if (memcmp(type, "IDAT", 4) == 0)
        chunk->deflated = 0;
    else if ((memcmp(type, "iCCP", 4) == 0 || memcmp(type, "zTXt", 4) == 0) &&
             name + 2 < chunk->size)
        chunk->deflated = name + 2;
    *at += FRAME + chunk->size;
    return true;
}

/* Mutates what is deflated; the new size of the chunk's data, at most room. */
static size_t mutate_deflated(uint8_t *data, const struct chunk *chunk, size_t room)
{
    enum { PLAIN = 1 << 16 };
    static uint8_t plain[PLAIN], packed[PLAIN + 1024];
    uLongf size = PLAIN / 2, length = sizeof packed;
    if (uncompress(plain, &size, data + chunk->at + chunk->deflated,
                   chunk->size - chunk->deflated) != Z_OK)
        return LLVMFuzzerMutate(data + chunk->at, chunk->size, room);
    size = LLVMFuzzerMutate(plain, size, PLAIN / 2);
    if (compress2(packed, &length, plain, size, 1) != Z_OK || chunk->deflated + length > room)
        return chunk->size;
    memcpy(data + chunk->at + chunk->deflated, packed, length);
    return chunk->deflated + length;
}

static void mend_sums(uint8_t *data, size_t size)
{
    struct chunk chunk;
    for (size_t at = HEAD; next_chunk(data, size, &at, &chunk);)
        put(data + chunk.at + chunk.size,
            (uint32_t)crc32(0, data + chunk.at - 4, (uInt)chunk.size + 4));
}

size_t fuzz_png_mutate(uint8_t *data, size_t size, size_t room, unsigned seed)
{
    struct chunk chunk, chosen = {0};
    unsigned count = 0;
    for (size_t at = HEAD; next_chunk(data, size, &at, &chunk);)
        if (seed / 8 % ++count == 0)
            chosen = chunk;
    if (count == 0 || seed % 8 == 0)
        return LLVMFuzzerMutate(data, size, room);
    if (seed % 8 == 1) {
        size = LLVMFuzzerMutate(data, size, room);
    } else { /* the rest moved to the end, so that the chunk can grow */
        size_t rest = size - chosen.at - chosen.size, most = room - chosen.at - rest, length;
        uint8_t *tail = malloc(rest);
        fuzz_must(tail != NULL, "memory");
        memcpy(tail, data + chosen.at + chosen.size, rest);
        if (chosen.deflated < chosen.size)
            length = mutate_deflated(data, &chosen, most);
        else
            length = LLVMFuzzerMutate(data + chosen.at, chosen.size, most);
        memcpy(data + chosen.at + length, tail, rest);
        put(data + chosen.at - 8, (uint32_t)length);
        size = chosen.at + length + rest;
        free(tail);
    }
    mend_sums(data, size);
    return size;
}
