#include "codec/codec.h"

#include "base/target.h"
#include "codec/format.h"
#include "codec/formats.h"
#include "frame/keys.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

const struct carn_limits carn_limits_default = {
    .pixels = 1000000000, .memory = UINT64_C(2) << 30, .metadata = UINT64_C(8) << 20};

struct carn_decoder {
    char *label;
    bool standard; /* input */
    struct carn_source source;
    const struct carn_format *format;
    void *state; /* the format's; NULL before the first picture */
    char origin[64];
};

/* ---- opening: a descriptor that can seek, and which format it holds ---- */

static int know(struct carn_decoder *decoder, const unsigned char *head, size_t size,
                struct carn_error *err)
{
    if (size == 0)
        return carn_fail_at(err, CARN_INPUT, decoder->label, "is empty");
    decoder->format = carn_format_of(head, size);
    if (decoder->format != NULL)
        return 0;
    const char *way = NULL;
    const char *words = carn_format_foreign(head, size, &way);
    if (words == NULL)
        return carn_fail_at(err, CARN_INPUT, decoder->label,
                            "is no PNG, TIFF, JPEG, PNM or PAM file");
    return carn_fail_at(err, CARN_INPUT, decoder->label,
                        "is %s, which is not read; make a TIFF, PNG or PAM of it%s%s", words,
                        way != NULL ? ": " : "", way != NULL ? way : "");
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
    unsigned char head[CARN_MAGIC];
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
    unsigned char head[CARN_MAGIC] = {0};
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

/* Adds a source file to the frame's key origin. */
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

/* Sets the key name to the file's base name, unless the file is a saved stream with a name of its
 * own; and adds the file to origin, after what a saved stream names there. */
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
    uint64_t tags = size < 132 ? 0 : carn_big_endian(icc + 128);
    unsigned transfer = 0;
    for (size_t at = 132; tags > 0 && at <= size - 12; at += 12, tags--) {
        uint64_t offset = carn_big_endian(icc + at + 4);
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
                      struct carn_colour *colour, struct carn_error *err)
{
    struct carn_decoder *decoder = carn_decoder_open(path, limits, err);
    if (decoder == NULL)
        return -1;
    int got = carn_decoder_next(decoder, frame, err);
    if (got == 0)
        carn_fail_at(err, CARN_INPUT, decoder->label, "holds no picture");
    if (colour != NULL)
        *colour = decoder->source.colour;
    carn_decoder_close(decoder);
    return got == 1 ? 0 : -1;
}
