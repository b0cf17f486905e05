/*
 * stream: the frames on standard input and those that a filter writes to standard output: the loop
 * that every raster program shares.
 *
 *     while (carn_stream_next(&stream) && carn_stream_begin(&stream, &stream.frame) == 0)
 *         for (uint16_t *row; (row = carn_stream_row(&stream)) != NULL;)
 *             carn_stream_write(&stream, row);
 *
 * Trouble stays: after the first, next and row give nothing more, and err holds the message, which
 * carn_tool_end tells. One row is held in memory.
 */
#ifndef CARN_STREAM_H
#define CARN_STREAM_H

#include "frame/frame.h"
#include "frame/keys.h"

/* Starts as all zero. A program reads frame and failed; the rest is the stream's own. */
struct carn_stream {
    struct carn_frame frame; /* the frame being read */
    bool failed;             /* a read or a write went wrong */
    bool ended;              /* the input was read to its clean end */
    struct carn_error *err;
    struct carn_in *in;
    struct carn_out *out;             /* NULL: the program writes no frames */
    const struct carn_frame *written; /* of carn_stream_begin */
    uint16_t *row;
};

/* Opens standard input and, when the program writes frames, standard output. -1 with a message. */
int carn_stream_open(struct carn_stream *stream, bool writes, struct carn_error *err);

/* Reads the next frame's header into stream->frame; rows of the frame before that are still unread
 * are read past. False at the end and after trouble. */
bool carn_stream_next(struct carn_stream *stream);

/* The next row of the frame, the caller's to change until the row after; NULL after the last and
 * after trouble. */
uint16_t *carn_stream_row(struct carn_stream *stream);

/* Writes the header of a frame: stream->frame itself, or a changed copy that lives until its last
 * row is written. Then its rows. -1 with a message. */
int carn_stream_begin(struct carn_stream *stream, const struct carn_frame *written);
int carn_stream_write(struct carn_stream *stream, const uint16_t *row);

/* Writes what stands in the buffer, also after trouble: frames finished before it are whole. Then
 * frees; stream->ended and failed stay. */
void carn_stream_close(struct carn_stream *stream);

#endif
