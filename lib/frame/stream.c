#include "frame/stream.h"

#include <stdlib.h>
#include <unistd.h>

int carn_stream_open(struct carn_stream *stream, bool writes, struct carn_error *err)
{
    stream->err = err;
    stream->in = carn_in_open(STDIN_FILENO, "<stdin>", err);
    if (writes && stream->in != NULL)
        stream->out = carn_out_open(STDOUT_FILENO, "<stdout>", err);
    stream->failed = stream->in == NULL || (writes && stream->out == NULL);
    return stream->failed ? -1 : 0;
}

bool carn_stream_next(struct carn_stream *stream)
{
    while (carn_stream_row(stream) != NULL)
        ;
    if (stream->failed || stream->ended)
        return false;
    int more = carn_frame_next(stream->in, &stream->frame, 0, stream->err);
    stream->ended = more == 0;
    if (more > 0) {
        free(stream->row);
        stream->row = carn_alloc(stream->frame.width * carn_frame_channels(&stream->frame),
                                 sizeof *stream->row, stream->err);
    }
    stream->failed = more < 0 || (more > 0 && stream->row == NULL);
    return more > 0 && !stream->failed;
}

uint16_t *carn_stream_row(struct carn_stream *stream)
{
    if (stream->failed || stream->frame.rows_left == 0)
        return NULL;
    stream->failed = carn_frame_read(stream->in, &stream->frame, stream->row, stream->err) != 0;
    return stream->failed ? NULL : stream->row;
}

/* Keeps what a write said, and says it. */
static int keep(struct carn_stream *stream, int result)
{
    stream->failed = stream->failed || result != 0;
    return result;
}

int carn_stream_begin(struct carn_stream *stream, const struct carn_frame *written)
{
    stream->written = written;
    return keep(stream, carn_frame_begin(stream->out, written, false, stream->err));
}

int carn_stream_write(struct carn_stream *stream, const uint16_t *row)
{
    return keep(stream, carn_frame_write(stream->out, stream->written, row, stream->err));
}

void carn_stream_close(struct carn_stream *stream)
{
    if (stream->out != NULL)
        (void)keep(stream, carn_out_finish(stream->out, stream->err));
    carn_frame_clear(&stream->frame);
    carn_in_close(stream->in);
    carn_out_close(stream->out);
    free(stream->row);
    stream->in = NULL;
    stream->out = NULL;
    stream->row = NULL;
}
