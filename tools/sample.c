/* carn-sample: readings of the patches of frames, one row a patch a frame. */
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "correct/measure.h"
#include "correct/reading.h"
#include "frame/patch.h"
#include "frame/stream.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* What the loop over frames needs. */
struct job {
    struct carn_tool *tool;
    struct carn_patches *patches;
    struct carn_separation *separation;
    struct carn_frame_profile last;
    enum carn_mean mean;
    bool printed; /* the header */
};

static int print_rows(struct job *job, const struct carn_frame *frame,
                      struct carn_measure **measures, size_t count)
{
    struct carn_error *err = &job->tool->err;
    char *subject = carn_frame_text(frame, "subject", err);
    char *camera = carn_frame_text(frame, "camera", err);
    struct carn_reading *rows = carn_alloc(count, sizeof *rows, err);
    int rc = rows != NULL && err->kind == CARN_NONE ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < count; i++) {
        rows[i].frame = carn_frame_name(frame);
        rows[i].subject = subject != NULL ? subject : "-";
        rows[i].camera = camera != NULL ? camera : "-";
        struct carn_error why = {0};
        rc = carn_measure_finish(measures[i], job->last.profile, job->separation, job->mean,
                                 &rows[i], &why);
        if (rc != 0)
            carn_fail_from(err, &why, carn_frame_name(frame));
    }
    if (rc == 0 && !job->printed)
        carn_reading_print_header(stdout);
    job->printed = job->printed || rc == 0;
    for (size_t i = 0; rc == 0 && i < count; i++)
        carn_reading_print(stdout, &rows[i]);
    free(rows);
    free(subject);
    free(camera);
    return rc;
}

/* One frame. What is wrong with it alone is told, and the next frame goes on. */
static void sample_frame(struct job *job, struct carn_stream *stream)
{
    struct carn_error *err = &job->tool->err;
    const struct carn_frame *frame = &stream->frame;
    size_t count = 0, opened = 0;
    struct carn_box *boxes = carn_patches_boxes(job->patches, frame, &count, err);
    if (boxes != NULL)
        carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                          carn_frame_profile_note(frame));
    struct carn_measure **measures =
        boxes != NULL && carn_frame_profile_take(&job->last, frame, err) >= 0
            ? carn_alloc(count, sizeof *measures, err)
            : NULL;
    while (measures != NULL && opened < count &&
           (measures[opened] = carn_measure_open(&boxes[opened], frame, err)) != NULL)
        opened++;
    bool good = measures != NULL && opened == count;
    if (!good) {
        struct carn_error told = {0};
        const char *name = carn_frame_name(frame);
        if (strcmp(err->where, name) != 0) {
            carn_fail_from(&told, err, name);
            *err = told;
        }
        carn_tool_trouble(job->tool);
    }
    const uint16_t *row;
    for (size_t y = 0; good && (row = carn_stream_row(stream)) != NULL; y++)
        for (size_t i = 0; i < count; i++)
            carn_measure_row(measures[i], y, row);
    if (good && !stream->failed && print_rows(job, frame, measures, count) != 0)
        carn_tool_trouble(job->tool);
    for (size_t i = 0; i < opened; i++)
        carn_measure_close(measures[i]);
    free(measures);
    free(boxes);
}

static void note_unused(struct job *job)
{
    size_t row = 0, line = 0;
    const char *patch = carn_patches_unused(job->patches, &row, &line);
    if (patch != NULL && job->tool->status == 0)
        carn_tool_note(job->tool, "unused", "patch '%s' of line %zu served no frame", patch, line);
}

static int parse_mean(const char *text, enum carn_mean *mean, struct carn_error *err)
{
    static const char *const names[] = {"trimmed", "plain", "median"};
    for (size_t i = 0; i < 3; i++) {
        if (strcmp(text, names[i]) == 0) {
            *mean = (enum carn_mean)i;
            return 0;
        }
    }
    return carn_fail(err, CARN_USAGE, "--mean: '%s' is not one of trimmed, plain, median", text);
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'p', "patches", "PATCHES", "table of where to measure"},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own"},
        {'B', "no-black-point", NULL, "no black-point compensation"},
        {'m', "mean", "KIND", "trimmed (default), plain or median"},
        {'q', "quiet", NULL, "no note about rows that served no frame"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-sample",
                             .operands = "<FRAMES >READINGS",
                             .purpose = "Reads the colour of patches of frames.",
                             .options = options};
    struct job job = {.tool = &tool};
    const char *patches = NULL, *separation = NULL;
    char path[4096];
    bool bpc = true, quiet = false;

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        switch (key) {
        case 'p':
            patches = tool.value;
            break;
        case 'k':
            separation = tool.value;
            break;
        case 'B':
            bpc = false;
            break;
        case 'q':
            quiet = true;
            break;
        default:
            if (parse_mean(tool.value, &job.mean, &tool.err) != 0)
                return carn_tool_end(&tool);
        }
    }
    if (key == 0 && carn_tool_no_operand(&tool, argc, argv) == 0 && patches != NULL &&
        strcmp(patches, "-") == 0)
        carn_fail(&tool.err, CARN_USAGE,
                  "the patches need a file, standard input holds the frames");
    if (key == 0 && patches == NULL)
        carn_fail(&tool.err, CARN_USAGE, "no patches given; see %s --help", tool.name);
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    struct carn_stream stream = {0};
    bool go = carn_stream_open(&stream, false, &tool.err) == 0;
    separation = carn_tool_separation(separation, path, sizeof path, &tool.err);
    if (go && separation != NULL)
        job.separation = carn_separation_open(separation, bpc, &tool.err);
    if (job.separation != NULL)
        job.patches = carn_patches_read(patches, &tool.err);

    /* data */
    while (job.patches != NULL && carn_stream_next(&stream))
        sample_frame(&job, &stream);
    if (stream.ended && !quiet)
        note_unused(&job);

    /* clean up */
    carn_stream_close(&stream);
    carn_frame_profile_forget(&job.last);
    carn_separation_close(job.separation);
    carn_patches_close(job.patches);
    return carn_tool_end(&tool);
}
