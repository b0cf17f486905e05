/* carn-surface: what the camera did to the surface of skin, a row a patch a frame. */
#include "skin/surface.h"
#include "base/table.h"
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "frame/keys.h"
#include "frame/patch.h"
#include "frame/stream.h"
#include "frame/upright.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* What the loop over frames needs. */
struct job {
    struct carn_tool *tool;
    struct carn_patches *patches;
    struct carn_frame_profile last;
    bool printed; /* the header */
};

/* ---- printing ---- */

static void print_header(void)
{
    fputs("frame\tsubject\tcamera\tpatch\ttone\twidth\theight", stdout);
    for (size_t c = 0; c < 3; c++)
        for (int i = 0; i < CARN_BANDS; i++)
            printf("\trms_%c_%d", "Lab"[c], 2 << i);
    fputs("\tgrain_L\tgrain_a\tgrain_b\tdetail\tmottle_a\tmottle_b\thighlight_"
          "L\tshoulder\thighlight_chroma_slope\n",
          stdout);
}

static void print_number(double v)
{
    putchar('\t');
    carn_print_number(stdout, v, 4);
}

static void print_row(const char *const texts[3], const struct carn_box *box, bool lies,
                      const struct carn_surface_row *row)
{
    for (size_t i = 0; i < 3; i++) {
        carn_table_print(stdout, texts[i]);
        putchar('\t');
    }
    carn_table_print(stdout, box->patch);
    putchar('\t');
    carn_table_print(stdout, box->tone);
    size_t width = box->x1 - box->x0, height = box->y1 - box->y0;
    printf("\t%zu\t%zu", lies ? height : width, lies ? width : height);
    for (size_t c = 0; c < 3; c++)
        for (size_t i = 0; i < CARN_BANDS; i++)
            print_number(row->band[c][i]);
    for (size_t c = 0; c < 3; c++)
        print_number(row->grain[c]);
    const double rest[] = {row->detail,    row->mottle[0], row->mottle[1],
                           row->highlight, row->shoulder,  row->chroma_slope};
    for (size_t i = 0; i < sizeof rest / sizeof *rest; i++)
        print_number(rest[i]);
    putchar('\n');
}

/* The rows of a frame whole or not at all. */
static int print_rows(struct job *job, const struct carn_frame *frame, const struct carn_box *boxes,
                      struct carn_surface **surfaces, size_t count)
{
    struct carn_error *err = &job->tool->err, why = {0};
    char *subject = carn_frame_text(frame, "subject", err);
    char *camera = carn_frame_text(frame, "camera", err);
    struct carn_surface_row *rows = carn_alloc(count, sizeof *rows, err);
    int rc = rows != NULL && err->kind == CARN_NONE ? 0 : -1;
    bool lies = carn_upright_lies(carn_frame_orientation(frame));
    for (size_t i = 0; rc == 0 && i < count; i++)
        rc = carn_surface_finish(surfaces[i], &rows[i], &why);
    if (why.kind != CARN_NONE)
        carn_fail_from(err, &why, carn_frame_name(frame));
    if (rc == 0 && !job->printed)
        print_header();
    job->printed = job->printed || rc == 0;
    const char *texts[3] = {carn_frame_name(frame), subject != NULL ? subject : "-",
                            camera != NULL ? camera : "-"};
    for (size_t i = 0; rc == 0 && i < count; i++)
        print_row(texts, &boxes[i], lies, &rows[i]);
    free(rows);
    free(subject);
    free(camera);
    return rc;
}

/* ---- frames ---- */

/* Opens a surface a box; returns how many, count unless one failed. */
static size_t open_surfaces(struct job *job, const struct carn_frame *frame,
                            const struct carn_box *boxes, struct carn_surface **surfaces,
                            size_t count)
{
    struct carn_error *err = &job->tool->err, why = {0};
    const char *smoothed = carn_frame_get(frame, "smoothed");
    size_t opened = 0;
    if (smoothed != NULL) {
        carn_fail_at(err, CARN_INPUT, carn_frame_name(frame),
                     "smoothed (%s), its surface cannot be known any more", smoothed);
        return 0;
    }
    while (opened < count && (surfaces[opened] = carn_surface_open(
                                  &boxes[opened], frame, job->last.profile, &why)) != NULL)
        opened++;
    if (why.kind != CARN_NONE)
        carn_fail_from(err, &why, carn_frame_name(frame));
    return opened;
}

/* One frame. After trouble with it the next frame is read all the same. */
static void measure_frame(struct job *job, struct carn_stream *stream)
{
    struct carn_error *err = &job->tool->err;
    const struct carn_frame *frame = &stream->frame;
    size_t count = 0, opened = 0;
    struct carn_box *boxes = carn_patches_boxes(job->patches, frame, &count, err);
    if (boxes != NULL)
        carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                          carn_frame_profile_note(frame));
    struct carn_surface **surfaces =
        boxes != NULL && carn_frame_profile_take(&job->last, frame, err) >= 0
            ? carn_alloc(count, sizeof *surfaces, err)
            : NULL;
    if (surfaces != NULL)
        opened = open_surfaces(job, frame, boxes, surfaces, count);
    bool good = surfaces != NULL && opened == count;
    if (!good)
        carn_tool_trouble(job->tool);
    const uint16_t *row;
    for (size_t y = 0; good && (row = carn_stream_row(stream)) != NULL; y++)
        for (size_t i = 0; i < count; i++)
            carn_surface_take(surfaces[i], y, row);
    if (good && !stream->failed && print_rows(job, frame, boxes, surfaces, count) != 0)
        carn_tool_trouble(job->tool);
    for (size_t i = 0; i < opened; i++)
        carn_surface_close(surfaces[i]);
    free(surfaces);
    free(boxes);
}

int main(int argc, char **argv)
{
    const char *patches = NULL;
    bool quiet = false;
    const struct carn_option options[] = {
        {'p', "patches", "PATCHES", "table of where to measure", .text = &patches},
        {'q', "quiet", NULL, "no note about rows that served no frame", .flag = &quiet},
        {0},
    };
    struct carn_tool tool = {.name = "carn-surface",
                             .operands = "<FRAMES >SURFACE",
                             .purpose = "Measures the surface of skin by spatial band.",
                             .options = options};
    struct job job = {.tool = &tool};

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    if (key == 0 && carn_tool_no_operand(&tool, argc, argv) == 0 && patches == NULL)
        carn_fail(&tool.err, CARN_USAGE, "no patches given; see %s --help", tool.name);
    else if (key == 0 && patches != NULL && strcmp(patches, "-") == 0)
        carn_fail(&tool.err, CARN_USAGE,
                  "the patches need a file, standard input holds the frames");
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    struct carn_stream stream = {0};
    if (carn_stream_open(&stream, false, &tool.err) == 0)
        job.patches = carn_patches_read(patches, &tool.err);

    /* data */
    while (job.patches != NULL && carn_stream_next(&stream))
        measure_frame(&job, &stream);
    if (stream.ended && !quiet && tool.status == 0) {
        size_t row = 0, line = 0;
        const char *unused = carn_patches_unused(job.patches, &row, &line);
        if (unused != NULL)
            carn_tool_note(&tool, "unused", "patch '%s' of line %zu served no frame", unused, line);
    }

    /* clean up */
    carn_stream_close(&stream);
    carn_frame_profile_forget(&job.last);
    carn_patches_close(job.patches);
    return carn_tool_end(&tool);
}
