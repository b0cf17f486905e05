#define ZLIB_CONST /* next_in is not written through */
#include "codec/png_chunks.h"
#include "frame/keys.h"

#include "codec/deflate.h"
#include "codec/exif.h"
#include "codec/resources.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum {
    OVERHEAD = 12,     /* bytes of a chunk beside its data: length, type, check sum */
    KEYWORD_MOST = 79, /* bytes of a text chunk's keyword */
    CHUNKS_MOST = 1 << 24
};

/* A chunk that is wanted, in memory with its type before its data, as the check sum covers both. */
struct chunk {
    unsigned char *type;
    unsigned char *data;
    size_t size;
};

/* The colour chunks, which only count in their order of rank. */
struct colour_chunks {
    bool icc, srgb, chrm, gama, cicp;
    double xy[8], gamma;
    unsigned char code[4]; /* of cICP: primaries, transfer, matrix, full range */
};

static bool is_type(const unsigned char *type, const char *name)
{
    return memcmp(type, name, 4) == 0;
}

static bool is_wanted(const unsigned char *type)
{
    static const char wanted[][5] = {"iCCP", "sRGB", "cHRM", "gAMA", "cICP",
                                     "pHYs", "eXIf", "iTXt", "zTXt", "tEXt"};
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++)
        if (is_type(type, wanted[i]))
            return true;
    return false;
}

/* Decompressed data of a chunk; the caller frees. what names it in messages. */
static unsigned char *inflated(struct carn_source *source, const unsigned char *from, size_t count,
                               const char *what, size_t *size, struct carn_error *err)
{
    uint64_t most = source->limits.metadata - source->metadata;
    size_t room = count * 4 + 1024;
    unsigned char *to = NULL;
    z_stream z = {0};
    if (count > UINT32_MAX / 8 || inflateInit(&z) != Z_OK) {
        carn_fail_at(err, CARN_INPUT, source->label, "PNG chunk %s cannot be unpacked", what);
        return NULL;
    }
    z.next_in = from;
    z.avail_in = (uInt)count;
    int state = Z_OK;
    while (state == Z_OK) {
        unsigned char *more = carn_grow(to, room, 1, err);
        if (more == NULL)
            break;
        to = more;
        z.next_out = to + z.total_out;
        z.avail_out = (uInt)(room - z.total_out);
        state = inflate(&z, Z_NO_FLUSH);
        if (state == Z_OK && z.avail_out > 0)
            state = Z_BUF_ERROR; /* the input ended before the data did */
        if (z.total_out > most) {
            state = Z_MEM_ERROR;
            carn_source_metadata(source, z.total_out, err);
        }
        room *= 2;
    }
    *size = z.total_out;
    inflateEnd(&z);
    if (state == Z_STREAM_END)
        return to;
    free(to);
    carn_fail_at(err, CARN_INPUT, source->label, "PNG chunk %s is damaged", what);
    return NULL;
}

/* A keyword and the place after its zero byte; NULL when it has none. */
static const unsigned char *after_keyword(const struct chunk *chunk)
{
    size_t most = chunk->size < KEYWORD_MOST + 1 ? chunk->size : KEYWORD_MOST + 1;
    const unsigned char *zero = memchr(chunk->data, 0, most);
    return zero == NULL ? NULL : zero + 1;
}

static size_t left_after(const struct chunk *chunk, const unsigned char *at)
{
    return chunk->size - (size_t)(at - chunk->data);
}

static int take_icc(struct carn_source *source, struct carn_frame *frame, const struct chunk *chunk,
                    struct carn_error *err)
{
    const unsigned char *at = after_keyword(chunk);
    size_t size = 0;
    if (at == NULL || left_after(chunk, at) < 2 || at[0] != 0)
        return carn_fail_at(err, CARN_INPUT, source->label, "PNG chunk iCCP is damaged");
    unsigned char *icc = inflated(source, at + 1, left_after(chunk, at) - 1, "iCCP", &size, err);
    int result = icc == NULL ? -1 : carn_source_blob(source, frame, "icc", icc, size, err);
    free(icc);
    return result;
}

static int take_exif(struct carn_source *source, struct carn_frame *frame, struct chunk *chunk,
                     struct carn_error *err)
{
    unsigned char *block = chunk->data;
    size_t size = chunk->size;
    if (size >= 6 && memcmp(block, "Exif\0", 6) == 0) { /* some writers leave the JPEG marker on */
        block += 6;
        size -= 6;
    }
    struct carn_exif_says says;
    int sound = carn_exif_take(block, &size, &says, err);
    if (sound == 0)
        carn_note(&source->notes, "exif", "%s: its Exif is damaged, it is left out", source->label);
    if (sound != 1)
        return sound;
    if (says.orientation != 0 && carn_frame_set_orientation(frame, says.orientation, err) != 0)
        return -1;
    if (says.resolution.x > 0 && carn_frame_get(frame, "resolution") == NULL &&
        carn_frame_set_resolution(frame, &says.resolution, err) != 0)
        return -1;
    return carn_source_blob(source, frame, "exif", block, size, err);
}

/* PNG counts whole pixels a metre. Where that is a whole number of pixels an inch, rounded, the
 * inch is used, so that 300 an inch stay 300. */
static bool is_inches(uint32_t per_metre)
{
    double inch = round(per_metre * 0.0254);
    return round(inch / 0.0254) == per_metre;
}

static int take_resolution(struct carn_frame *frame, const struct chunk *chunk,
                           struct carn_error *err)
{
    if (chunk->size != 9)
        return 0;
    uint32_t x = carn_big_endian(chunk->data);
    uint32_t y = carn_big_endian(chunk->data + 4);
    struct carn_resolution resolution = {x, y, CARN_UNIT_NONE};
    if (chunk->data[8] == 1 && is_inches(x) && is_inches(y))
        resolution = (struct carn_resolution){round(x * 0.0254), round(y * 0.0254), CARN_UNIT_INCH};
    else if (chunk->data[8] == 1)
        resolution = (struct carn_resolution){x / 100.0, y / 100.0, CARN_UNIT_CM};
    return carn_frame_set_resolution(frame, &resolution, err);
}

/* Text that may be packed: XMP in iTXt, IPTC (and by old programs XMP and Exif) as a raw profile.
 */
static int take_iptc(struct carn_source *source, struct carn_frame *frame, const char *text,
                     size_t length, struct carn_error *err)
{
    size_t size = 0;
    unsigned char *raw = carn_png_raw_profile(text, length, &size, err);
    if (raw == NULL)
        return err->kind == CARN_NONE ? 0 : -1;
    const unsigned char *iptc = raw;
    if (size >= 4 && memcmp(raw, "8BIM", 4) == 0)
        iptc = carn_resources_iptc(raw, size, &size);
    int result = 0;
    if (iptc != NULL)
        result = carn_source_blob(source, frame, "iptc", iptc, size, err);
    free(raw);
    return result;
}

/* Text that a person wrote is not dropped without a note; a program's is. */
static int note_text(struct carn_source *source, const struct chunk *chunk)
{
    static const char *const keywords[] = {"Title", "Author", "Description", "Copyright"};
    for (size_t i = 0; i < sizeof keywords / sizeof keywords[0]; i++)
        if (after_keyword(chunk) != NULL && strcmp((const char *)chunk->data, keywords[i]) == 0)
            carn_note(&source->notes, "text",
                      "%s: left out of this PNG: its plain text (%s, ...); XMP is kept",
                      source->label, keywords[i]);
    return 0;
}

static int take_xmp(struct carn_source *source, struct carn_frame *frame, const struct chunk *chunk,
                    struct carn_error *err)
{
    /* After the keyword: packed?, method, language, zero, translated keyword, zero, text. */
    const unsigned char *at = after_keyword(chunk);
    if (at == NULL || strcmp((const char *)chunk->data, "XML:com.adobe.xmp") != 0)
        return note_text(source, chunk);
    if (left_after(chunk, at) < 4)
        return 0;
    bool packed = at[0] == 1;
    at += 2;
    for (int i = 0; i < 2 && at != NULL; i++) {
        at = memchr(at, 0, left_after(chunk, at));
        at = at == NULL ? NULL : at + 1;
    }
    if (at == NULL)
        return 0;
    size_t size = left_after(chunk, at);
    if (!packed)
        return carn_source_blob(source, frame, "xmp", at, size, err);
    unsigned char *text = inflated(source, at, size, "iTXt", &size, err);
    int result = text == NULL ? -1 : carn_source_blob(source, frame, "xmp", text, size, err);
    free(text);
    return result;
}

static int take_text(struct carn_source *source, struct carn_frame *frame,
                     const struct chunk *chunk, struct carn_error *err)
{
    if (is_type(chunk->type, "iTXt"))
        return take_xmp(source, frame, chunk, err);
    const unsigned char *at = after_keyword(chunk);
    if (at == NULL || strcmp((const char *)chunk->data, "Raw profile type iptc") != 0)
        return note_text(source, chunk);
    size_t size = left_after(chunk, at);
    if (is_type(chunk->type, "tEXt"))
        return take_iptc(source, frame, (const char *)at, size, err);
    if (size < 2)
        return 0;
    unsigned char *text = inflated(source, at + 1, size - 1, "zTXt", &size, err);
    int result = text == NULL ? -1 : take_iptc(source, frame, (const char *)text, size, err);
    free(text);
    return result;
}

static int take_cicp(const struct carn_source *source, struct colour_chunks *colour,
                     const struct chunk *chunk, struct carn_error *err)
{
    if (chunk->size != 4)
        return 0;
    colour->cicp = true;
    memcpy(colour->code, chunk->data, 4);
    unsigned transfer = colour->code[1];
    if (transfer == CARN_TRANSFER_PQ || transfer == CARN_TRANSFER_HLG)
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "PNG in %s (high dynamic range) is not handled",
                            transfer == CARN_TRANSFER_PQ ? "PQ" : "HLG");
    return 0;
}

static void take_colour(struct colour_chunks *colour, const struct chunk *chunk)
{
    if (is_type(chunk->type, "sRGB"))
        colour->srgb = true;
    if (is_type(chunk->type, "gAMA") && chunk->size == 4 && carn_big_endian(chunk->data) > 0) {
        colour->gama = true;
        colour->gamma = 100000.0 / carn_big_endian(chunk->data);
    }
    if (is_type(chunk->type, "cHRM") && chunk->size == 32) {
        colour->chrm = true;
        for (size_t i = 0; i < 8; i++)
            colour->xy[i] = carn_big_endian(chunk->data + 4 * i) / 100000.0;
    }
}

/* The codes of ITU-T H.273 that stand for sRGB, or for primaries (x y of white, red, green, blue)
 * and a gamma; others are not handled. */
static bool read_codes(const unsigned char code[4], struct carn_colour *said)
{
    static const struct {
        unsigned char code;
        double xy[8];
    } primaries[] = {
        {1, CARN_XY_SRGB},
        {9, CARN_XY_BT2020},
        {12, CARN_XY_P3},
    };
    double gamma = code[1] == 4 ? 2.2 : code[1] == 5 ? 2.8 : code[1] == 8 ? 1 : 0;
    bool srgb = code[0] == 1 && code[1] == 13;
    if (code[2] != 0 || code[3] != 1)
        return false;
    for (size_t i = 0; i < sizeof primaries / sizeof primaries[0]; i++)
        if (primaries[i].code == code[0] && (srgb || gamma > 0)) {
            said->kind = srgb ? CARN_COLOUR_SRGB : CARN_COLOUR_PRIMARIES;
            said->gamma = gamma;
            memcpy(said->xy, primaries[i].xy, sizeof said->xy);
            return true;
        }
    return false;
}

/* iCCP before cICP before sRGB before cHRM and gAMA. A gamma alone goes with the primaries of sRGB,
 * primaries alone with the usual gamma. */
static int settle_colour(struct carn_source *source, const struct colour_chunks *colour,
                         struct carn_error *err)
{
    static const double srgb[8] = CARN_XY_SRGB;
    struct carn_colour *said = &source->colour;
    if (colour->icc || (colour->cicp && read_codes(colour->code, said)))
        return 0;
    if (colour->cicp)
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "PNG whose cICP says primaries %u, transfer %u, matrix %u, range %u "
                            "is not handled without a profile",
                            colour->code[0], colour->code[1], colour->code[2], colour->code[3]);
    if (!colour->srgb && !colour->gama && !colour->chrm)
        return 0;
    said->kind = colour->srgb ? CARN_COLOUR_SRGB : CARN_COLOUR_PRIMARIES;
    said->gamma = colour->gama ? colour->gamma : 2.2;
    memcpy(said->xy, colour->chrm ? colour->xy : srgb, sizeof said->xy);
    return 0;
}

static int take(struct carn_source *source, struct carn_frame *frame, struct chunk *chunk,
                struct colour_chunks *colour, struct carn_error *err)
{
    if (is_type(chunk->type, "iCCP")) {
        colour->icc = true;
        return take_icc(source, frame, chunk, err);
    }
    if (is_type(chunk->type, "eXIf"))
        return take_exif(source, frame, chunk, err);
    if (is_type(chunk->type, "pHYs"))
        return take_resolution(frame, chunk, err);
    if (is_type(chunk->type, "cICP"))
        return take_cicp(source, colour, chunk, err);
    if (is_type(chunk->type, "tEXt") || is_type(chunk->type, "iTXt") ||
        is_type(chunk->type, "zTXt"))
        return take_text(source, frame, chunk, err);
    take_colour(colour, chunk);
    return 0;
}

/* Critical chunks and transparency make the pixels, so their check sums must hold before a frame
 * begins. */
static bool is_pixels(const unsigned char *type)
{
    return (type[0] & 0x20) == 0 || is_type(type, "tRNS");
}

static int check_sum(const struct carn_source *source, uint64_t offset, size_t size,
                     unsigned char *block, struct carn_error *err)
{
    uint64_t at = offset + 4;
    uint32_t sum = 0;
    unsigned char type[4];
    unsigned char stored[4];
    for (size_t left = size + 4; left > 0;) {
        size_t part = left < CARN_BLOCK ? left : CARN_BLOCK;
        if (carn_source_at(source, at, block, part, "a PNG chunk", err) != 0)
            return -1;
        if (left == size + 4)
            memcpy(type, block, sizeof type);
        sum = carn_crc32(sum, block, part);
        at += part;
        left -= part;
    }
    if (carn_source_at(source, at, stored, sizeof stored, "a PNG chunk", err) != 0)
        return -1;
    if (sum == carn_big_endian(stored))
        return 0;
    return carn_fail_at(err, CARN_INPUT, source->label,
                        "PNG chunk %.4s at byte %ju is damaged (its check sum differs)",
                        (const char *)type, (uintmax_t)offset);
}

/* Reads one wanted chunk of size bytes whose length stands at offset, and takes what it says. */
static int read_chunk(struct carn_source *source, struct carn_frame *frame, uint64_t offset,
                      size_t size, struct colour_chunks *colour, struct carn_error *err)
{
    struct carn_source before = *source; /* counts it without keeping the count */
    if (carn_source_metadata(&before, size, err) != 0)
        return -1;
    unsigned char *raw = carn_alloc(size + 8, 1, err);
    struct chunk chunk = {.type = raw, .data = raw == NULL ? NULL : raw + 4, .size = size};
    if (raw == NULL || carn_source_at(source, offset + 4, raw, size + 8, "a PNG chunk", err) != 0) {
        free(raw);
        return -1;
    }
    int result;
    if (carn_crc32(0, raw, size + 4) != carn_big_endian(chunk.data + size)) {
        result =
            carn_fail_at(err, CARN_INPUT, source->label,
                         "PNG chunk %.4s is damaged (its check sum differs)", (const char *)raw);
    } else {
        result = take(source, frame, &chunk, colour, err);
    }
    free(raw);
    return result;
}

static int walk(struct carn_source *source, struct carn_frame *frame, unsigned char *block,
                struct carn_error *err)
{
    static const unsigned char signature[8] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n'};
    uint64_t at = sizeof signature;
    struct colour_chunks colour = {0};
    unsigned char found[sizeof signature];
    if (carn_source_at(source, 0, found, sizeof found, "the signature", err) != 0)
        return -1;
    if (memcmp(found, signature, sizeof found) != 0)
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "PNG damaged: its line ends were converted");
    for (size_t i = 0; i < CHUNKS_MOST; i++) {
        unsigned char head[8];
        if (carn_source_at(source, at, head, sizeof head, "a PNG chunk", err) != 0)
            return -1;
        uint32_t size = carn_big_endian(head);
        if (size > INT32_MAX)
            return carn_fail_at(err, CARN_INPUT, source->label,
                                "PNG chunk at byte %ju has an impossible size", (uintmax_t)at);
        uint64_t there = source->size - at < OVERHEAD ? 0 : source->size - at - OVERHEAD;
        if (size > there)
            return carn_fail_at(err, CARN_INPUT, source->label,
                                "PNG cut short: chunk %.4s at byte %ju has %ju of %ju bytes",
                                (const char *)head + 4, (uintmax_t)at, (uintmax_t)there,
                                (uintmax_t)size);
        if (is_pixels(head + 4) && check_sum(source, at, size, block, err) != 0)
            return -1;
        if (is_wanted(head + 4) && read_chunk(source, frame, at, size, &colour, err) != 0)
            return -1;
        if (is_type(head + 4, "IEND"))
            return settle_colour(source, &colour, err);
        at += (uint64_t)size + OVERHEAD;
    }
    return carn_fail_at(err, CARN_LIMIT, source->label, "PNG of more than %d chunks", CHUNKS_MOST);
}

int carn_png_chunks(struct carn_source *source, struct carn_frame *frame, struct carn_error *err)
{
    unsigned char *block = carn_alloc(CARN_BLOCK, 1, err);
    int result = block == NULL ? -1 : walk(source, frame, block, err);
    free(block);
    return result;
}

static int hex(char c)
{
    static const char digits[] = "0123456789abcdef";
    const char *at = c == '\0' ? NULL : strchr(digits, c | 0x20);
    return at == NULL ? -1 : (int)(at - digits);
}

unsigned char *carn_png_raw_profile(const char *text, size_t length, size_t *size,
                                    struct carn_error *err)
{
    /* Two lines, the kind and the size, come before the digits; the size is what the digits say. */
    size_t at = 0;
    for (int lines = 0; lines < 3 && at < length; at++)
        lines += text[at] == '\n';
    unsigned char *bytes = carn_alloc(length / 2 + 1, 1, err);
    int high = -1;
    *size = 0;
    for (; bytes != NULL && at < length; at++) {
        int digit = hex(text[at]);
        if (digit < 0)
            continue;
        if (high >= 0)
            bytes[(*size)++] = (unsigned char)(high << 4 | digit);
        high = high >= 0 ? -1 : digit;
    }
    return bytes;
}
