/* carn-weight-show: the weight of frames as grey frames to look at. */
#include "base/tool.h"
#include "frame/stream.h"

/* The header of the grey frame: without profile, alpha and weight. */
static int make_header(struct carn_frame *grey, const struct carn_frame *frame,
                       struct carn_error *err)
{
    if (carn_frame_copy(grey, frame, err) != 0 || carn_frame_set(grey, "icc", NULL, err) != 0)
        return -1;
    grey->colours = 1;
    grey->alpha = grey->weight = false;
    return carn_frame_set(grey, "alpha", NULL, err);
}

static void show_row(const struct carn_frame *frame, uint16_t *row)
{
    size_t channels = carn_frame_channels(frame);
    for (size_t x = 0; x < frame->width; x++)
        row[x] = frame->weight ? row[x * channels + channels - 1] : UINT16_MAX;
}

static int show_frame(struct carn_tool *tool, struct carn_stream *stream)
{
    struct carn_frame grey = {0};
    if (!stream->frame.weight)
        carn_tool_note_of(tool, "no weight", carn_frame_name(&stream->frame),
                          "no weight, all of it counts");
    int rc = make_header(&grey, &stream->frame, &tool->err);
    if (rc == 0)
        rc = carn_stream_begin(stream, &grey);
    for (uint16_t *row; rc == 0 && (row = carn_stream_row(stream)) != NULL;) {
        show_row(&stream->frame, row);
        carn_stream_write(stream, row);
    }
    carn_frame_clear(&grey);
    return rc;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {{0}};
    struct carn_tool tool = {.name = "carn-weight-show",
                             .operands = "<FRAMES >FRAMES",
                             .purpose = "Shows the weight of each pixel: white for 1, black for 0.",
                             .options = options};

    /* arguments */
    bool go =
        carn_tool_option(&tool, argc, argv) == 0 && carn_tool_no_operand(&tool, argc, argv) == 0;

    /* prepare */
    struct carn_stream stream = {0};
    go = go && carn_stream_open(&stream, true, &tool.err) == 0;

    /* data */
    while (go && carn_stream_next(&stream))
        go = show_frame(&tool, &stream) == 0;

    /* clean up */
    carn_stream_close(&stream);
    return carn_tool_end(&tool);
}
