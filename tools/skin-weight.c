/* carn-skin-weight: adds to frames how far each pixel is skin. */
#include "base/tone.h"
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "colour/lab_lookup.h"
#include "correct/reading.h"
#include "correct/serving.h"
#include "frame/keys.h"
#include "frame/patch.h"
#include "frame/stream.h"
#include "frame/upright.h"
#include "skin/likeness.h"
#include "skin/place.h"
#include "skin/weight.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* What the loop over frames needs. */
struct job {
    struct carn_tool *tool;
    struct carn_readings readings; /* no rows: skin as such */
    struct carn_patches *patches;  /* NULL: nobody's place is known */
    const char *only;              /* the patch whose weight is wanted; NULL: all */
    struct carn_person *persons;
    const char **names; /* the patch of each */
    size_t *serving;    /* rows of readings, for a frame */
    struct carn_frame_profile last;
};

/* Fills in the person that a reading stands for; false when it stands for none. A patch is one
 * person. So is a face, by its middle tone; its light and shade are none. */
static bool take_person(struct carn_person *person, const struct carn_readings *readings,
                        const struct carn_reading *r)
{
    struct carn_lab tones[CARN_TONES];
    person->placed = person->has_inside = false;
    for (int t = 0; t < CARN_TONES; t++) {
        const struct carn_reading *tone = carn_readings_tone(readings, r, (enum carn_tone)t);
        if (isnan(r->hue_spread) || tone == NULL) {
            carn_reference_of_reading(&person->like, r->lab, r->spread);
            return true;
        }
        tones[t] = tone->lab;
    }
    carn_reference_of_face(&person->like, tones, r->hue_spread, false);
    carn_reference_of_face(&person->inside, tones, r->hue_spread, true);
    person->has_inside = true;
    return carn_tone_of(r->tone) == CARN_TONE_MIDDLE;
}

/* The persons of the readings that serve this frame best. */
static size_t pick_readings(struct job *job, const struct carn_frame *frame, const char *subject)
{
    const struct carn_readings *readings = &job->readings;
    size_t count = 0;
    enum carn_serves how = CARN_SERVES_NONE;
    size_t served =
        carn_readings_serving(readings, carn_frame_name(frame), subject, job->serving, &how);
    for (size_t i = 0; i < served; i++) {
        const struct carn_reading *r = &readings->rows[job->serving[i]];
        job->names[count] = r->patch;
        count += take_person(&job->persons[count], readings, r);
    }
    if (how == CARN_SERVES_ANYBODY)
        carn_tool_note(job->tool, "foreign",
                       "%s: no reading is of this frame or its subject, all %zu serve",
                       carn_frame_name(frame), served);
    return count;
}

/* Puts persons where the patch table has their faces, by the names of the patches; one face and one
 * person belong together whatever their names. */
static int place_persons(struct job *job, const struct carn_frame *frame, size_t count)
{
    size_t boxes_count = 0, faces = 0;
    struct carn_box *boxes = carn_patches_boxes(job->patches, frame, &boxes_count, &job->tool->err);
    if (boxes == NULL)
        return -1;
    size_t w = frame->width, h = frame->height;
    bool turned = carn_upright_lies(carn_frame_orientation(frame));
    for (size_t i = 0; i < boxes_count; i++)
        faces += boxes[i].face;
    for (size_t i = 0; i < boxes_count; i++)
        for (size_t k = 0; boxes[i].face && k < count; k++) {
            if (strcmp(boxes[i].patch, job->names[k]) != 0 && (faces > 1 || count > 1))
                continue;
            job->persons[k].placed = true;
            job->persons[k].face = carn_place(turned ? h : w, turned ? w : h, &boxes[i], NULL, 0);
        }
    free(boxes);
    return 0;
}

/* The person of --patch, count for all of them; -1 with a message when there is no such patch. */
static int find_only(struct job *job, const struct carn_frame *frame, size_t count, size_t *only)
{
    *only = count;
    if (job->only == NULL)
        return 0;
    for (*only = 0; *only < count; (*only)++)
        if (strcmp(job->names[*only], job->only) == 0)
            return 0;
    return carn_fail_at(&job->tool->err, CARN_INPUT, carn_frame_name(frame),
                        "%s has no reading of patch '%s'", carn_table_label(job->readings.table),
                        job->only);
}

static int take_persons(struct job *job, const struct carn_frame *frame, size_t *count,
                        size_t *only)
{
    struct carn_error *err = &job->tool->err;
    *count = *only = 1;
    if (job->readings.count == 0) {
        carn_reference_of_skin(&job->persons[0].like);
        job->names[0] = "-";
        return job->patches != NULL ? place_persons(job, frame, 1) : 0;
    }
    char *subject = carn_frame_text(frame, "subject", err);
    if (subject == NULL && err->kind != CARN_NONE)
        return -1;
    *count = pick_readings(job, frame, subject != NULL ? subject : "-");
    free(subject);
    if (*count == 0)
        return carn_fail_at(err, CARN_INPUT, carn_frame_name(frame), "%s has no reading of skin",
                            carn_table_label(job->readings.table));
    if (find_only(job, frame, *count, only) != 0)
        return -1;
    return job->patches != NULL ? place_persons(job, frame, *count) : 0;
}

static int weigh_frame(struct job *job, struct carn_stream *stream)
{
    struct carn_error *err = &job->tool->err;
    const struct carn_frame *frame = &stream->frame;
    struct carn_frame written = {0};
    struct carn_weight *weight = NULL;
    size_t count = 0, only = 0;
    if (frame->colours != 3)
        return carn_fail_at(err, CARN_INPUT, carn_frame_name(frame),
                            "a grey frame has no skin to find");
    carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                      carn_frame_profile_note(frame));
    const struct carn_lab_lookup *quick = carn_frame_lab_lookup(&job->last, frame, err);
    if (quick != NULL && take_persons(job, frame, &count, &only) == 0 &&
        carn_frame_copy(&written, frame, err) == 0) {
        written.weight = true;
        weight = carn_weight_open(frame, quick, job->persons, count, only, err);
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

/* Options without a short letter. */
enum { ONLY = 256 };

int main(int argc, char **argv)
{
    struct job job = {0};
    const char *readings = NULL, *patches = NULL;
    const struct carn_option options[] = {
        {'r', "readings", "READINGS", "readings of these people: what counts as their skin",
         .text = &readings},
        {'p', "patches", "PATCHES", "where the faces are", .text = &patches},
        {ONLY, "patch", "NAME", "only of the person whose patch in the readings this is",
         .text = &job.only},
        {0},
    };
    struct carn_tool tool = {.name = "carn-skin-weight",
                             .operands = "<FRAMES >FRAMES",
                             .purpose = "Adds to frames how far each pixel is skin.",
                             .options = options};
    job.tool = &tool;

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    if (key == 0 && carn_tool_no_operand(&tool, argc, argv) == 0 &&
        ((readings != NULL && strcmp(readings, "-") == 0) ||
         (patches != NULL && strcmp(patches, "-") == 0)))
        carn_fail(&tool.err, CARN_USAGE,
                  "readings and patches need files, standard input holds the frames");
    if (key == 0 && job.only != NULL && readings == NULL)
        carn_fail(&tool.err, CARN_USAGE, "--patch: needs the readings of -r");
    bool go = key == 0 && tool.err.kind == CARN_NONE;

    /* prepare */
    struct carn_stream stream = {0};
    go = go && carn_stream_open(&stream, true, &tool.err) == 0 &&
         (readings == NULL ||
          carn_readings_read(readings, CARN_NEED_LAB, &job.readings, &tool.err) == 0);
    if (go && patches != NULL)
        go = (job.patches = carn_patches_read(patches, &tool.err)) != NULL;
    if (go) {
        job.persons = carn_alloc(job.readings.count + 1, sizeof *job.persons, &tool.err);
        job.names = carn_alloc(job.readings.count + 1, sizeof(const char *), &tool.err);
        job.serving = carn_alloc(job.readings.count + 1, sizeof *job.serving, &tool.err);
    }
    go = job.persons != NULL && job.names != NULL && job.serving != NULL;

    /* data */
    while (go && carn_stream_next(&stream))
        go = weigh_frame(&job, &stream) == 0;

    /* clean up */
    carn_stream_close(&stream);
    carn_readings_clear(&job.readings);
    carn_patches_close(job.patches);
    free(job.persons);
    free(job.names);
    free(job.serving);
    carn_frame_profile_forget(&job.last);
    return carn_tool_end(&tool);
}
