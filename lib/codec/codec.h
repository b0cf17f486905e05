/*
 * codec: picture files in and out; PNG, TIFF, JPEG, PNM and PAM.
 *
 * Reading gives a frame with its keys (carn-frame(5)): name, depth, alpha, resolution, orientation,
 * origin, compression, icc, exif, xmp, iptc, as far as the file has them. Writing takes a frame
 * with these keys and leaves either a whole new file or nothing. Only the files of one format know
 * the format's library; what all of them share is in format.h.
 */
#ifndef CARN_CODEC_H
#define CARN_CODEC_H

#include "base/error.h"
#include "codec/format.h"
#include "frame/frame.h"
#include "frame/said_colour.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

/* 1e9 pixels, 2 GiB, 8 MiB. That much metadata fits in base64 into a header of 16 MiB, the limit of
 * the stream. */
extern const struct carn_limits carn_limits_default;

struct carn_decoder;
struct carn_encoder;

/*
 * Opens the file at path, "-" for standard input; limits NULL means the default ones. What cannot
 * seek is copied to an unlinked temporary file first, except PNM and PAM. NULL with a message.
 */
struct carn_decoder *carn_decoder_open(const char *path, const struct carn_limits *limits,
                                       struct carn_error *err);

/* Clears frame and fills it with the next picture's size and keys: 1; 0 when there is none (only
 * PAM and PNM files can have more than one); -1 with a message. */
int carn_decoder_next(struct carn_decoder *decoder, struct carn_frame *frame,
                      struct carn_error *err);

/* The next row of the frame. The last row only comes when the rest of the file is sound. */
int carn_decoder_read(struct carn_decoder *decoder, struct carn_frame *frame, uint16_t *row,
                      struct carn_error *err);
void carn_decoder_close(struct carn_decoder *decoder);

/* Notes about the picture begun last; the decoder owns them. */
const struct carn_notes *carn_decoder_notes(const struct carn_decoder *decoder);
const struct carn_colour *carn_decoder_colour(const struct carn_decoder *decoder);

/* The size and keys of a file's first picture, without its rows; colour may be NULL. */
int carn_codec_header(const char *path, const struct carn_limits *limits, struct carn_frame *frame,
                      struct carn_colour *colour, struct carn_error *err);

/* Gives a frame back the keys that another program lost, from the file that it came from. Keys that
 * describe the picture replace the frame's; the name is taken only where there is none. Both files
 * count as sources, which are never written over. */
int carn_codec_put_back(struct carn_frame *frame, const struct carn_frame *original,
                        struct carn_error *err);

/* How to write. 0 and NULL mean: as the source was, as far as the format can hold it. */
struct carn_encoding {
    const char *type;        /* a suffix as "tif"; NULL: by the suffix of the path */
    const char *compression; /* TIFF: none, lzw, deflate, packbits, zstd */
    int depth;               /* 8 or 16 */
    int quality;             /* JPEG: 1..100; 0: 95 */
    bool force; /* write over a file even when the frame does not say where it comes from */
};

/* Is there a format for path, and can it do what how asks? path: as typed, its placeholders not
 * filled in. */
int carn_encoding_check(const char *path, const struct carn_encoding *how, struct carn_error *err);

/*
 * Begins to write frame to path, "-" for standard output, beside the target and under another name.
 * Refused where the target is a file that origin names and, without force, where there is a target
 * and no origin. NULL with a message.
 */
struct carn_encoder *carn_encoder_open(const char *path, const struct carn_encoding *how,
                                       const struct carn_frame *frame, struct carn_error *err);

/* A row as the frame has it, alpha and weight included. */
int carn_encoder_write(struct carn_encoder *encoder, const uint16_t *row, struct carn_error *err);

/* After the last row: the file is on the disk and under its name; -1: it is not. */
int carn_encoder_finish(struct carn_encoder *encoder, struct carn_error *err);

/* Frees; an encoder that was not finished leaves nothing. */
void carn_encoder_close(struct carn_encoder *encoder);
const struct carn_notes *carn_encoder_notes(const struct carn_encoder *encoder);

#endif
