/* The frame stream: read, and what was read written and read again. */
#include "fuzz.h"

#include "base/io.h"
#include "frame/keys.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MOST = 60000, FRAMES = 8, LIMIT = 1 << 20 };

/* Everything that a program asks of a frame. */
static void ask(const struct carn_frame *frame)
{
    struct carn_resolution resolution;
    (void)carn_frame_name(frame);
    (void)carn_frame_depth(frame);
    (void)carn_frame_associated(frame);
    unsigned way = carn_frame_orientation(frame);
    fuzz_must(way >= 1 && way <= 8, "an orientation is 1 to 8");
    if (carn_frame_resolution(frame, &resolution))
        fuzz_must(resolution.x > 0 && resolution.y > 0, "a resolution is over 0");
    for (size_t i = 0; i < frame->key_count; i++) {
        struct carn_error err = {0}, other = {0};
        size_t size = 0;
        const char *key = frame->keys[i].key;
        fuzz_must(carn_frame_get(frame, key) == frame->keys[i].value, "a key stands once");
        free(carn_frame_text(frame, key, &err));
        free(carn_frame_blob(frame, key, &size, &other));
    }
}

/* Is what was written, and stands in the file, the frame and its rows? */
static void check(int fd, const struct carn_frame *frame, const uint16_t *rows)
{
    struct carn_error err = {0};
    struct carn_frame again = {0};
    size_t samples = frame->width * carn_frame_channels(frame);
    uint16_t *row = calloc(samples, sizeof *row);
    struct carn_in *in = carn_in_open(fd, "again", &err);
    fuzz_must(in != NULL && row != NULL && carn_frame_next(in, &again, 0, &err) == 1,
              "a frame written is read");
    fuzz_must(again.width == frame->width && again.height == frame->height &&
                  again.colours == frame->colours && again.alpha == frame->alpha &&
                  again.weight == frame->weight && again.key_count == frame->key_count,
              "its size and keys are the same");
    for (size_t i = 0; i < frame->key_count; i++)
        fuzz_must(strcmp(again.keys[i].key, frame->keys[i].key) == 0 &&
                      strcmp(again.keys[i].value, frame->keys[i].value) == 0,
                  "a key is the same");
    for (size_t y = 0; y < frame->height; y++)
        fuzz_must(carn_frame_read(in, &again, row, &err) == 0 &&
                      memcmp(row, rows + y * samples, samples * sizeof *row) == 0,
                  "a row is the same");
    fuzz_must(carn_frame_next(in, &again, 0, &err) == 0, "then the stream ends");
    carn_in_close(in);
    carn_frame_clear(&again);
    free(row);
}

/* The frame's rows, and out of the file again; false when they were cut short. */
static bool through(struct carn_in *in, struct carn_frame *frame)
{
    struct carn_error err = {0};
    size_t samples = frame->width * carn_frame_channels(frame);
    if (frame->width > MOST || frame->height > MOST / samples)
        return false;
    uint16_t *rows = calloc(samples * frame->height, sizeof *rows);
    int rc = rows == NULL ? -1 : 0;
    for (size_t y = 0; rc == 0 && y < frame->height; y++)
        rc = carn_frame_read(in, frame, rows + y * samples, &err);
    if (rc == 0) {
        int fd = fuzz_fd(1, "", 0), to = dup(fd);
        struct carn_out *out = carn_out_open(to, "out", &err);
        fuzz_must(out != NULL && carn_frame_begin(out, frame, false, &err) == 0,
                  "a frame read can be written");
        for (size_t y = 0; y < frame->height; y++)
            carn_frame_write(out, frame, rows + y * samples, &err);
        fuzz_must(carn_out_finish(out, &err) == 0 && lseek(fd, 0, SEEK_SET) == 0,
                  "its rows can be written");
        carn_out_close(out);
        check(fd, frame, rows);
    }
    free(rows);
    return rc == 0;
}

void fuzz_stream(const uint8_t *data, size_t size)
{
    struct carn_error err = {0};
    struct carn_frame frame = {0};
    struct carn_in *in = carn_in_open(fuzz_fd(0, data, size), "in", &err);
    int more = in == NULL ? -1 : 1;
    for (int i = 0; more == 1 && i < FRAMES; i++) {
        more = carn_frame_next(in, &frame, LIMIT, &err);
        fuzz_must(more >= 0 || err.kind != CARN_NONE, "a frame is refused with a message");
        if (more == 1) {
            ask(&frame);
            more = through(in, &frame) ? 1 : -1;
        }
    }
    carn_frame_clear(&frame);
    carn_in_close(in);
}

/* ---- inputs with a header's structure ---- */

static unsigned draw(unsigned *state, unsigned below)
{
    *state = *state * 1664525u + 1013904223u;
    return (*state >> 8) % below;
}

static const char *const names[] = {"name",        "depth", "alpha",    "resolution", "orientation",
                                    "full",        "icc",   "smoothed", "origin",     "subject",
                                    "compression", "exif",  "camera",   "xmp",        "iptc"};
static const char *const values[] = {"",
                                     "8",
                                     "16",
                                     "0",
                                     "-1",
                                     "6",
                                     "9",
                                     "straight",
                                     "a%20b",
                                     "%00",
                                     "%",
                                     "%C3%A9",
                                     "associated",
                                     "%zz",
                                     "300%20300%20inch",
                                     "..",
                                     "%2Fetc",
                                     "10%201e9%20cm",
                                     "1e999",
                                     "nan%20nan%20none",
                                     "5 5",
                                     "4000 3000",
                                     "AAAA",
                                     "SUkqAAgAAAA=",
                                     "===="};
static const char *const kinds[] = {"RGB",        "RGB_ALPHA",       "GRAYSCALE",
                                    "RGB_WEIGHT", "GRAYSCALE_ALPHA", "RGB_ALPHA_WEIGHT",
                                    "",           "BLACKANDWHITE",   "BLACKANDWHITE_ALPHA"};
static const unsigned depths[] = {3, 4, 1, 4, 2, 5, 3, 1, 2};
static const unsigned maxvals[] = {65535, 255, 1, 256, 1000};

/* Replaces cut bytes at at by text. */
static size_t splice(uint8_t *data, size_t size, size_t room, size_t at, size_t cut,
                     const char *text)
{
    size_t length = strlen(text);
    if (at > size || cut > size - at || size - cut + length > room)
        return size;
    memmove(data + at + length, data + at + cut, size - at - cut);
    memcpy(data + at, text, length);
    return size - cut + length;
}

/* Where the line around at begins, and how long it is with its newline. */
static size_t line_of(const uint8_t *data, size_t size, size_t at, size_t *length)
{
    size_t from = at, to = at;
    while (from > 0 && data[from - 1] != '\n')
        from--;
    while (to < size && data[to] != '\n')
        to++;
    *length = to < size ? to + 1 - from : to - from;
    return from;
}

static size_t header_size(const uint8_t *data, size_t size)
{
    for (size_t i = 0; i + 7 <= size; i++)
        if (memcmp(data + i, "ENDHDR\n", 7) == 0)
            return i + 7;
    return size;
}

/* A sound frame, of one key and as many zero bytes as it needs. */
static size_t fresh(uint8_t *data, size_t room, unsigned *state)
{
    char text[400];
    unsigned kind = draw(state, 9), maxval = maxvals[draw(state, 5)];
    unsigned width = 1 + draw(state, 9), height = 1 + draw(state, 3);
    char type[40] = "";
    if (kinds[kind][0] != '\0')
        snprintf(type, sizeof type, "TUPLTYPE %s\n", kinds[kind]);
    if (kind > 6)
        maxval = 1;
    int head = snprintf(
        text, sizeof text, "P7\n#@ %s %s\nWIDTH %u\nHEIGHT %u\nDEPTH %u\nMAXVAL %u\n%sENDHDR\n",
        names[draw(state, 15)], values[draw(state, 25)], width, height, depths[kind], maxval, type);
    size_t rows = (size_t)width * height * depths[kind] * (maxval > 255 ? 2 : 1);
    if ((size_t)head + rows > room)
        return 0;
    memcpy(data, text, (size_t)head);
    memset(data + head, 0, rows);
    return (size_t)head + rows;
}

size_t fuzz_stream_mutate(uint8_t *data, size_t size, size_t room, unsigned seed)
{
    unsigned state = seed;
    char text[200];
    size_t head = header_size(data, size), length = 0;
    size_t at = head > 0 ? line_of(data, head, draw(&state, (unsigned)head), &length) : 0;
    switch (draw(&state, 12)) {
    case 0: /* a key more */
        snprintf(text, sizeof text, "#@ %s %s\n", names[draw(&state, 15)],
                 values[draw(&state, 25)]);
        return splice(data, size, room, at, 0, text);
    case 1: /* a line that goes on */
        snprintf(text, sizeof text, "#@+ %s\n", values[draw(&state, 25)]);
        return splice(data, size, room, at + length, 0, text);
    case 2: /* a line less */
        return splice(data, size, room, at, length, "");
    case 3: /* a line twice */
        if (length < sizeof text && length > 0) {
            memcpy(text, data + at, length);
            text[length] = '\0';
            return splice(data, size, room, at, 0, text);
        }
        break;
    case 4: /* a key broken in two lines */
        if (length > 6 && data[at] == '#')
            return splice(data, size, room, at + 5 + draw(&state, (unsigned)length - 6), 0,
                          "\n#@+ ");
        break;
    case 5: /* another value */
        if (length > 4 && data[at] == '#') {
            size_t skip = 3;
            while (skip + 1 < length && data[at + skip] != ' ')
                skip++;
            return splice(data, size, room, at + skip, length - skip - 1, values[draw(&state, 25)]);
        }
        break;
    case 6: /* a frame after it, or another in its place */
        length = fresh(data + size, room - size, &state);
        return length > 0 ? size + length : size;
    case 7:
        length = fresh(data, room, &state);
        return length > 0 ? length : size;
    case 8: /* another size */
        snprintf(text, sizeof text, "%s %u\n",
                 (const char *const[]){"WIDTH", "HEIGHT", "DEPTH", "MAXVAL"}[draw(&state, 4)],
                 draw(&state, 3) > 0 ? draw(&state, 6) : maxvals[draw(&state, 5)] + 1);
        return splice(data, size, room, at, length, text);
    case 9: /* the bytes of the rows */
        if (size > head)
            return head + LLVMFuzzerMutate(data + head, size - head, room - head);
        break;
    default:
        break;
    }
    return LLVMFuzzerMutate(data, size, room);
}
