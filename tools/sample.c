/* carn-sample: readings of the patches of frames, one row a patch a frame. */
#include "base/target.h"
#include "base/tone.h"
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "correct/measure.h"
#include "correct/reading.h"
#include "frame/keys.h"
#include "frame/patch.h"
#include "frame/stream.h"
#include "skin/cover.h"
#include "skin/face_skin.h"
#include "skin/likeness.h"
#include "skin/place.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The least toning (face_skin.h) of a picture in colour. 70 photographs of faces have 3 and more.
 * 24 grey and sepia JPEGs have 2 at most, small and coarse ones up to 3. */
static const double TONED = 2.4;

/* Least score of a detected face that may be the one in a row's box. */
static const double FACE = 0.3;

/* What the loop over frames needs. */
struct job {
    struct carn_tool *tool;
    struct carn_patches *patches;
    struct carn_separation *separation;
    struct carn_detector *detector; /* NULL until a face has to be looked for */
    struct carn_frame_profile last;
    enum carn_mean mean;
    struct carn_covers bitmaps;
    bool printed; /* the header */
};

/* One frame's patches, and what its rows add to them. */
struct sampling {
    size_t count;
    struct carn_box *boxes;
    struct carn_measure **measures;     /* NULL for a face of an RGB frame */
    struct carn_thumbnail_maker *maker; /* for faces; else NULL */
    struct carn_reading *rows;          /* up to CARN_TONES a patch */
    size_t row_count;
    double pixels; /* of the frame */
    struct carn_detection found[CARN_DETECTIONS];
    int found_count;
};

static void close_sampling(struct sampling *s)
{
    for (size_t i = 0; s->measures != NULL && i < s->count; i++)
        carn_measure_close(s->measures[i]);
    carn_thumbnail_close(s->maker);
    free(s->measures);
    free(s->boxes);
    free(s->rows);
}

static int open_sampling(struct job *job, const struct carn_frame *frame, struct sampling *s)
{
    struct carn_error *err = &job->tool->err;
    s->pixels = (double)frame->width * (double)frame->height;
    s->boxes = carn_patches_boxes(job->patches, frame, &s->count, err);
    if (s->boxes == NULL)
        return -1;
    carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                      carn_frame_profile_note(frame));
    if (carn_frame_profile_take(&job->last, frame, err) < 0)
        return -1;
    s->measures = carn_alloc(s->count, sizeof(struct carn_measure *), err);
    s->rows = carn_alloc(s->count, CARN_TONES * sizeof *s->rows, err);
    if (s->measures == NULL || s->rows == NULL)
        return -1;
    for (size_t i = 0; i < s->count; i++) {
        if (!s->boxes[i].face || frame->colours == 1) {
            if ((s->measures[i] = carn_measure_open(&s->boxes[i], frame, err)) == NULL)
                return -1;
        } else if (s->maker == NULL) {
            const struct carn_lab_lookup *quick = carn_frame_lab_lookup(&job->last, frame, err);
            if (quick == NULL || (s->maker = carn_thumbnail_open(frame, quick, err)) == NULL)
                return -1;
        }
    }
    return 0;
}

/* A patch's row. A face in a grey frame is read as a patch, and its row stands for all three tones.
 */
static int read_patch(struct job *job, struct sampling *s, size_t i, struct carn_error *err)
{
    struct carn_reading *row = &s->rows[s->row_count++];
    if (carn_measure_finish(s->measures[i], job->last.profile, job->separation, job->mean, row,
                            err) != 0)
        return -1;
    if (carn_reading_is_skin(row) && !carn_skin_can_be(row->lab, false))
        row->flags |= CARN_NOT_SKIN;
    for (int t = 0; s->boxes[i].face && t < CARN_TONES; t++) {
        s->rows[s->row_count - 1 + (size_t)t] = *row;
        s->rows[s->row_count - 1 + (size_t)t].tone = carn_tone_word((enum carn_tone)t);
    }
    s->row_count += s->boxes[i].face ? CARN_TONES - 1 : 0;
    return 0;
}

/* A face's three rows. */
static int read_face(struct job *job, struct sampling *s, const struct carn_thumbnail *planes,
                     const struct carn_box *box, struct carn_error *err)
{
    struct carn_outline outline =
        carn_place(planes->width, planes->height, box, s->found, s->found_count);
    struct carn_face_tones tones;
    if (carn_cover_tones(&job->bitmaps, planes, &outline, &tones, err) != 0)
        return -1;
    struct carn_reading *rows = &s->rows[s->row_count];
    double full = box->scale * s->pixels / (double)(planes->width * planes->height);
    bool skin = tones.pixels > 0 && tones.toning >= TONED;
    for (int t = 0; t < CARN_TONES; t++) {
        struct carn_reading *r = &rows[t];
        *r = (struct carn_reading){.patch = box->patch,
                                   .tone = carn_tone_word((enum carn_tone)t),
                                   .pixels = tones.tone[t].pixels,
                                   .spread = tones.tone[t].spread,
                                   .clipped = tones.tone[t].clipped,
                                   .hue_spread = tones.hue_spread,
                                   .greened = tones.greened};
        for (int c = 0; c < 3; c++)
            r->rgb[c] = tones.tone[t].rgb[c];
        carn_measure_colour(job->last.profile, 3, job->separation, r);
        r->flags = carn_measure_doubts(r, full * (double)r->pixels, true);
    }
    /* One face is skin or is not: its middle says so for all three. */
    skin = skin && carn_skin_can_be(rows[CARN_TONE_MIDDLE].lab, box->pointed);
    for (int t = 0; t < CARN_TONES && !skin; t++)
        rows[t].flags |= CARN_NOT_SKIN;
    s->row_count += CARN_TONES;
    return 0;
}

/* Detects the frame's faces, if any row of a face lacks points. */
static int look_for_faces(struct job *job, struct sampling *s, const struct carn_thumbnail *planes,
                          struct carn_error *err)
{
    char path[4096];
    bool look = false;
    for (size_t i = 0; i < s->count; i++)
        look = look || (s->measures[i] == NULL && !s->boxes[i].pointed);
    if (!look)
        return 0;
    if (job->detector == NULL && carn_tool_share("face-detector.net", path, sizeof path, err) == 0)
        job->detector = carn_detector_open(path, err);
    if (job->detector == NULL)
        return -1;
    s->found_count = carn_detect(job->detector, planes, FACE, s->found, err);
    return s->found_count < 0 ? -1 : 0;
}

static int print_rows(struct job *job, const struct carn_frame *frame, struct sampling *s)
{
    struct carn_error *err = &job->tool->err, why = {0};
    char *subject = carn_frame_text(frame, "subject", err);
    char *camera = carn_frame_text(frame, "camera", err);
    const struct carn_thumbnail *planes = s->maker != NULL ? carn_thumbnail_done(s->maker) : NULL;
    int rc = err->kind == CARN_NONE ? look_for_faces(job, s, planes, err) : -1;
    for (size_t i = 0; rc == 0 && i < s->count; i++) {
        rc = s->measures[i] != NULL ? read_patch(job, s, i, &why)
                                    : read_face(job, s, planes, &s->boxes[i], &why);
        if (rc != 0)
            carn_fail_from(err, &why, carn_frame_name(frame));
    }
    if (rc == 0 && !job->printed)
        carn_reading_print_header(stdout);
    job->printed = job->printed || rc == 0;
    for (size_t i = 0; rc == 0 && i < s->row_count; i++) {
        s->rows[i].frame = carn_frame_name(frame);
        s->rows[i].subject = subject != NULL ? subject : "-";
        s->rows[i].camera = camera != NULL ? camera : "-";
        carn_reading_print(stdout, &s->rows[i]);
    }
    free(subject);
    free(camera);
    return rc;
}

/* One frame. After trouble with it the next frame is read all the same. */
static void sample_frame(struct job *job, struct carn_stream *stream)
{
    struct carn_error *err = &job->tool->err;
    const struct carn_frame *frame = &stream->frame;
    struct sampling s = {0};
    if (open_sampling(job, frame, &s) != 0) {
        struct carn_error told = {0};
        const char *name = carn_frame_name(frame);
        if (strcmp(err->where, name) != 0) {
            carn_fail_from(&told, err, name);
            *err = told;
        }
        carn_tool_trouble(job->tool);
        close_sampling(&s);
        return;
    }
    const uint16_t *row;
    for (size_t y = 0; (row = carn_stream_row(stream)) != NULL; y++) {
        for (size_t i = 0; i < s.count; i++)
            if (s.measures[i] != NULL)
                carn_measure_row(s.measures[i], y, row);
        if (s.maker != NULL)
            carn_thumbnail_push(s.maker, row);
    }
    if (!stream->failed && print_rows(job, frame, &s) != 0)
        carn_tool_trouble(job->tool);
    close_sampling(&s);
}

static void note_unused(struct job *job)
{
    size_t row = 0, line = 0;
    const char *patch = carn_patches_unused(job->patches, &row, &line);
    if (patch != NULL && job->tool->status == 0)
        carn_tool_note(job->tool, "unused", "patch '%s' of line %zu served no frame", patch, line);
}

static void note_fractions(struct job *job)
{
    size_t line = 0;
    const char *patch = carn_patches_fractions(job->patches, &line);
    if (patch != NULL)
        carn_tool_note(job->tool, "fractions",
                       "patch '%s' of line %zu has x, y, w and h under 1 pixel: is %% missing?",
                       patch, line);
}

enum { SKIN = 256, SKIN_TO };

/* Opens the bitmaps to read and those to write, if asked for. */
static int open_bitmaps(struct job *job, const char *known, int *fd, struct carn_target *to)
{
    struct carn_error *err = &job->tool->err;
    if (known != NULL) {
        *fd = open(known, O_RDONLY | O_CLOEXEC);
        if (*fd < 0)
            return carn_fail_at(err, CARN_SYSTEM, known, "cannot open: %s", strerror(errno));
        job->bitmaps.known = carn_in_open(*fd, known, err);
    }
    if (to != NULL) {
        int copy = fcntl(carn_target_fd(to), F_DUPFD_CLOEXEC, 0); /* carn_out_finish closes it */
        job->bitmaps.found = copy >= 0 ? carn_out_open(copy, "--skin-to", err) : NULL;
    }
    return err->kind == CARN_NONE ? 0 : -1;
}

int main(int argc, char **argv)
{
    const char *patches = NULL, *separation = NULL, *known = NULL, *to = NULL;
    bool no_black_point = false, quiet = false;
    const struct carn_option options[] = {
        {'p', "patches", "PATCHES", "table of where to measure", .text = &patches},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own",
         .text = &separation},
        {'B', "no-black-point", NULL, "no black-point compensation", .flag = &no_black_point},
        {'m', "mean", "KIND", .help = "trimmed (default), plain or median"},
        {SKIN, "skin", "BITMAPS", "read faces at these pixels, as --skin-to wrote them",
         .text = &known},
        {SKIN_TO, "skin-to", "BITMAPS", "write which pixels of each face were read", .text = &to},
        {'q', "quiet", NULL, "no note about rows that served no frame", .flag = &quiet},
        {0},
    };
    struct carn_tool tool = {.name = "carn-sample",
                             .operands = "<FRAMES >READINGS",
                             .purpose = "Reads the colour of patches of frames.",
                             .options = options};
    struct job job = {.tool = &tool};
    char path[4096];

    /* arguments */
    static const char *const means[] = {"trimmed", "plain", "median", NULL};
    int key, choice;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        if ((choice = carn_tool_choice(&tool, "--mean", means)) < 0)
            return carn_tool_end(&tool);
        job.mean = (enum carn_mean)choice;
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
        job.separation = carn_separation_open(separation, !no_black_point, &tool.err);
    struct carn_target *target = NULL;
    int fd = -1;
    if (job.separation != NULL && (to == NULL || (target = carn_target_open(to, &tool.err))) &&
        open_bitmaps(&job, known, &fd, target) == 0)
        job.patches = carn_patches_read(patches, &tool.err);

    /* data */
    if (job.patches != NULL && !quiet)
        note_fractions(&job);
    while (job.patches != NULL && carn_stream_next(&stream))
        sample_frame(&job, &stream);
    if (stream.ended && !quiet)
        note_unused(&job);

    if (target != NULL && stream.ended && tool.status < 2 &&
        carn_out_finish(job.bitmaps.found, &tool.err) == 0)
        (void)carn_target_finish(target, &tool.err);

    /* clean up */
    carn_target_close(target);
    carn_out_close(job.bitmaps.found);
    carn_in_close(job.bitmaps.known);
    if (fd >= 0)
        (void)close(fd);
    carn_stream_close(&stream);
    carn_frame_profile_forget(&job.last);
    carn_detector_close(job.detector);
    carn_separation_close(job.separation);
    carn_patches_close(job.patches);
    return carn_tool_end(&tool);
}
