/* carn-curve-apply: applies curves to frames, through the weight plane where there is one. */
#include "base/io.h"
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "correct/curve.h"
#include "frame/lut.h"

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
    struct carn_lut *lut; /* made for last */
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

/* Frames of one shoot share a profile: one table serves them. */
static int take_tables(struct job *job, const struct carn_frame *frame)
{
    struct carn_error why = {{0}}, *err = &job->tool->err;
    struct carn_gains gains;
    if (frame->colours != 3)
        return carn_fail(err, "%s: a grey frame has no colour to move", carn_frame_name(frame));
    int taken = carn_frame_profile_take(&job->last, frame, job->tool);
    if (taken <= 0)
        return taken;
    int made =
        carn_curve_compose(job->curves, job->count, job->last.profile, job->lut, &gains, &why);
    if (made == 0) {
        tell_gains(job, frame, &gains);
        return 0;
    }
    carn_frame_profile_forget(&job->last);
    return carn_fail(err, "%s: %s", carn_frame_name(frame), why.text);
}

static int apply_frame(struct job *job, struct carn_in *in, struct carn_out *out,
                       struct carn_frame *frame)
{
    struct carn_error *err = &job->tool->err;
    if (take_tables(job, frame) != 0)
        return -1;
    uint16_t *row = carn_alloc(frame->width * carn_frame_channels(frame), sizeof *row, err);
    int rc = row != NULL ? carn_frame_begin(out, frame, false, err) : -1;
    for (size_t y = 0; rc == 0 && y < frame->height; y++) {
        rc = carn_frame_read(in, frame, row, err);
        if (rc != 0)
            break;
        carn_lut_row(job->lut, frame, row);
        rc = carn_frame_write(out, frame, row, err);
    }
    free(row);
    return rc;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'c', "curve", "CURVE", "a curve to apply; several compose in the order given"},
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
            carn_fail(&tool.err, "more than %d curves", CURVES);
        else if (strcmp(tool.value, "-") == 0)
            carn_fail(&tool.err, "a curve needs a file, standard input holds the frames");
        else if (carn_curve_read(tool.value, &job.curves[job.count], &tool.err) == 0)
            job.count++;
        if (tool.err.text[0] != '\0')
            break;
    }
    if (key == 0 && optind < argc)
        carn_fail(&tool.err, "unexpected argument '%s'; frames come on standard input",
                  argv[optind]);
    else if (key == 0 && job.count == 0)
        carn_fail(&tool.err, "no curve given; see %s --help", tool.name);
    bool go = key == 0 && tool.err.text[0] == '\0';

    /* prepare */
    struct carn_frame frame = {0};
    struct carn_in *in = go ? carn_in_open(STDIN_FILENO, "<stdin>", &tool.err) : NULL;
    struct carn_out *out = go ? carn_out_open(STDOUT_FILENO, "<stdout>", &tool.err) : NULL;
    job.lut = go ? carn_alloc(1, sizeof *job.lut, &tool.err) : NULL;
    go = in != NULL && out != NULL && job.lut != NULL;

    /* data */
    int more = go ? 1 : -1;
    while (more > 0) {
        more = carn_frame_next(in, &frame, 0, &tool.err);
        if (more > 0 && apply_frame(&job, in, out, &frame) != 0)
            more = -1;
    }
    if (more == 0)
        carn_out_finish(out, &tool.err);

    /* clean up */
    carn_frame_clear(&frame);
    for (size_t i = 0; i < job.count; i++)
        carn_curve_clear(&job.curves[i]);
    carn_frame_profile_forget(&job.last);
    free(job.lut);
    carn_in_close(in);
    carn_out_close(out);
    return carn_tool_end(&tool);
}
