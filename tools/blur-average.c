/*
 * carn-blur-average: frames blurred with a Gaussian, or averaged down to a smaller width.
 */
#include "base/tool.h"
#include "frame/average.h"
#include "frame/blur.h"
#include "frame/keys.h"
#include "frame/stream.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum {
    SMOOTHED = 200,       /* bytes of the key smoothed, at most */
    WIDTH_LIMIT = 1 << 27 /* wider than any frame */
};

struct job {
    double sigma; /* 0: none asked for */
    bool percent; /* sigma is in percent of the shorter side, not in pixels */
    size_t width; /* 0: none asked for */
    struct carn_stream stream;
    struct carn_frame written; /* the frame as written: of its own size and keys */
    struct carn_error *err;
};

/* ---- arguments ---- */

static int parse_sigma(struct job *job, const char *text)
{
    char number[64];
    size_t size = strlen(text);
    job->percent = size > 0 && text[size - 1] == '%';
    if (job->percent)
        size--;
    if (size >= sizeof number)
        return carn_fail(job->err, CARN_USAGE, "sigma: '%s' is not a number", text);
    memcpy(number, text, size);
    number[size] = '\0';
    if (carn_number(number, "sigma", &job->sigma, job->err) != 0)
        return -1;
    double most = job->percent ? 100 : CARN_BLUR_LIMIT;
    if (!(job->sigma > 0 && job->sigma <= most))
        return carn_fail(job->err, CARN_USAGE, "sigma: '%s' is not above 0 and at most %g%s", text,
                         most, job->percent ? "%" : " pixels");
    return 0;
}

static int parse_arguments(struct carn_tool *tool, struct job *job, int argc, char **argv)
{
    int key, rc = 0;
    while (rc == 0 && (key = carn_tool_option(tool, argc, argv)) != 0) {
        if (key < 0)
            return -1;
        rc = key == 's' ? parse_sigma(job, tool->value)
                        : carn_tool_whole(tool, "width", 1, WIDTH_LIMIT, &job->width);
    }
    if (rc == 0 && (job->sigma > 0) == (job->width > 0))
        return carn_fail(job->err, CARN_USAGE, "give either -s SIGMA or -w WIDTH; see --help");
    return rc == 0 ? carn_tool_no_operand(tool, argc, argv) : -1;
}

/* ---- one frame ---- */

/* Adds to the key smoothed. Where it would be longer than SMOOTHED, it ends with "more". */
static int tell_smoothed(struct carn_frame *frame, const char *what, struct carn_error *err)
{
    static const char more[] = ", more";
    const char *before = carn_frame_get(frame, "smoothed");
    if (before == NULL)
        return carn_frame_set(frame, "smoothed", what, err);
    size_t size = strlen(before);
    if (size >= strlen(more) && strcmp(before + size - strlen(more), more) == 0)
        return 0;
    size_t room = size + strlen(what) + sizeof more;
    char *text = carn_alloc(room, 1, err);
    if (text == NULL)
        return -1;
    if (size + strlen(", ") + strlen(what) + strlen(more) <= SMOOTHED)
        snprintf(text, room, "%s, %s", before, what);
    else
        snprintf(text, room, "%s%s", before, more);
    int rc = carn_frame_set(frame, "smoothed", text, err);
    free(text);
    return rc;
}

static int pass_frame(struct job *job)
{
    struct carn_stream *stream = &job->stream;
    if (carn_stream_begin(stream, &stream->frame) != 0)
        return -1;
    for (const uint16_t *row; (row = carn_stream_row(stream)) != NULL;)
        carn_stream_write(stream, row);
    return 0;
}

static int blur_frame(struct job *job)
{
    struct carn_stream *stream = &job->stream;
    const struct carn_frame *frame = &stream->frame;
    size_t shorter = frame->width < frame->height ? frame->width : frame->height;
    double sigma = job->percent ? job->sigma / 100 * (double)shorter : job->sigma;
    if (sigma > CARN_BLUR_LIMIT)
        return carn_fail_at(job->err, CARN_LIMIT, carn_frame_name(frame),
                            "%g%% are a sigma of %g pixels, more than %g", job->sigma, sigma,
                            CARN_BLUR_LIMIT);
    char what[64];
    snprintf(what, sizeof what, "gaussian %g", sigma);
    if (tell_smoothed(&job->written, what, job->err) != 0 ||
        carn_stream_begin(stream, &job->written) != 0)
        return -1;
    struct carn_blur *blur =
        carn_blur_open(sigma, frame->width, frame->height, carn_frame_channels(frame), job->err);
    for (const uint16_t *row; blur != NULL && (row = carn_stream_row(stream)) != NULL;) {
        carn_blur_push(blur, row);
        for (const uint16_t *done; (done = carn_blur_pull(blur)) != NULL;)
            carn_stream_write(stream, done);
    }
    carn_blur_close(blur);
    return blur != NULL ? 0 : -1;
}

static int average_frame(struct job *job)
{
    struct carn_stream *stream = &job->stream;
    const struct carn_frame *frame = &stream->frame;
    char full[64];
    snprintf(full, sizeof full, "%zu %zu", frame->width, frame->height);
    job->written.width = job->width;
    job->written.height = carn_average_height(frame->width, frame->height, job->width);
    if ((carn_frame_get(frame, "full") == NULL &&
         carn_frame_set(&job->written, "full", full, job->err) != 0) ||
        tell_smoothed(&job->written, "average", job->err) != 0 ||
        carn_stream_begin(stream, &job->written) != 0)
        return -1;
    struct carn_average *average = carn_average_open(
        frame->width, frame->height, carn_frame_channels(frame), job->width, job->err);
    for (const uint16_t *row; average != NULL && (row = carn_stream_row(stream)) != NULL;) {
        const uint16_t *done = carn_average_push(average, row);
        if (done != NULL)
            carn_stream_write(stream, done);
    }
    carn_average_close(average);
    return average != NULL ? 0 : -1;
}

static int smooth_frame(struct job *job)
{
    if (carn_frame_copy(&job->written, &job->stream.frame, job->err) != 0)
        return -1;
    if (job->width == 0)
        return blur_frame(job);
    return job->width >= job->stream.frame.width ? pass_frame(job) : average_frame(job);
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'s', "sigma", "SIGMA", .help = "Gaussian blur, in pixels or with % of the shorter side"},
        {'w', "width", "WIDTH", .help = "average down to WIDTH pixels, never up"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-blur-average",
                             .operands = "-s SIGMA | -w WIDTH",
                             .purpose = "Blurs frames, or averages them down to a smaller width.",
                             .options = options};
    struct job job = {.err = &tool.err};

    /* arguments */
    if (parse_arguments(&tool, &job, argc, argv) != 0)
        return carn_tool_end(&tool);

    /* prepare */
    bool go = carn_stream_open(&job.stream, true, job.err) == 0;

    /* data */
    while (go && carn_stream_next(&job.stream))
        go = smooth_frame(&job) == 0;

    /* clean up */
    carn_stream_close(&job.stream);
    carn_frame_clear(&job.written);
    return carn_tool_end(&tool);
}
