/*
 * frame: one picture on the stream; its header, its keys and its rows (carn-frame(5)).
 *
 * The form is PAM (netpbm's public specification, P7); P4, P5 and P6 are read as well. Samples are
 * 16 bit, in the encoding of the frame's own profile, in stored pixel order. A row is
 * width * channels samples: grey or red green blue, then alpha, then weight, as far as present.
 */
#ifndef CARN_FRAME_H
#define CARN_FRAME_H

#include "base/error.h"
#include "base/io.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A header comment `#@ key value`: the value as it stands on the stream, without line breaks. */
struct carn_key {
    char *key;
    char *value;
};

/* Starts as all zero; carn_frame_clear makes it so again. */
struct carn_frame {
    size_t width, height; /* pixels, 1 or more */
    size_t colours;       /* 1 grey, 3 red green blue */
    bool alpha, weight;   /* a further channel each, in this order */
    unsigned maxval;      /* of the samples on the stream read, 1..65535; rows are always widened */
    bool bitmap;          /* P4: eight pixels a byte, 1 is black */
    size_t key_count;
    struct carn_key *keys;
    char *label;      /* the name key decoded, NULL without one */
    size_t rows_left; /* rows not yet read */
};

size_t carn_frame_channels(const struct carn_frame *frame);

/*
 * Reading. carn_frame_next clears frame and reads the next header: 1 for a frame, 0 at the clean
 * end of the stream, -1 with a message; a stream without any byte is a failure. It fails when rows
 * of the frame before were left unread. A header longer than limit bytes is refused (0: 16 MiB).
 * carn_frame_read takes the next row into row. A frame without a depth key gets one from its MAXVAL
 * (8 up to 255, else 16).
 */
int carn_frame_next(struct carn_in *in, struct carn_frame *frame, size_t limit,
                    struct carn_error *err);
int carn_frame_read(struct carn_in *in, struct carn_frame *frame, uint16_t *row,
                    struct carn_error *err);

/* Writing, always with MAXVAL 65535. bare leaves out the keys. One struct may
 * serve the reading and the writing of a frame. */
int carn_frame_begin(struct carn_out *out, const struct carn_frame *frame, bool bare,
                     struct carn_error *err);
int carn_frame_write(struct carn_out *out, const struct carn_frame *frame, const uint16_t *row,
                     struct carn_error *err);

void carn_frame_clear(struct carn_frame *frame);

/* frame = a deep copy of from; what frame held is cleared. */
int carn_frame_copy(struct carn_frame *frame, const struct carn_frame *from,
                    struct carn_error *err);

#endif
