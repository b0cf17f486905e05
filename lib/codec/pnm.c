/* PNM and PAM: the stream's own form, read and written by frame.c, in a file. */
#include "codec/format.h"

#include "base/io.h"
#include "frame/frame.h"
#include "frame/keys.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

struct reader {
    struct carn_source *source;
    struct carn_frame *frame; /* the caller's, of the picture begun last */
};

struct writer {
    struct carn_sink *sink;
    struct carn_frame frame; /* as it is written */
    struct carn_out *out;
    int fd; /* a descriptor of its own, -1 when it is closed */
    bool pam;
    uint16_t *wide;
    unsigned char *big; /* high byte first */
};

static void *read_open(struct carn_source *source, struct carn_frame *frame, struct carn_error *err)
{
    struct reader *reader = carn_alloc(1, sizeof *reader, err);
    if (reader == NULL)
        return NULL;
    reader->source = source;
    reader->frame = frame;
    return reader;
}

static int read_more(void *state, struct carn_frame *frame, struct carn_error *err)
{
    struct reader *reader = state;
    const struct carn_source *source = reader->source;
    reader->frame = frame;
    frame->rows_left = 0; /* of a picture whose rows the caller did not want */
    int more = carn_frame_next(source->in, frame, 0, err);
    if (more == 1 && carn_source_pixels(source, frame->width, frame->height, err) != 0)
        return -1;
    return more;
}

static int read_row(void *state, uint16_t *row, struct carn_error *err)
{
    struct reader *reader = state;
    return carn_frame_read(reader->source->in, reader->frame, row, err);
}

static void write_close(void *state)
{
    struct writer *writer = state;
    carn_out_close(writer->out);
    if (writer->fd >= 0)
        close(writer->fd);
    carn_frame_clear(&writer->frame);
    free(writer->wide);
    free(writer->big);
    free(writer);
}

/* PGM and PPM have a place for pixels only. */
static void note_losses(struct carn_sink *sink)
{
    static const char *const keys[] = {"icc", "exif", "xmp", "iptc"};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (carn_frame_get(sink->frame, keys[i]) != NULL)
            carn_note(&sink->notes, keys[i], "%s: PNM cannot hold the frame's %s, it is left out",
                      sink->label, keys[i]);
    if (sink->alpha)
        carn_note(&sink->notes, "alpha", "%s: PNM has no alpha, it is left out", sink->label);
    if (carn_frame_orientation(sink->frame) != 1)
        carn_note(&sink->notes, "orientation",
                  "%s: PNM cannot hold the frame's orientation (%u), it is left out", sink->label,
                  carn_frame_orientation(sink->frame));
}

static int write_pnm_header(struct writer *writer, struct carn_error *err)
{
    const struct carn_sink *sink = writer->sink;
    char head[80];
    int size = snprintf(head, sizeof head, "P%c\n%zu %zu\n%d\n", sink->colours == 3 ? '6' : '5',
                        sink->frame->width, sink->frame->height, sink->depth == 8 ? 255 : 65535);
    return carn_out_write(writer->out, head, (size_t)size, err);
}

static int begin(struct writer *writer, struct carn_error *err)
{
    struct carn_sink *sink = writer->sink;
    size_t samples = sink->frame->width * (sink->colours + sink->alpha);
    bool grey_only = strcasecmp(sink->suffix, "pgm") == 0;
    bool colour_only = strcasecmp(sink->suffix, "ppm") == 0;
    writer->pam = strcasecmp(sink->suffix, "pam") == 0;
    if ((grey_only && sink->colours == 3) || (colour_only && sink->colours == 1))
        return carn_fail_at(err, CARN_INPUT, sink->label, "a %s frame cannot be written as %s",
                            sink->colours == 3 ? "colour" : "grey", sink->suffix);
    writer->fd = fcntl(sink->fd, F_DUPFD_CLOEXEC, 3);
    if (writer->fd < 0)
        return carn_fail_at(err, CARN_SYSTEM, sink->label, "cannot be opened: %s", strerror(errno));
    writer->out = carn_out_open(writer->fd, sink->label, err);
    writer->wide = carn_alloc(samples, sizeof *writer->wide, err);
    writer->big = carn_alloc(samples, 2, err);
    if (writer->out == NULL || writer->wide == NULL || writer->big == NULL ||
        carn_frame_copy(&writer->frame, sink->frame, err) != 0)
        return -1;
    writer->frame.weight = false;
    writer->frame.alpha = sink->alpha;
    if (writer->pam)
        return carn_frame_set_depth(&writer->frame, sink->depth, err) != 0
                   ? -1
                   : carn_frame_begin(writer->out, &writer->frame, false, err);
    note_losses(sink);
    return write_pnm_header(writer, err);
}

static void *write_open(struct carn_sink *sink, struct carn_error *err)
{
    struct writer *writer = carn_alloc(1, sizeof *writer, err);
    if (writer == NULL)
        return NULL;
    writer->sink = sink;
    writer->fd = -1;
    if (begin(writer, err) != 0) {
        write_close(writer);
        return NULL;
    }
    return writer;
}

/* The stream has 16 bit always; 8 bit samples are widened, and read back as they were. */
static int write_pam_row(struct writer *writer, const void *row, size_t samples,
                         struct carn_error *err)
{
    if (writer->sink->depth == 16)
        return carn_frame_write(writer->out, &writer->frame, row, err);
    carn_widen_row(row, writer->wide, samples);
    return carn_frame_write(writer->out, &writer->frame, writer->wide, err);
}

static int write_row(void *state, const void *row, struct carn_error *err)
{
    struct writer *writer = state;
    const struct carn_sink *sink = writer->sink;
    size_t channels = sink->colours + sink->alpha;
    size_t width = sink->frame->width;
    if (writer->pam)
        return write_pam_row(writer, row, width * channels, err);
    size_t used = 0;
    const unsigned char *narrow = row;
    const uint16_t *wide = row;
    for (size_t x = 0; x < width; x++)
        for (size_t c = 0; c < sink->colours; c++) {
            size_t i = x * channels + c;
            if (sink->depth == 16)
                writer->big[used++] = (unsigned char)(wide[i] >> 8);
            writer->big[used++] = sink->depth == 16 ? (unsigned char)wide[i] : narrow[i];
        }
    return carn_out_write(writer->out, writer->big, used, err);
}

static int write_end(void *state, struct carn_error *err)
{
    struct writer *writer = state;
    if (carn_out_finish(writer->out, err) != 0)
        return -1;
    writer->fd = -1;
    return 0;
}

const struct carn_format carn_format_pnm = {
    .name = "PNM",
    .suffixes = "pnm pam ppm pgm",
    .magic = {"P"},
    .magic_size = 1,
    .alpha = CARN_ALPHA_ANY,
    .depths = 16,
    .read_open = read_open,
    .read_more = read_more,
    .read_row = read_row,
    .read_close = free,
    .write_open = write_open,
    .write_row = write_row,
    .write_end = write_end,
    .write_close = write_close,
};
