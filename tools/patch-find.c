/* carn-patch-find: finds the faces of frames, where their skin is to be measured. */
#include "base/table.h"
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "frame/patch.h"
#include "frame/stream.h"
#include "skin/body.h"
#include "skin/face.h"
#include "skin/skin_patch.h"
#include "skin/thumbnail.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Faces of a lower confidence are left out. 95 of 100 pictures without people then give none. */
static const double LEAST = 0.2;

/* What the loop over frames needs. */
struct job {
    struct carn_tool *tool;
    struct carn_frame_profile last;
    struct carn_detector *detector;
    int squares;  /* a face; 0: the face itself */
    bool body;    /* where no face is found */
    bool printed; /* the header */
};

static void print_header(struct job *job)
{
    if (!job->printed && job->squares > 0)
        puts("frame\tpatch\ttone\tx\ty\tw\th\tconfidence");
    else if (!job->printed)
        carn_patch_print_header(stdout);
    job->printed = true;
}

static void print_square(const char *name, int face, const struct carn_skin_patch *found,
                         const struct carn_thumbnail *planes)
{
    double w = (double)planes->width / 100, h = (double)planes->height / 100;
    carn_table_print(stdout, name);
    printf("\tface%d-%s\t%s\t%.3f%%\t%.3f%%\t%.3f%%\t%.3f%%\t%.3f\n", face, found->tone,
           found->tone, found->x / w, found->y / h, found->side / w, found->side / h,
           found->confidence);
}

static void print_oval(const char *name, const char *kind, int number, const struct carn_outline *o,
                       const struct carn_thumbnail *planes)
{
    double w = (double)planes->width / 100, h = (double)planes->height / 100;
    carn_table_print(stdout, name);
    printf("\t%s-%d\tall\t%.3f%%\t%.3f%%\t%.3f%%\t%.3f%%\t%.2f\t", kind, number,
           (o->x - o->across) / w, (o->y - o->down) / h, 2 * o->across / w, 2 * o->down / h,
           o->tilt);
}

static void print_face(const char *name, int number, const struct carn_face *face,
                       const struct carn_thumbnail *planes)
{
    double w = (double)planes->width / 100, h = (double)planes->height / 100;
    const struct carn_outline *o = &face->outline;
    print_oval(name, "face", number, o, planes);
    for (int i = 0; i < CARN_POINTS; i++)
        printf("%s%.3f %.3f", i == 0 ? "" : " ", o->points[i][0] / w, o->points[i][1] / h);
    printf("\t%.3f\tface\n", face->confidence);
}

/* 0, or -1. Nobody may take it for a face: its row is printed, the frame stays without one. */
static int find_body(struct job *job, const char *name, const struct carn_thumbnail *planes)
{
    struct carn_body body;
    int found = carn_body_find(planes, &body, &job->tool->err);
    if (found <= 0)
        return found;
    print_oval(name, "body", 1, &body.outline, planes);
    printf("-\t%.3f\tbody\n", carn_body_confidence);
    return 0;
}

/* Prints the faces, or squares on them; how many rows, or -1. */
static int find_patches(struct job *job, const char *name, const struct carn_thumbnail *planes)
{
    struct carn_error *err = &job->tool->err;
    struct carn_face faces[CARN_FACES];
    int rows = 0, count = carn_faces(job->detector, planes, LEAST, faces, err);
    for (int i = 0; i < count; i++) {
        struct carn_skin_patch found[CARN_SKIN_PATCHES];
        if (job->squares == 0) {
            print_face(name, i + 1, &faces[i], planes);
            rows++;
            continue;
        }
        int made = carn_skin_patches(planes, &faces[i], job->squares, found, err);
        if (made < 0)
            return -1;
        for (int k = 0; k < made; k++, rows++)
            print_square(name, i + 1, &found[k], planes);
    }
    return count < 0 ? -1 : rows;
}

static int find_in_frame(struct job *job, struct carn_stream *stream)
{
    const struct carn_frame *frame = &stream->frame;
    const char *name = carn_frame_name(frame);
    struct carn_thumbnail_maker *maker = NULL;
    const struct carn_thumbnail *planes = NULL;
    int rows = 0;
    if (frame->colours == 3) {
        carn_tool_note_of(job->tool, "untagged", name, carn_frame_profile_note(frame));
        planes = carn_thumbnail_read(stream, &job->last, &maker, &job->tool->err);
        if (planes != NULL)
            planes = carn_thumbnail_search(maker, &job->tool->err);
        rows = planes != NULL ? 0 : -1;
    } else {
        carn_tool_note(job->tool, "grey", "%s: a grey frame has no skin to find", name);
        while (carn_stream_row(stream) != NULL)
            ;
    }
    if (rows == 0 && !stream->failed)
        print_header(job);
    if (planes != NULL)
        rows = find_patches(job, name, planes);
    if (planes != NULL && rows == 0 && job->body && job->squares == 0)
        rows = find_body(job, name, planes);
    carn_thumbnail_close(maker);
    if (!stream->failed && rows == 0 && job->tool->status == 0)
        job->tool->status = 1;
    return rows < 0 || stream->failed ? -1 : 0;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'b', "body", NULL, .help = "other bare skin too, where no face is found"},
        {'s', "squares", "N", .help = "N even squares on each face, 1 to 3, in place of the face"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-patch-find",
                             .operands = "<FRAMES >PATCHES",
                             .purpose = "Finds faces to measure the skin of.",
                             .options = options};
    struct job job = {.tool = &tool, .squares = 0};

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        double number = 0;
        if (key == 'b') {
            job.body = true;
            continue;
        }
        if (carn_number(tool.value, "--squares", &number, &tool.err) != 0)
            break;
        if (number != 1 && number != 2 && number != 3)
            carn_fail(&tool.err, CARN_USAGE, "--squares: %s is not 1, 2 or 3", tool.value);
        job.squares = (int)number;
    }
    bool go =
        key == 0 && tool.err.kind == CARN_NONE && carn_tool_no_operand(&tool, argc, argv) == 0;

    /* prepare */
    struct carn_stream stream = {0};
    char weights[4096];
    if (go && carn_tool_share("face-detector.net", weights, sizeof weights, &tool.err) == 0)
        job.detector = carn_detector_open(weights, &tool.err);
    go = go && job.detector != NULL && carn_stream_open(&stream, false, &tool.err) == 0;

    /* data */
    while (go && carn_stream_next(&stream))
        go = find_in_frame(&job, &stream) == 0;

    /* clean up */
    carn_stream_close(&stream);
    carn_frame_profile_forget(&job.last);
    carn_detector_close(job.detector);
    return carn_tool_end(&tool);
}
