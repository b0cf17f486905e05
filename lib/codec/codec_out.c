/* The writing half of codec.h: which format, what of a frame it can hold, rows as it wants them. */
#include "base/target.h"
#include "codec/codec.h"
#include "codec/format.h"
#include "codec/formats.h"
#include "frame/alpha.h"
#include "frame/dither.h"
#include "frame/keys.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

struct carn_encoder {
    char *label;
    struct carn_frame frame; /* a copy: its keys are wanted until the end */
    const struct carn_format *format;
    struct carn_sink sink;
    struct carn_target *target;
    void *state;
    size_t y;
    uint16_t *picked;      /* the row without weight, and without alpha if that goes */
    unsigned char *narrow; /* the row in 8 bit */
};

static const struct carn_format *choose(const char *path, const struct carn_encoding *how,
                                        struct carn_error *err, const char **suffix)
{
    const char *slash = strrchr(path, '/');
    const char *dot = strrchr(slash != NULL ? slash : path, '.');
    *suffix = how->type != NULL ? how->type : dot != NULL ? dot + 1 : "";
    const struct carn_format *format = carn_format_for(*suffix);
    if (format != NULL)
        return format;
    if (how->type != NULL)
        carn_fail(err, CARN_USAGE, "type '%s' is not one of png, tif, jpg, pnm, pam", how->type);
    else if (strcmp(path, "-") == 0)
        carn_fail(err, CARN_USAGE, "standard output needs a type (-t png, tif, jpg, pnm or pam)");
    else
        carn_fail_at(err, CARN_USAGE, path,
                     "the suffix says no format; use -t png, tif, jpg, pnm or pam");
    return NULL;
}

int carn_encoding_check(const char *path, const struct carn_encoding *how, struct carn_error *err)
{
    static const char *const compressions[] = {"none", "lzw", "deflate", "packbits", "zstd"};
    const char *suffix;
    const struct carn_format *format = choose(path, how, err, &suffix);
    if (format == NULL)
        return -1;
    if (how->depth > format->depths)
        return carn_fail_at(err, CARN_USAGE, path, "%s holds %d bits a sample, not %d",
                            format->name, format->depths, how->depth);
    if (how->quality != 0 && !format->quality)
        return carn_fail_at(err, CARN_USAGE, path, "%s has no quality to choose", format->name);
    if (how->compression == NULL)
        return 0;
    if (!format->compressions)
        return carn_fail_at(err, CARN_USAGE, path, "%s has no compression to choose", format->name);
    for (size_t i = 0; i < sizeof compressions / sizeof compressions[0]; i++)
        if (strcmp(how->compression, compressions[i]) == 0)
            return 0;
    return carn_fail(err, CARN_USAGE,
                     "compression '%s' is not one of none, lzw, deflate, packbits, zstd",
                     how->compression);
}

/* May path be written? Yes where there is no file, or where origin (device and inode) names other
 * files. */
static int spare_source(const char *path, const struct carn_frame *frame, bool force,
                        struct carn_error *err)
{
    struct stat st;
    if (strcmp(path, "-") == 0 || stat(path, &st) != 0)
        return 0;
    char *origin = carn_frame_text(frame, "origin", err);
    if (err->kind != CARN_NONE)
        return -1;
    size_t named = 0;
    bool found = false;
    uintmax_t device, inode;
    int used = 0;
    for (const char *at = origin;
         at != NULL && sscanf(at, "%ju %ju%n", &device, &inode, &used) == 2; at += used, named++)
        found = found || (device == st.st_dev && inode == st.st_ino);
    free(origin);
    if (found)
        return carn_fail_at(err, CARN_USAGE, path,
                            "is the file the frame comes from; a source is never written");
    if (named == 0 && !force && S_ISREG(st.st_mode))
        return carn_fail_at(
            err, CARN_USAGE, path,
            "exists and may be the frame's own file, since the frame does not say its origin; "
            "-f writes over it");
    return 0;
}

/* What the file can hold of the frame, and a note on what it cannot. */
static void settle(struct carn_encoder *encoder, const struct carn_encoding *how)
{
    struct carn_sink *sink = &encoder->sink;
    const struct carn_frame *frame = &encoder->frame;
    const struct carn_format *format = encoder->format;
    sink->label = encoder->label;
    sink->frame = frame;
    sink->colours = frame->colours;
    sink->alpha = frame->alpha && format->alpha != CARN_ALPHA_NONE;
    sink->associated = carn_frame_associated(frame);
    sink->depth = how->depth != 0 ? how->depth : carn_frame_depth(frame);
    sink->compression =
        how->compression != NULL ? how->compression : carn_frame_get(frame, "compression");
    sink->quality = how->quality != 0 ? how->quality : 95;
    if (sink->depth > format->depths) {
        carn_note(&sink->notes, "depth", "%s: %s holds %d bits a sample, the frame has %d",
                  sink->label, format->name, format->depths, sink->depth);
        sink->depth = format->depths;
    }
    if (frame->alpha && !sink->alpha)
        carn_note(&sink->notes, "alpha", "%s: %s has no alpha, it is left out", sink->label,
                  format->name);
    if (sink->alpha && sink->associated && format->alpha == CARN_ALPHA_STRAIGHT)
        carn_note(&sink->notes, "associated",
                  "%s: %s has straight alpha only, the colours are divided by their alpha",
                  sink->label, format->name);
}

static int begin(struct carn_encoder *encoder, const char *path, const struct carn_encoding *how,
                 const struct carn_frame *frame, struct carn_error *err)
{
    struct carn_sink *sink = &encoder->sink;
    encoder->label = carn_copy(strcmp(path, "-") == 0 ? "<stdout>" : path, err);
    if (encoder->label == NULL || carn_encoding_check(path, how, err) != 0 ||
        carn_frame_copy(&encoder->frame, frame, err) != 0)
        return -1;
    encoder->format = choose(path, how, err, &sink->suffix);
    if (spare_source(path, frame, how->force, err) != 0)
        return -1;
    settle(encoder, how);
    size_t samples = frame->width * (sink->colours + sink->alpha);
    encoder->picked = carn_alloc(samples, sizeof *encoder->picked, err);
    encoder->narrow = sink->depth == 8 ? carn_alloc(samples, 1, err) : NULL;
    if (encoder->picked == NULL || (sink->depth == 8 && encoder->narrow == NULL))
        return -1;
    encoder->target = carn_target_open(path, err);
    if (encoder->target == NULL)
        return -1;
    sink->fd = carn_target_fd(encoder->target);
    encoder->state = encoder->format->write_open(sink, err);
    return encoder->state == NULL ? -1 : 0;
}

struct carn_encoder *carn_encoder_open(const char *path, const struct carn_encoding *how,
                                       const struct carn_frame *frame, struct carn_error *err)
{
    struct carn_encoder *encoder = carn_alloc(1, sizeof *encoder, err);
    if (encoder != NULL && begin(encoder, path, how, frame, err) != 0) {
        carn_encoder_close(encoder);
        return NULL;
    }
    return encoder;
}

/* Only the channels that are written, side by side. */
static const uint16_t *pick(const struct carn_encoder *encoder, const uint16_t *row)
{
    size_t from = carn_frame_channels(&encoder->frame);
    size_t to = encoder->sink.colours + encoder->sink.alpha;
    if (from == to)
        return row;
    for (size_t x = 0; x < encoder->frame.width; x++)
        for (size_t c = 0; c < to; c++)
            encoder->picked[x * to + c] = row[x * from + c];
    return encoder->picked;
}

/* Associated to straight alpha. */
static const uint16_t *divide(const struct carn_encoder *encoder, const uint16_t *row)
{
    const struct carn_sink *sink = &encoder->sink;
    size_t channels = sink->colours + 1;
    for (size_t x = 0; x < encoder->frame.width; x++) {
        const uint16_t *from = row + x * channels;
        uint16_t *to = encoder->picked + x * channels;
        uint32_t alpha = from[sink->colours];
        for (size_t c = 0; c < sink->colours; c++)
            to[c] = carn_alpha_divide(from[c], alpha);
        to[sink->colours] = (uint16_t)alpha;
    }
    return encoder->picked;
}

/* An associated colour is at most its alpha, and dithering must not lift it above. */
static void bound(const struct carn_encoder *encoder, const uint16_t *row)
{
    size_t channels = encoder->sink.colours + 1;
    size_t last = channels - 1;
    for (size_t x = 0; x < encoder->frame.width; x++, row += channels) {
        unsigned char *pixel = encoder->narrow + x * channels;
        for (size_t c = 0; c < last; c++)
            if (row[c] <= row[last] && pixel[c] > pixel[last])
                pixel[c] = pixel[last];
    }
}

int carn_encoder_write(struct carn_encoder *encoder, const uint16_t *row, struct carn_error *err)
{
    const struct carn_sink *sink = &encoder->sink;
    const uint16_t *picked = pick(encoder, row);
    bool straight = encoder->format->alpha == CARN_ALPHA_STRAIGHT;
    if (encoder->y >= encoder->frame.height)
        return carn_fail_at(err, CARN_USAGE, encoder->label, "a row past the last");
    if (sink->alpha && sink->associated && straight)
        picked = divide(encoder, picked);
    size_t y = encoder->y++;
    if (sink->depth != 8)
        return encoder->format->write_row(encoder->state, picked, err);
    carn_dither_row(picked, encoder->narrow, encoder->frame.width, sink->colours + sink->alpha,
                    sink->alpha, y);
    if (sink->alpha && sink->associated && !straight)
        bound(encoder, picked);
    return encoder->format->write_row(encoder->state, encoder->narrow, err);
}

int carn_encoder_finish(struct carn_encoder *encoder, struct carn_error *err)
{
    if (encoder->y != encoder->frame.height)
        return carn_fail_at(err, CARN_USAGE, encoder->label, "%zu of %zu rows were written",
                            encoder->y, encoder->frame.height);
    if (encoder->format->write_end(encoder->state, err) != 0)
        return -1;
    return carn_target_finish(encoder->target, err);
}

void carn_encoder_close(struct carn_encoder *encoder)
{
    if (encoder == NULL)
        return;
    if (encoder->state != NULL)
        encoder->format->write_close(encoder->state);
    carn_target_close(encoder->target);
    carn_frame_clear(&encoder->frame);
    free(encoder->picked);
    free(encoder->narrow);
    free(encoder->label);
    free(encoder);
}

const struct carn_notes *carn_encoder_notes(const struct carn_encoder *encoder)
{
    return &encoder->sink.notes;
}
