/* carn-to-profile: whole frames into another RGB profile, for delivery. */
#include "base/tool.h"
#include "colour/convert.h"
#include "colour/frame_profile.h"
#include "colour/space.h"
#include "frame/keys.h"
#include "frame/stream.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* What the loop over frames needs. */
struct job {
    struct carn_tool *tool;
    const char *target; /* as given */
    void *bytes;        /* of the target profile */
    size_t size;
    struct carn_profile *profile; /* the same */
    enum carn_intent intent;
    bool no_black_point;
    struct carn_convert *convert; /* from the profile in last; NULL before the first frame */
    bool same;                    /* the frame is in the target profile already */
    struct carn_frame_profile last;
    size_t frames, clipped_frames; /* converted, and with pixels that were clipped */
    double pixels, clipped;
    char *worst; /* the frame with the largest share of clipped pixels */
    double worst_share;
};

/* ---- the target ---- */

static int open_target(struct job *job)
{
    struct carn_error *err = &job->tool->err, why = {0};
    job->bytes = carn_space_profile(job->target, &job->size, err);
    if (job->bytes == NULL && err->kind == CARN_NONE) {
        if (access(job->target, F_OK) != 0)
            return carn_fail_at(err, CARN_USAGE, job->target, "no such file, and not one of %s",
                                carn_space_names());
        job->bytes = carn_profile_read(job->target, &job->size, err);
    }
    if (job->bytes == NULL)
        return -1;
    job->profile = carn_profile_open(job->bytes, job->size, 3, &why);
    return job->profile != NULL ? 0 : carn_fail_from(err, &why, job->target);
}

/* ---- frames ---- */

/* Frames of one shoot share a profile: one set of tables serves them. */
static int take_source(struct job *job, const struct carn_frame *frame)
{
    struct carn_error why = {0}, *err = &job->tool->err;
    carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                      carn_frame_profile_note(frame));
    int taken = carn_frame_profile_take(&job->last, frame, err);
    if (taken <= 0)
        return taken;
    size_t size = 0;
    void *bytes = carn_frame_blob(frame, "icc", &size, &why);
    job->same = bytes != NULL && size == job->size && memcmp(bytes, job->bytes, size) == 0;
    carn_convert_close(job->convert);
    job->convert = job->intent == CARN_RELATIVE && !job->no_black_point
                       ? carn_convert_kept(bytes, size, job->bytes, job->size)
                       : NULL;
    free(bytes);
    if (job->convert == NULL)
        job->convert = carn_convert_open(job->last.profile, job->profile, job->intent,
                                         !job->no_black_point, &why);
    if (job->convert != NULL)
        return 0;
    carn_frame_profile_forget(&job->last);
    return carn_fail_from(err, &why, carn_frame_name(frame));
}

static int count_clipped(struct job *job, const struct carn_frame *frame, size_t clipped)
{
    double pixels = (double)frame->width * (double)frame->height;
    double share = (double)clipped / pixels;
    job->frames++;
    job->pixels += pixels;
    job->clipped += (double)clipped;
    job->clipped_frames += clipped > 0;
    if (share > job->worst_share) {
        free(job->worst);
        job->worst = carn_copy(carn_frame_name(frame), &job->tool->err);
        job->worst_share = share;
        return job->worst != NULL ? 0 : -1;
    }
    return 0;
}

static int convert_rows(struct job *job, struct carn_stream *stream,
                        const struct carn_frame *written)
{
    const struct carn_frame *frame = &stream->frame;
    uint16_t *row,
        *to = carn_alloc(frame->width * carn_frame_channels(written), sizeof *to, &job->tool->err);
    size_t clipped = 0;
    if (to == NULL || carn_stream_begin(stream, written) != 0) {
        free(to);
        return -1;
    }
    while ((row = carn_stream_row(stream)) != NULL) {
        if (!job->same)
            clipped += carn_convert_row(job->convert, frame, row, to);
        carn_stream_write(stream, job->same ? row : to);
    }
    free(to);
    return stream->failed ? -1 : count_clipped(job, frame, clipped);
}

static int convert_frame(struct job *job, struct carn_stream *stream)
{
    struct carn_error *err = &job->tool->err;
    const struct carn_frame *frame = &stream->frame;
    struct carn_frame written = {0};
    int rc = take_source(job, frame);
    if (rc == 0)
        rc = carn_frame_copy(&written, frame, err);
    if (rc == 0)
        rc = carn_frame_set_blob(&written, "icc", job->bytes, job->size, err);
    written.colours = 3;
    if (rc == 0)
        rc = convert_rows(job, stream, &written);
    carn_frame_clear(&written);
    return rc;
}

static void tell_clipped(struct job *job)
{
    char where[512] = "";
    if (job->frames > 1)
        snprintf(where, sizeof where, ", in %zu of %zu frames, most in %s (%.2f %%)",
                 job->clipped_frames, job->frames, job->worst, 100 * job->worst_share);
    if (job->clipped > 0)
        carn_tool_note(job->tool, "clipped",
                       "%s%sclipped %.0f of %.0f pixels (%.2f %%) that %s does not hold%s",
                       job->frames == 1 ? job->worst : "", job->frames == 1 ? ": " : "",
                       job->clipped, job->pixels, 100 * job->clipped / job->pixels, job->target,
                       where);
}

int main(int argc, char **argv)
{
    struct job job = {.intent = CARN_RELATIVE};
    const struct carn_option options[] = {
        {'o', "profile", "PROFILE", "into this: srgb, oprgb, p3-d65, bt709, bt2020, romm or a file",
         .text = &job.target},
        {'i', "intent", "INTENT", .help = "relative (default), perceptual, saturation, absolute"},
        {'B', "no-black-point", NULL, "no black-point compensation", .flag = &job.no_black_point},
        {0},
    };
    struct carn_tool tool = {.name = "carn-to-profile",
                             .operands = "<FRAMES >FRAMES",
                             .purpose = "Converts whole frames into another RGB profile.",
                             .options = options};
    job.tool = &tool;

    /* arguments */
    static const char *const intents[] = {"perceptual", "relative", "saturation", "absolute", NULL};
    int key, choice;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        if ((choice = carn_tool_choice(&tool, "--intent", intents)) < 0)
            return carn_tool_end(&tool);
        job.intent = (enum carn_intent)choice;
    }
    if (key == 0 && carn_tool_no_operand(&tool, argc, argv) == 0 && job.target == NULL)
        carn_fail(&tool.err, CARN_USAGE, "no profile given; see %s --help", tool.name);
    bool go = key == 0 && tool.err.kind == CARN_NONE;

    /* prepare */
    struct carn_stream stream = {0};
    go = go && open_target(&job) == 0 && carn_stream_open(&stream, true, &tool.err) == 0;

    /* data */
    while (go && carn_stream_next(&stream))
        go = convert_frame(&job, &stream) == 0;
    carn_stream_close(&stream);
    if (stream.ended && !stream.failed)
        tell_clipped(&job);

    /* clean up */
    carn_convert_close(job.convert);
    carn_profile_close(job.profile);
    free(job.bytes);
    carn_frame_profile_forget(&job.last);
    free(job.worst);
    return carn_tool_end(&tool);
}
