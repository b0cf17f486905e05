/* carn-patch-find: proposes evenly lit patches of skin on the faces of frames. */
#include "base/table.h"
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "colour/lab_lookup.h"
#include "frame/keys.h"
#include "frame/stream.h"
#include "skin/face.h"
#include "skin/skin_patch.h"
#include "skin/thumbnail.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Log-odds from which a square is taken for a face. Chosen with all photographs in view, so that
 * pictures without people give none in over 90 of 100 and few frames with people go without. */
static const double FACE = 0.5;

/* What the loop over frames needs. */
struct job {
    struct carn_tool *tool;
    struct carn_frame_profile last;
    int count;    /* patches a face */
    bool printed; /* the header */
};

static void print_header(struct job *job)
{
    if (!job->printed)
        puts("frame\tpatch\ttone\tx\ty\tw\th\tconfidence");
    job->printed = true;
}

static void print_patch(const char *name, int face, const struct carn_skin_patch *found,
                        const struct carn_thumbnail *planes)
{
    double w = (double)planes->width / 100, h = (double)planes->height / 100;
    carn_table_print(stdout, name);
    printf("\tface%d-%s\t%s\t%.3f%%\t%.3f%%\t%.3f%%\t%.3f%%\t%.3f\n", face, found->tone,
           found->tone, found->x / w, found->y / h, found->side / w, found->side / h,
           found->confidence);
}

/* Prints what is found; how many rows, or -1. */
static int find_patches(struct job *job, const char *name, const struct carn_thumbnail *planes)
{
    struct carn_error *err = &job->tool->err;
    struct carn_face faces[CARN_FACES];
    int rows = 0, named = 0, count = carn_faces(planes, FACE, faces, err);
    for (int i = 0; i < count; i++) {
        struct carn_skin_patch found[CARN_SKIN_PATCHES];
        int made = carn_skin_patches(planes, &faces[i], job->count, found, err);
        if (made < 0)
            return -1;
        named += made > 0;
        for (int k = 0; k < made; k++, rows++)
            print_patch(name, named, &found[k], planes);
    }
    return count < 0 ? -1 : rows;
}

static int find_in_frame(struct job *job, struct carn_stream *stream)
{
    const struct carn_frame *frame = &stream->frame;
    struct carn_error why = {0}, *err = &job->tool->err;
    struct carn_thumbnail_maker *maker = NULL;
    int rows = 0;
    if (frame->colours == 3) {
        carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                          carn_frame_profile_note(frame));
        const struct carn_lab_lookup *quick = carn_frame_lab_lookup(&job->last, frame, err);
        if (quick != NULL)
            maker = carn_thumbnail_open(frame, quick, &why);
        if (maker == NULL)
            return carn_fail_from(err, &why, carn_frame_name(frame));
    } else {
        carn_tool_note(job->tool, "grey", "%s: a grey frame has no skin to find",
                       carn_frame_name(frame));
    }
    for (const uint16_t *row; (row = carn_stream_row(stream)) != NULL;)
        if (maker != NULL)
            carn_thumbnail_push(maker, row);
    if (!stream->failed)
        print_header(job);
    if (!stream->failed && maker != NULL)
        rows = find_patches(job, carn_frame_name(frame), carn_thumbnail_done(maker));
    carn_thumbnail_close(maker);
    if (!stream->failed && rows == 0 && job->tool->status == 0)
        job->tool->status = 1;
    return rows < 0 ? -1 : 0;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'n', "number", "N", "patches a face, 1 to 3 (3)"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-patch-find",
                             .operands = "<FRAMES >PATCHES",
                             .purpose = "Proposes evenly lit patches of skin on faces.",
                             .options = options};
    struct job job = {.tool = &tool, .count = CARN_SKIN_PATCHES};

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        double number = 0;
        if (carn_number(tool.value, "--number", &number, &tool.err) != 0)
            break;
        if (number != 1 && number != 2 && number != 3)
            carn_fail(&tool.err, CARN_USAGE, "--number: %s is not 1, 2 or 3", tool.value);
        job.count = (int)number;
    }
    bool go =
        key == 0 && tool.err.kind == CARN_NONE && carn_tool_no_operand(&tool, argc, argv) == 0;

    /* prepare */
    struct carn_stream stream = {0};
    go = go && carn_stream_open(&stream, false, &tool.err) == 0;

    /* data */
    while (go && carn_stream_next(&stream))
        go = find_in_frame(&job, &stream) == 0;

    /* clean up */
    carn_stream_close(&stream);
    carn_frame_profile_forget(&job.last);
    return carn_tool_end(&tool);
}
