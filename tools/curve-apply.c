/* carn-curve-apply: applies curves to frames, through the weight plane where there is one. */
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "correct/correction.h"
#include "frame/keys.h"
#include "frame/stream.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { CURVES = 64 };

/* What the loop over frames needs. */
struct job {
    struct carn_tool *tool;
    size_t count;
    struct carn_curve curves[CURVES];
    bool shades; /* some curve has a move or a knot, which changes greys too */
    struct carn_correction *correction; /* for the profile in last */
    struct carn_frame_profile last;
};

static void tell_gains(struct job *job, const struct carn_frame *frame,
                       const struct carn_gains *gains)
{
    if (!gains->any)
        return;
    carn_tool_note(job->tool, "neutral",
                   "%s: neutral gains R %.4f G %.4f B %.4f, whole up to encoded R %.3f G %.3f B "
                   "%.3f",
                   carn_frame_name(frame), gains->gain[0], gains->gain[1], gains->gain[2],
                   gains->whole[0], gains->whole[1], gains->whole[2]);
}

/* Frames of one shoot share a profile: one correction serves them. */
static int take_correction(struct job *job, const struct carn_frame *frame)
{
    struct carn_error why = {0}, *err = &job->tool->err;
    struct carn_gains gains;
    carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                      carn_frame_profile_note(frame));
    int taken = carn_frame_profile_take(&job->last, frame, err);
    if (taken <= 0)
        return taken;
    carn_correction_close(job->correction);
    job->correction =
        carn_correction_open(job->curves, job->count, job->last.profile, &gains, &why);
    if (job->correction != NULL) {
        tell_gains(job, frame, &gains);
        return 0;
    }
    carn_frame_profile_forget(&job->last);
    return carn_fail_from(err, &why, carn_frame_name(frame));
}

/* A grey frame has no cast and no hue: neutrals and turns leave it as it is. */
static int take_grey(struct job *job, const struct carn_frame *frame)
{
    if (job->shades)
        return carn_fail_at(&job->tool->err, CARN_INPUT, carn_frame_name(frame),
                            "a grey frame has no colour to move");
    carn_tool_note(job->tool, "grey", "%s: a grey frame has no colour to turn and passes as it is",
                   carn_frame_name(frame));
    return 0;
}

static int apply_frame(struct job *job, struct carn_stream *stream)
{
    const struct carn_frame *frame = &stream->frame;
    bool grey = frame->colours == 1;
    if ((grey ? take_grey(job, frame) : take_correction(job, frame)) != 0 ||
        carn_stream_begin(stream, frame) != 0)
        return -1;
    for (uint16_t *row; (row = carn_stream_row(stream)) != NULL; carn_stream_write(stream, row))
        if (!grey)
            carn_correction_row(job->correction, frame, row);
    return 0;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'c', "curve", "CURVE", .help = "a curve to apply; several compose in the order given"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-curve-apply",
                             .operands = "<FRAMES >FRAMES",
                             .purpose = "Applies curves to frames.",
                             .options = options};
    struct job job = {.tool = &tool};

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        if (job.count == CURVES)
            carn_fail(&tool.err, CARN_USAGE, "more than %d curves", CURVES);
        else if (strcmp(tool.value, "-") == 0)
            carn_fail(&tool.err, CARN_USAGE,
                      "a curve needs a file, standard input holds the frames");
        else if (carn_curve_read(tool.value, &job.curves[job.count], &tool.err) == 0)
            job.count++;
        if (tool.err.kind != CARN_NONE)
            break;
    }
    if (key == 0 && carn_tool_no_operand(&tool, argc, argv) == 0 && job.count == 0)
        carn_fail(&tool.err, CARN_USAGE, "no curve given; see %s --help", tool.name);
    bool go = key == 0 && tool.err.kind == CARN_NONE;

    /* prepare */
    struct carn_stream stream = {0};
    for (size_t i = 0; i < job.count; i++)
        for (size_t k = 0; k < job.curves[i].count; k++)
            job.shades = job.shades || job.curves[i].moves[k].kind == CARN_MOVE ||
                         job.curves[i].moves[k].kind == CARN_KNOT;
    go = go && carn_stream_open(&stream, true, &tool.err) == 0;

    /* data */
    while (go && carn_stream_next(&stream))
        go = apply_frame(&job, &stream) == 0;

    /* clean up */
    carn_stream_close(&stream);
    for (size_t i = 0; i < job.count; i++)
        carn_curve_clear(&job.curves[i]);
    carn_frame_profile_forget(&job.last);
    carn_correction_close(job.correction);
    return carn_tool_end(&tool);
}
