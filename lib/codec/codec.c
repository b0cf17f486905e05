#include "codec/codec.h"

#include "base/target.h"
#include "codec/format.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

const struct carn_limits carn_limits_default = {
    .pixels = 1000000000, .memory = UINT64_C(2) << 30, .metadata = UINT64_C(8) << 20};

static const struct carn_format *const formats[] = {&carn_format_png, &carn_format_tiff,
                                                    &carn_format_jpeg, &carn_format_pnm};
enum { FORMATS = sizeof formats / sizeof formats[0] };

struct carn_decoder {
    char *label;
    bool standard; /* input */
    struct carn_source source;
    const struct carn_format *format;
    void *state; /* the format's; NULL before the first picture */
    char origin[64];
};

/* What the formats share. */

const struct carn_format *carn_format_for(const char *suffix)
{
    size_t size = strlen(suffix);
    for (size_t f = 0; f < FORMATS && size > 0; f++)
        for (const char *at = formats[f]->suffixes; at != NULL; at = strchr(at, ' ')) {
            at += *at == ' ';
            if (strncasecmp(at, suffix, size) == 0 && (at[size] == ' ' || at[size] == '\0'))
                return formats[f];
        }
    return NULL;
}

void carn_note(struct carn_notes *notes, const char *kind, const char *format, ...)
{
    if (notes->count == sizeof notes->note / sizeof notes->note[0])
        return;
    va_list args;
    va_start(args, format);
    vsnprintf(notes->note[notes->count].text, sizeof notes->note[0].text, format, args);
    va_end(args);
    notes->note[notes->count++].kind = kind;
}

int carn_source_pixels(const struct carn_source *source, uint64_t width, uint64_t height,
                       struct carn_error *err)
{
    if (width == 0 || height == 0)
        return carn_fail_at(err, CARN_INPUT, source->label, "the picture has no pixels (%ju x %ju)",
                            (uintmax_t)width, (uintmax_t)height);
    if (width > source->limits.pixels / height)
        return carn_fail_at(err, CARN_LIMIT, source->label,
                            "%ju x %ju pixels are over the limit of %ju (--max-pixels)",
                            (uintmax_t)width, (uintmax_t)height, (uintmax_t)source->limits.pixels);
    /* A row of four samples of 16 bit must fit, however few there are of them. */
    return carn_source_hold(source, width > UINT64_MAX / 8 ? UINT64_MAX : width * 8, "a row", err);
}

int carn_source_hold(const struct carn_source *source, uint64_t bytes, const char *what,
                     struct carn_error *err)
{
    if (bytes <= source->limits.memory)
        return 0;
    return carn_fail_at(err, CARN_LIMIT, source->label,
                        "%s of %ju bytes is over the limit of %ju (--max-memory)", what,
                        (uintmax_t)bytes, (uintmax_t)source->limits.memory);
}

int carn_source_metadata(struct carn_source *source, uint64_t bytes, struct carn_error *err)
{
    if (bytes > source->limits.metadata - source->metadata)
        return carn_fail_at(err, CARN_LIMIT, source->label,
                            "%ju bytes of metadata are over the limit of %ju (--max-metadata)",
                            (uintmax_t)(source->metadata + bytes),
                            (uintmax_t)source->limits.metadata);
    source->metadata += bytes;
    return 0;
}

int carn_source_blob(struct carn_source *source, struct carn_frame *frame, const char *key,
                     const void *bytes, size_t size, struct carn_error *err)
{
    if (size == 0)
        return 0;
    if (carn_source_metadata(source, size, err) != 0)
        return -1;
    return carn_frame_set_blob(frame, key, bytes, size, err);
}

int carn_source_at(const struct carn_source *source, uint64_t offset, void *to, size_t size,
                   const char *what, struct carn_error *err)
{
    unsigned char *p = to;
    for (size_t done = 0; done < size;) {
        if (offset > (uint64_t)INT64_MAX - size)
            return carn_fail_at(err, CARN_INPUT, source->label, "%s lies outside the file", what);
        ssize_t got = pread(source->fd, p + done, size - done, (off_t)(offset + done));
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return carn_fail_at(err, CARN_SYSTEM, source->label, "cannot read: %s",
                                strerror(errno));
        if (got == 0)
            return carn_fail_at(err, CARN_INPUT, source->label,
                                "cut short: %s at byte %ju wants %zu bytes, %zu are there", what,
                                (uintmax_t)offset, size, done);
        done += (size_t)got;
    }
    return 0;
}

int carn_set_depth(struct carn_frame *frame, int depth, struct carn_error *err)
{
    return carn_frame_set(frame, "depth", depth > 8 ? "16" : "8", err);
}

int carn_set_orientation(struct carn_frame *frame, unsigned orientation, struct carn_error *err)
{
    char text[2] = {(char)('0' + orientation), '\0'};
    if (orientation < 1 || orientation > 8)
        return 0;
    return carn_frame_set(frame, "orientation", text, err);
}

unsigned carn_get_orientation(const struct carn_frame *frame)
{
    const char *value = carn_frame_get(frame, "orientation");
    bool good = value != NULL && value[0] >= '1' && value[0] <= '8' && value[1] == '\0';
    return good ? (unsigned)(value[0] - '0') : 1;
}

static const char *const units[] = {"none", "inch", "cm"};

/* Ten digits keep every PNG (whole pixels a metre) and every TIFF rational that means something. */
int carn_set_resolution(struct carn_frame *frame, const struct carn_resolution *resolution,
                        struct carn_error *err)
{
    if (!(resolution->x > 0 && resolution->y > 0 && resolution->x < 1e9 && resolution->y < 1e9))
        return 0;
    char text[80];
    snprintf(text, sizeof text, "%.10g %.10g %s", resolution->x, resolution->y,
             units[resolution->unit]);
    return carn_frame_set_text(frame, "resolution", text, err);
}

bool carn_get_resolution(const struct carn_frame *frame, struct carn_resolution *resolution)
{
    const char *value = carn_frame_get(frame, "resolution");
    char text[80] = "";
    char unit[8] = "";
    /* The only bytes that are escaped in it are its spaces. */
    for (size_t used = 0; value != NULL && *value != '\0' && used < sizeof text - 1; used++) {
        bool space = strncmp(value, "%20", 3) == 0;
        text[used] = space ? ' ' : *value;
        value += space ? 3 : 1;
    }
    if (sscanf(text, "%lf %lf %7s", &resolution->x, &resolution->y, unit) != 3 ||
        !(resolution->x > 0 && resolution->y > 0) || !isfinite(resolution->x) ||
        !isfinite(resolution->y))
        return false;
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (strcmp(unit, units[i]) == 0) {
            resolution->unit = (enum carn_unit)i;
            return true;
        }
    return false;
}

int carn_write_all(int fd, const void *from, size_t size, const char *label, struct carn_error *err)
{
    const char *p = from;
    while (size > 0) {
        ssize_t put = write(fd, p, size);
        if (put < 0 && errno == EINTR)
            continue;
        if (put < 0)
            return carn_fail_at(err, CARN_SYSTEM, label, "cannot write: %s", strerror(errno));
        p += put;
        size -= (size_t)put;
    }
    return 0;
}

void carn_widen_row(const unsigned char *from, uint16_t *to, size_t count)
{
    for (size_t i = 0; i < count; i++)
        to[i] = (uint16_t)(from[i] * 257);
}

static uint32_t big_endian(const unsigned char *p)
{
    return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3];
}

/* Opening: a descriptor that can seek, and which format it holds. */

static const struct carn_format *sniff(const unsigned char *head, size_t size)
{
    for (size_t f = 0; f < FORMATS; f++)
        for (size_t m = 0; m < 4 && formats[f]->magic[m] != NULL; m++)
            if (size >= formats[f]->magic_size &&
                memcmp(head, formats[f]->magic[m], formats[f]->magic_size) == 0)
                return formats[f];
    return NULL;
}

static int know(struct carn_decoder *decoder, const unsigned char *head, size_t size,
                struct carn_error *err)
{
    if (size == 0)
        return carn_fail_at(err, CARN_INPUT, decoder->label, "is empty");
    decoder->format = sniff(head, size);
    if (decoder->format == NULL)
        return carn_fail_at(err, CARN_INPUT, decoder->label,
                            "is no PNG, TIFF, JPEG, PNM or PAM file");
    return 0;
}

/* The rest of a stream, after head, into an unlinked temporary file that takes over the source. */
static int spool(struct carn_decoder *decoder, struct carn_in *in, const unsigned char *head,
                 size_t size, struct carn_error *err)
{
    int fd = carn_target_scratch(decoder->label, err);
    unsigned char *block = carn_alloc(CARN_BLOCK, 1, err);
    long got = (long)size;
    int result = fd < 0 || block == NULL ? -1 : 0;
    if (result == 0)
        memcpy(block, head, size);
    while (result == 0 && got > 0) {
        result = carn_write_all(fd, block, (size_t)got, decoder->label, err);
        decoder->source.size += (uint64_t)got;
        got = result == 0 ? carn_in_read(in, block, CARN_BLOCK, err) : 0;
        if (got < 0)
            result = -1;
    }
    free(block);
    if (result != 0 && fd >= 0)
        close(fd);
    if (result != 0)
        return -1;
    close(decoder->source.fd);
    decoder->source.fd = fd;
    return 0;
}

/* A pipe or a device. One byte can be looked at without taking it: enough to know PNM and PAM. */
static int open_stream(struct carn_decoder *decoder, struct carn_error *err)
{
    struct carn_in *in = carn_in_open(decoder->source.fd, decoder->label, err);
    if (in == NULL)
        return -1;
    int first = carn_in_peek(in, err);
    if (first == 'P') {
        decoder->format = &carn_format_pnm;
        decoder->source.in = in;
        return 0;
    }
    unsigned char head[8];
    long got = first == -2 ? -1 : carn_in_read(in, head, sizeof head, err);
    int result = got < 0 ? -1 : know(decoder, head, (size_t)got, err);
    if (result == 0)
        result = spool(decoder, in, head, (size_t)got, err);
    carn_in_close(in);
    return result;
}

static int open_source(struct carn_decoder *decoder, const char *path, struct carn_error *err)
{
    struct carn_source *source = &decoder->source;
    struct stat st;
    source->fd = decoder->standard ? fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 3)
                                   : open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
    if (source->fd < 0 || fstat(source->fd, &st) != 0)
        return carn_fail_at(err, CARN_SYSTEM, decoder->label, "cannot be opened: %s",
                            strerror(errno));
    if (S_ISDIR(st.st_mode))
        return carn_fail_at(err, CARN_INPUT, decoder->label, "is a folder");
    snprintf(decoder->origin, sizeof decoder->origin, "%ju %ju", (uintmax_t)st.st_dev,
             (uintmax_t)st.st_ino);
    if (!S_ISREG(st.st_mode))
        decoder->origin[0] = '\0';
    if (!S_ISREG(st.st_mode) || lseek(source->fd, 0, SEEK_CUR) != 0)
        return open_stream(decoder, err);
    source->size = (uint64_t)st.st_size;
    unsigned char head[8] = {0};
    size_t size = source->size < sizeof head ? (size_t)source->size : sizeof head;
    if (carn_source_at(source, 0, head, size, "the head", err) != 0 ||
        know(decoder, head, size, err) != 0)
        return -1;
    if (decoder->format == &carn_format_pnm) {
        source->in = carn_in_open(source->fd, decoder->label, err);
        return source->in == NULL ? -1 : 0;
    }
    return 0;
}

struct carn_decoder *carn_decoder_open(const char *path, const struct carn_limits *limits,
                                       struct carn_error *err)
{
    struct carn_decoder *decoder = carn_alloc(1, sizeof *decoder, err);
    if (decoder == NULL)
        return NULL;
    decoder->source.fd = -1;
    decoder->source.limits = limits != NULL ? *limits : carn_limits_default;
    decoder->standard = strcmp(path, "-") == 0;
    decoder->label = carn_copy(decoder->standard ? "<stdin>" : path, err);
    decoder->source.label = decoder->label;
    if (decoder->label == NULL || open_source(decoder, path, err) != 0) {
        carn_decoder_close(decoder);
        return NULL;
    }
    return decoder;
}

void carn_decoder_close(struct carn_decoder *decoder)
{
    if (decoder == NULL)
        return;
    if (decoder->state != NULL)
        decoder->format->read_close(decoder->state);
    carn_in_close(decoder->source.in);
    if (decoder->source.fd >= 0)
        close(decoder->source.fd);
    free(decoder->label);
    free(decoder);
}

/* Adds a file that the frame's pixels or metadata come from to those it names already. */
static int add_origin(struct carn_frame *frame, const char *origin, struct carn_error *err)
{
    char *before = carn_frame_text(frame, "origin", err);
    if (err->kind != CARN_NONE)
        return -1;
    char both[1024];
    int length = snprintf(both, sizeof both, "%s%s%s", before == NULL ? "" : before,
                          before == NULL ? "" : " ", origin);
    free(before);
    return carn_frame_set_text(frame, "origin", (size_t)length < sizeof both ? both : origin, err);
}

/* The file's base name, unless the stream it holds has a name of its own, and where it came from:
 * the file read, after the file that a saved stream was made of. */
static int set_labels(const struct carn_decoder *decoder, struct carn_frame *frame,
                      struct carn_error *err)
{
    const char *slash = strrchr(decoder->label, '/');
    const char *base = slash == NULL ? decoder->label : slash + 1;
    if (carn_frame_get(frame, "name") == NULL && !decoder->standard && base[0] != '\0' &&
        carn_frame_set_text(frame, "name", base, err) != 0)
        return -1;
    return decoder->origin[0] == '\0' ? 0 : add_origin(frame, decoder->origin, err);
}

int carn_codec_put_back(struct carn_frame *frame, const struct carn_frame *original,
                        struct carn_error *err)
{
    static const char *const keys[] = {"depth", "alpha", "resolution", "orientation", "compression",
                                       "icc",   "exif",  "xmp",        "iptc"};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        const char *value = carn_frame_get(original, keys[i]);
        bool fits = (strcmp(keys[i], "alpha") != 0 || frame->alpha) &&
                    (strcmp(keys[i], "icc") != 0 || frame->colours == original->colours);
        if (value != NULL && fits && carn_frame_set(frame, keys[i], value, err) != 0)
            return -1;
    }
    const char *name = carn_frame_get(original, "name");
    if (carn_frame_get(frame, "name") == NULL && name != NULL &&
        carn_frame_set(frame, "name", name, err) != 0)
        return -1;
    char *origin = carn_frame_text(original, "origin", err);
    int result = origin == NULL ? 0 : add_origin(frame, origin, err);
    free(origin);
    return err->kind != CARN_NONE ? -1 : result;
}

/* What a profile says of itself (ICC.1: the colour space, and the cicp tag of ITU-T H.273). */
static int check_profile(struct carn_source *source, const struct carn_frame *frame,
                         struct carn_error *err)
{
    size_t size = 0;
    unsigned char *icc = carn_frame_blob(frame, "icc", &size, err);
    if (icc == NULL)
        return err->kind == CARN_NONE ? 0 : -1;
    const char *space = frame->colours == 1 ? "GRAY" : "RGB ";
    uint64_t tags = size < 132 ? 0 : big_endian(icc + 128);
    unsigned transfer = 0;
    for (size_t at = 132; tags > 0 && at <= size - 12; at += 12, tags--) {
        uint64_t offset = big_endian(icc + at + 4);
        if (memcmp(icc + at, "cicp", 4) == 0 && size >= 12 && offset <= size - 12)
            transfer = icc[offset + 9];
    }
    if (size >= 132 && memcmp(icc + 16, space, 4) != 0)
        carn_note(&source->notes, "profile", "%s: its profile is for other colours ('%.4s')",
                  source->label, (const char *)icc + 16);
    free(icc);
    if (transfer == CARN_TRANSFER_PQ || transfer == CARN_TRANSFER_HLG)
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "its profile says %s (high dynamic range), which is not handled",
                            transfer == CARN_TRANSFER_PQ ? "PQ" : "HLG");
    return 0;
}

int carn_decoder_next(struct carn_decoder *decoder, struct carn_frame *frame,
                      struct carn_error *err)
{
    struct carn_source *source = &decoder->source;
    source->metadata = 0;
    source->notes.count = 0;
    source->colour.kind = CARN_COLOUR_UNSAID;
    int more = 1;
    if (decoder->state == NULL) {
        carn_frame_clear(frame);
        decoder->state = decoder->format->read_open(source, frame, err);
        if (decoder->state == NULL)
            return -1;
        if (decoder->format->read_more == NULL && check_profile(source, frame, err) != 0)
            return -1;
        frame->maxval = 65535;
        frame->rows_left = frame->height;
    } else if (decoder->format->read_more == NULL) {
        return 0;
    }
    if (decoder->format->read_more != NULL)
        more = decoder->format->read_more(decoder->state, frame, err);
    if (more == 1 && set_labels(decoder, frame, err) != 0)
        return -1;
    return more;
}

int carn_decoder_read(struct carn_decoder *decoder, struct carn_frame *frame, uint16_t *row,
                      struct carn_error *err)
{
    if (frame->rows_left == 0)
        return carn_fail_at(err, CARN_USAGE, decoder->label, "a row past the last was asked for");
    int result = decoder->format->read_row(decoder->state, row, err);
    if (result == 0 && decoder->format->read_more == NULL)
        frame->rows_left--; /* the stream's own reader has counted already */
    return result;
}

const struct carn_notes *carn_decoder_notes(const struct carn_decoder *decoder)
{
    return &decoder->source.notes;
}

const struct carn_colour *carn_decoder_colour(const struct carn_decoder *decoder)
{
    return &decoder->source.colour;
}

int carn_codec_header(const char *path, const struct carn_limits *limits, struct carn_frame *frame,
                      struct carn_error *err)
{
    struct carn_decoder *decoder = carn_decoder_open(path, limits, err);
    if (decoder == NULL)
        return -1;
    int got = carn_decoder_next(decoder, frame, err);
    if (got == 0)
        carn_fail_at(err, CARN_INPUT, decoder->label, "holds no picture");
    carn_decoder_close(decoder);
    return got == 1 ? 0 : -1;
}
