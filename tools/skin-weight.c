/* carn-skin-weight: adds to frames how far each pixel is skin. */
#include "base/table.h"
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "colour/lab_lookup.h"
#include "correct/reading.h"
#include "frame/keys.h"
#include "frame/stream.h"
#include "skin/likeness.h"
#include "skin/weight.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* What the loop over frames needs. */
struct job {
    struct carn_tool *tool;
    struct carn_readings readings; /* no rows: skin as such */
    struct carn_reference *references;
    struct carn_frame_profile last;
};

/* How well a reading serves a frame: 1 at all, 2 the same subject, 3 and up the same frame; 0 is
 * no skin. */
static int rank(const struct carn_reading *reading, const char *frame, const char *subject)
{
    if (!carn_reading_is_skin(reading) || carn_chroma(reading->lab) < 1)
        return 0;
    int same = carn_table_serves(reading->frame, frame);
    if (same > 0)
        return 2 + same;
    return strcmp(subject, "-") != 0 && strcmp(subject, reading->subject) == 0 ? 2 : 1;
}

/* The readings that serve this frame best; doubtful ones only when there are no others. */
static size_t pick_readings(struct job *job, const struct carn_frame *frame, const char *subject)
{
    const struct carn_readings *readings = &job->readings;
    const char *name = carn_frame_name(frame);
    int best = 0;
    for (size_t i = 0; i < readings->count; i++) {
        int own = rank(&readings->rows[i], name, subject);
        best = own > best ? own : best;
    }
    size_t count = 0, sound = 0;
    for (size_t i = 0; i < readings->count; i++)
        sound += rank(&readings->rows[i], name, subject) == best &&
                 (readings->rows[i].flags & CARN_DOUBTS) == 0;
    for (size_t i = 0; best > 0 && i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        if (rank(r, name, subject) == best && (sound == 0 || (r->flags & CARN_DOUBTS) == 0))
            job->references[count++] = carn_reference_of_reading(r->lab, r->spread);
    }
    if (best == 1)
        carn_tool_note(job->tool, "foreign",
                       "%s: no reading is of this frame or its subject, all %zu serve", name,
                       count);
    return count;
}

static int take_references(struct job *job, const struct carn_frame *frame, size_t *count)
{
    struct carn_error *err = &job->tool->err;
    *count = 1;
    if (job->readings.count == 0) {
        job->references[0] = carn_reference_of_skin();
        return 0;
    }
    char *subject = carn_frame_text(frame, "subject", err);
    if (subject == NULL && err->kind != CARN_NONE)
        return -1;
    *count = pick_readings(job, frame, subject != NULL ? subject : "-");
    free(subject);
    return *count > 0
               ? 0
               : carn_fail_at(err, CARN_INPUT, carn_frame_name(frame), "%s has no reading of skin",
                              carn_table_label(job->readings.table));
}

static int weigh_frame(struct job *job, struct carn_stream *stream)
{
    struct carn_error *err = &job->tool->err;
    const struct carn_frame *frame = &stream->frame;
    struct carn_frame written = {0};
    struct carn_weight *weight = NULL;
    size_t count = 0;
    if (frame->colours != 3)
        return carn_fail_at(err, CARN_INPUT, carn_frame_name(frame),
                            "a grey frame has no skin to find");
    carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                      carn_frame_profile_note(frame));
    const struct carn_lab_lookup *quick = carn_frame_lab_lookup(&job->last, frame, err);
    if (quick != NULL && take_references(job, frame, &count) == 0 &&
        carn_frame_copy(&written, frame, err) == 0) {
        written.weight = true;
        weight = carn_weight_open(frame, quick, job->references, count, err);
    }
    int rc = weight != NULL ? carn_stream_begin(stream, &written) : -1;
    for (const uint16_t *row; rc == 0 && (row = carn_stream_row(stream)) != NULL;) {
        carn_weight_push(weight, row);
        for (const uint16_t *done; (done = carn_weight_pull(weight)) != NULL;)
            carn_stream_write(stream, done);
    }
    carn_weight_close(weight);
    carn_frame_clear(&written);
    return rc;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'r', "readings", "READINGS", "readings of this very subject to be like"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-skin-weight",
                             .operands = "<FRAMES >FRAMES",
                             .purpose = "Adds to frames how far each pixel is skin.",
                             .options = options};
    struct job job = {.tool = &tool};
    const char *readings = NULL;

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0)
        readings = tool.value;
    if (key == 0 && carn_tool_no_operand(&tool, argc, argv) == 0 && readings != NULL &&
        strcmp(readings, "-") == 0)
        carn_fail(&tool.err, CARN_USAGE,
                  "the readings need a file, standard input holds the frames");
    bool go = key == 0 && tool.err.kind == CARN_NONE;

    /* prepare */
    struct carn_stream stream = {0};
    go = go && carn_stream_open(&stream, true, &tool.err) == 0 &&
         (readings == NULL ||
          carn_readings_read(readings, CARN_NEED_LAB, &job.readings, &tool.err) == 0);
    if (go)
        job.references = carn_alloc(job.readings.count + 1, sizeof *job.references, &tool.err);
    go = job.references != NULL;

    /* data */
    while (go && carn_stream_next(&stream))
        go = weigh_frame(&job, &stream) == 0;

    /* clean up */
    carn_stream_close(&stream);
    carn_readings_clear(&job.readings);
    free(job.references);
    carn_frame_profile_forget(&job.last);
    return carn_tool_end(&tool);
}
