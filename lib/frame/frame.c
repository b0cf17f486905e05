#include "frame/frame.h"

#include "frame/keys.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    LINE = 76,                      /* bytes of a header line with its newline */
    KEY = 60,                       /* bytes of a key's name */
    KEYS = 1000,                    /* of a frame; each new one is compared with all before it */
    HEADER_LIMIT = 16 * 1024 * 1024 /* bytes of a whole header */
};

/* No frame has more samples in a row; it keeps every product below within 64 bits. */
static const size_t ROW_LIMIT = (size_t)1 << 27;

size_t carn_frame_channels(const struct carn_frame *frame)
{
    return frame->colours + frame->alpha + frame->weight;
}

/* ---- reading a header ---- */

/* A header being read: what is in it so far, and how much of it may follow. */
struct header {
    struct carn_in *in;
    struct carn_frame *frame;
    struct carn_error *err;
    size_t left; /* bytes that may still come */
    size_t limit;
    size_t channels; /* DEPTH, 0 while unknown */
    char tupltype[128];
    char *value; /* of the last key, growing by #@+ lines */
    size_t value_size, value_room;
    char *key;
};

/* What a message about the frame begins with. */
static const char *called(const struct carn_frame *frame, const struct carn_in *in)
{
    return frame->label != NULL && frame->label[0] != '\0' ? frame->label : carn_in_label(in);
}

static int header_byte(struct header *h)
{
    if (h->left == 0)
        return carn_fail_at(h->err, CARN_LIMIT, called(h->frame, h->in),
                            "frame header is longer than %zu bytes", h->limit);
    int c = carn_in_byte(h->in, h->err);
    if (c == -1)
        return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                            "cut short in the frame header");
    h->left--;
    return c < 0 ? -1 : c;
}

static int number_token(struct header *h, const char *what, const char *token, size_t *value)
{
    char *end = NULL;
    errno = 0;
    unsigned long long v = isdigit((unsigned char)token[0]) ? strtoull(token, &end, 10) : 0;
    if (end == NULL || *end != '\0' || errno != 0 || v == 0 || v > ROW_LIMIT)
        return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                            "%s is '%.40s', not a number from 1 to %zu", what, token, ROW_LIMIT);
    *value = (size_t)v;
    return 0;
}

/* Ends the key that #@ and #@+ lines have been collecting. */
static int close_key(struct header *h)
{
    if (h->key == NULL)
        return 0;
    if (h->frame->key_count == KEYS)
        return carn_fail_at(h->err, CARN_LIMIT, called(h->frame, h->in),
                            "more than %d keys in the frame header", KEYS);
    if (carn_frame_get(h->frame, h->key) != NULL)
        return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                            "the key '%s' stands twice in the frame header", h->key);
    int rc = carn_frame_add(h->frame, h->key, h->value, h->err);
    h->key = h->value = NULL;
    return rc;
}

static int append_value(struct header *h, const char *more)
{
    size_t size = strlen(more);
    if (h->value_size + size + 1 > h->value_room) {
        size_t room = (h->value_room + size + 1) * 2;
        char *grown = carn_grow(h->value, room, 1, h->err);
        if (grown == NULL)
            return -1;
        h->value = grown;
        h->value_room = room;
    }
    if (h->value != NULL)
        memcpy(h->value + h->value_size, more, size + 1);
    h->value_size += size;
    return 0;
}

static int key_line(struct header *h, char *line)
{
    if (line[2] == '+') {
        if (h->key == NULL)
            return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                                "a #@+ line continues no key");
        return append_value(h, line[3] == ' ' ? line + 4 : line + 3);
    }
    if (close_key(h) != 0)
        return -1;
    char *key = line + 3;
    char *space = strchr(key, ' ');
    if (space == NULL || space == key)
        return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                            "'%.60s' is not '#@ KEY VALUE'", line);
    *space = '\0';
    if (strlen(key) > KEY)
        return carn_fail_at(h->err, CARN_LIMIT, called(h->frame, h->in),
                            "the key '%.70s' is longer than %d bytes", key, KEY);
    h->key = carn_copy(key, h->err);
    h->value_size = h->value_room = 0;
    return h->key == NULL ? -1 : append_value(h, space + 1);
}

/* One line without its newline; anything longer than size is only allowed in a comment. */
static int header_line(struct header *h, char *line, size_t size)
{
    size_t used = 0;
    for (;;) {
        int c = header_byte(h);
        if (c < 0)
            return -1;
        if (c == '\n')
            break;
        if (used + 1 < size)
            line[used++] = (char)c;
        else if (line[0] != '#' || (line[1] == '@' && used > 1))
            return carn_fail_at(h->err, CARN_LIMIT, called(h->frame, h->in),
                                "a frame header line is longer than %zu bytes", size);
    }
    line[used] = '\0';
    return 0;
}

/* One line of a P7 header that is no comment: 1 after ENDHDR. */
static int pam_field(struct header *h, char *line, size_t *maxval)
{
    char *word = strtok(line, " \t\r\f\v");
    if (word == NULL)
        return 0;
    if (strcmp(word, "ENDHDR") == 0)
        return 1;
    char *rest = strtok(NULL, "");
    rest = rest != NULL ? rest + strspn(rest, " \t\r\f\v") : line + strlen(line);
    for (size_t n = strlen(rest); n > 0 && isspace((unsigned char)rest[n - 1]); n--)
        rest[n - 1] = '\0';
    if (strcmp(word, "WIDTH") == 0)
        return number_token(h, "WIDTH", rest, &h->frame->width);
    if (strcmp(word, "HEIGHT") == 0)
        return number_token(h, "HEIGHT", rest, &h->frame->height);
    if (strcmp(word, "DEPTH") == 0)
        return number_token(h, "DEPTH", rest, &h->channels);
    if (strcmp(word, "MAXVAL") == 0)
        return number_token(h, "MAXVAL", rest, maxval);
    if (strcmp(word, "TUPLTYPE") != 0)
        return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                            "unknown word '%.40s' in the frame header", word);
    if (strlen(h->tupltype) + strlen(rest) + 2 > sizeof h->tupltype)
        return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in), "TUPLTYPE is too long");
    if (h->tupltype[0] != '\0') /* the specification joins repeated lines with a space */
        strcat(h->tupltype, " ");
    strcat(h->tupltype, rest);
    return 0;
}

/* What the channels are, from TUPLTYPE, or from DEPTH alone where there is none. */
static int tuple(struct header *h)
{
    static const struct {
        const char *name;
        size_t channels, colours;
        bool alpha, weight;
    } known[] = {
        {"", 1, 1, false, false},
        {"", 2, 1, true, false},
        {"", 3, 3, false, false},
        {"", 4, 3, true, false},
        {"BLACKANDWHITE", 1, 1, false, false},
        {"BLACKANDWHITE_ALPHA", 2, 1, true, false},
        {"GRAYSCALE", 1, 1, false, false},
        {"GRAYSCALE_ALPHA", 2, 1, true, false},
        {"GRAYSCALE_WEIGHT", 2, 1, false, true},
        {"GRAYSCALE_ALPHA_WEIGHT", 3, 1, true, true},
        {"RGB", 3, 3, false, false},
        {"RGB_ALPHA", 4, 3, true, false},
        {"RGB_WEIGHT", 4, 3, false, true},
        {"RGB_ALPHA_WEIGHT", 5, 3, true, true},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (strcmp(known[i].name, h->tupltype) == 0 && known[i].channels == h->channels) {
            h->frame->colours = known[i].colours;
            h->frame->alpha = known[i].alpha;
            h->frame->weight = known[i].weight;
            return 0;
        }
    }
    return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                        "TUPLTYPE '%s' with DEPTH %zu is not one of RGB, RGB_ALPHA, "
                        "GRAYSCALE, GRAYSCALE_ALPHA, BLACKANDWHITE",
                        h->tupltype, h->channels);
}

static int pam_header(struct header *h)
{
    char line[256] = "";
    size_t maxval = 0;
    int end = 0;
    while (end == 0) {
        if (header_line(h, line, sizeof line) != 0)
            return -1;
        if (strncmp(line, "#@ ", 3) == 0 || strncmp(line, "#@+", 3) == 0)
            end = key_line(h, line);
        else if (line[0] != '#')
            end = pam_field(h, line, &maxval);
    }
    if (end < 0 || close_key(h) != 0)
        return -1;
    const struct carn_frame *frame = h->frame;
    if (frame->width == 0 || frame->height == 0 || h->channels == 0 || maxval == 0)
        return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                            "the frame header has no %s",
                            frame->width == 0    ? "WIDTH"
                            : frame->height == 0 ? "HEIGHT"
                            : h->channels == 0   ? "DEPTH"
                                                 : "MAXVAL");
    h->frame->maxval = (unsigned)(maxval > 65536 ? 65536 : maxval);
    return tuple(h);
}

/* A number of a P4, P5 or P6 header, after white space and comments; takes the one white space
 * character that follows it. */
static int pnm_number(struct header *h, const char *what, size_t *value)
{
    char token[32];
    size_t used = 0;
    for (;;) {
        int c = header_byte(h);
        if (c < 0)
            return -1;
        if (c == '#') {
            while (c >= 0 && c != '\n')
                c = header_byte(h);
            if (c < 0)
                return -1;
        }
        if (isspace(c)) {
            if (used > 0)
                break;
            continue;
        }
        if (used + 1 == sizeof token)
            break;
        token[used++] = (char)c;
    }
    token[used] = '\0';
    return number_token(h, what, token, value);
}

static int pnm_header(struct header *h, int kind)
{
    size_t maxval = 1;
    if (pnm_number(h, "the width", &h->frame->width) != 0 ||
        pnm_number(h, "the height", &h->frame->height) != 0 ||
        (kind != '4' && pnm_number(h, "the maximum value", &maxval) != 0))
        return -1;
    h->frame->colours = kind == '6' ? 3 : 1;
    h->frame->bitmap = kind == '4';
    h->frame->maxval = (unsigned)(maxval > 65536 ? 65536 : maxval);
    return 0;
}

static int read_header(struct header *h)
{
    int kind = header_byte(h);
    if (kind < 0)
        return -1;
    if (kind == '7') {
        int newline = header_byte(h);
        if (newline == '\r')
            newline = header_byte(h);
        if (newline < 0)
            return -1;
        if (newline != '\n')
            return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                                "P7 is not followed by a new line");
        return pam_header(h);
    }
    if (kind >= '4' && kind <= '6')
        return pnm_header(h, kind);
    return carn_fail_at(h->err, CARN_INPUT, called(h->frame, h->in),
                        "not a frame stream (PAM, or binary PBM, PGM, PPM)");
}

int carn_frame_next(struct carn_in *in, struct carn_frame *frame, size_t limit,
                    struct carn_error *err)
{
    if (frame->rows_left > 0)
        return carn_fail_at(err, CARN_USAGE, carn_in_label(in),
                            "%zu rows of the frame before were not read", frame->rows_left);
    carn_frame_clear(frame);
    int c = carn_in_byte(in, err);
    if (c == -1 && !carn_in_started(in))
        return carn_fail_at(err, CARN_INPUT, carn_in_label(in), "empty, there is no frame");
    if (c < 0)
        return c == -1 ? 0 : -1;
    struct header h = {.in = in, .frame = frame, .err = err};
    h.limit = h.left = limit > 0 ? limit : HEADER_LIMIT;
    if (c != 'P')
        return carn_fail_at(err, CARN_INPUT, called(frame, in),
                            "not a frame stream where a frame should begin (PAM, or binary "
                            "PBM, PGM, PPM)");
    int rc = read_header(&h);
    free(h.key);
    free(h.value);
    if (rc != 0)
        return -1;
    if (frame->maxval > 65535)
        return carn_fail_at(err, CARN_INPUT, called(frame, in), "MAXVAL is over 65535");
    if (frame->width > ROW_LIMIT / carn_frame_channels(frame))
        return carn_fail_at(err, CARN_LIMIT, called(frame, in), "a row of %zu pixels is too long",
                            frame->width);
    if (carn_frame_get(frame, "depth") == NULL &&
        carn_frame_set_depth(frame, carn_frame_depth(frame), err) != 0)
        return -1;
    if (carn_frame_check(frame, called(frame, in), err) != 0)
        return -1;
    frame->rows_left = frame->height;
    return 1;
}

/* ---- rows ---- */

/* v of 0..maxval to 0..65535: round(v * 65535 / maxval). */
static uint16_t widen(unsigned v, unsigned maxval)
{
    return (uint16_t)((v * 65535ULL + maxval / 2) / maxval);
}

/* Big end first on the stream; a swap is a loop that compilers turn into vector code. */
static uint16_t big_end(uint16_t v)
{
#if __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
    return (uint16_t)(v << 8 | v >> 8);
#else
    return v;
#endif
}

static int cut_short(const struct carn_frame *frame, const struct carn_in *in, size_t row_bytes,
                     size_t got, struct carn_error *err)
{
    return carn_fail_at(err, CARN_INPUT, called(frame, in),
                        "frame cut short in row %zu of %zu, %zu bytes are missing",
                        frame->height - frame->rows_left + 1, frame->height,
                        row_bytes * frame->rows_left - got);
}

static int widen_row(const struct carn_frame *frame, const struct carn_in *in, uint16_t *row,
                     size_t samples, struct carn_error *err)
{
    unsigned high = 0;
    for (size_t i = 0; i < samples; i++)
        high = row[i] > high ? row[i] : high;
    if (high > frame->maxval) {
        return carn_fail_at(err, CARN_INPUT, called(frame, in),
                            "a sample of %u is over the frame's MAXVAL of %u", high, frame->maxval);
    }
    for (size_t i = 0; i < samples; i++)
        row[i] = widen(row[i], frame->maxval);
    return 0;
}

int carn_frame_read(struct carn_in *in, struct carn_frame *frame, uint16_t *row,
                    struct carn_error *err)
{
    size_t samples = frame->width * carn_frame_channels(frame);
    size_t bytes = frame->bitmap         ? (frame->width + 7) / 8
                   : frame->maxval > 255 ? samples * 2
                                         : samples;
    if (frame->rows_left == 0)
        return carn_fail_at(err, CARN_USAGE, carn_in_label(in), "a row past the end of the frame");
    unsigned char *raw = (unsigned char *)row;
    long got = carn_in_read(in, raw, bytes, err);
    if (got < 0)
        return -1;
    if ((size_t)got < bytes)
        return cut_short(frame, in, bytes, (size_t)got, err);
    frame->rows_left--;
    /* In place: from the end where samples grow, so that none is overwritten unread. */
    if (frame->bitmap) {
        for (size_t x = frame->width; x-- > 0;)
            row[x] = raw[x / 8] >> (7 - x % 8) & 1 ? 0 : 65535;
        return 0;
    }
    if (frame->maxval > 255) {
        for (size_t i = 0; i < samples; i++)
            row[i] = big_end(row[i]);
    } else {
        for (size_t i = samples; i-- > 0;)
            row[i] = raw[i];
    }
    return frame->maxval == 65535 ? 0 : widen_row(frame, in, row, samples, err);
}

/* ---- writing ---- */

static int write_key(struct carn_out *out, const struct carn_key *key, struct carn_error *err)
{
    const char *value = key->value;
    char start[LINE];
    if (strlen(key->key) > KEY)
        return carn_fail(err, CARN_LIMIT, "the key '%s' is longer than %d bytes", key->key, KEY);
    snprintf(start, sizeof start, "#@ %s ", key->key);
    do {
        size_t used = strlen(start);
        size_t part = strlen(value);
        if (part > LINE - 1 - used)
            part = LINE - 1 - used;
        if (carn_out_write(out, start, used, err) != 0 ||
            carn_out_write(out, value, part, err) != 0 || carn_out_write(out, "\n", 1, err) != 0)
            return -1;
        value += part;
        strcpy(start, "#@+ ");
    } while (*value != '\0');
    return 0;
}

int carn_frame_begin(struct carn_out *out, const struct carn_frame *frame, bool bare,
                     struct carn_error *err)
{
    if (carn_out_write(out, "P7\n", 3, err) != 0)
        return -1;
    for (size_t i = 0; !bare && i < frame->key_count; i++)
        if (write_key(out, &frame->keys[i], err) != 0)
            return -1;
    char text[256];
    int size = snprintf(text, sizeof text,
                        "WIDTH %zu\nHEIGHT %zu\nDEPTH %zu\nMAXVAL 65535\n"
                        "TUPLTYPE %s%s%s\nENDHDR\n",
                        frame->width, frame->height, carn_frame_channels(frame),
                        frame->colours == 3 ? "RGB" : "GRAYSCALE", frame->alpha ? "_ALPHA" : "",
                        frame->weight ? "_WEIGHT" : "");
    return carn_out_write(out, text, (size_t)size, err);
}

int carn_frame_write(struct carn_out *out, const struct carn_frame *frame, const uint16_t *row,
                     struct carn_error *err)
{
    size_t samples = frame->width * carn_frame_channels(frame);
    uint16_t part[4096];
    for (size_t done = 0; done < samples;) {
        size_t count = samples - done < 4096 ? samples - done : 4096;
        for (size_t i = 0; i < count; i++)
            part[i] = big_end(row[done + i]);
        if (carn_out_write(out, part, count * 2, err) != 0)
            return -1;
        done += count;
    }
    return 0;
}
