/*
 * carn-crop: the faces of frames, cut out of them at full size: a frame a face.
 */
#include "frame/crop.h"
#include "base/tool.h"
#include "frame/average.h"
#include "frame/patch.h"
#include "frame/stream.h"
#include "frame/upright.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { WIDTH = 512, WIDEST = 1 << 15 };

/* One face of the frame that is read, in stored pixels; filled row by row. */
struct face {
    size_t x, y, w, h; /* of the frame */
    size_t width, height;
    struct carn_average *average;
    uint16_t *picture;
    size_t rows;
};

struct job {
    struct carn_patches *patches;
    struct carn_stream stream;
    size_t width;
    double room;
    size_t count;
    struct face *faces;
    struct carn_tool *tool;
    struct carn_error *err;
};

/* ---- one frame ---- */

static int open_face(const struct job *job, const struct carn_box *box, struct face *face)
{
    const struct carn_frame *frame = &job->stream.frame;
    size_t channels = carn_frame_channels(frame);
    unsigned orientation = carn_frame_orientation(frame);
    bool lies = carn_upright_lies(orientation);
    size_t wide = lies ? frame->height : frame->width, high = lies ? frame->width : frame->height;
    struct carn_area area = {box->x0, box->y0, box->x1, box->y1};
    area = carn_upright_area(orientation, frame->width, frame->height, area);
    struct carn_crop part = carn_crop_about((struct carn_crop){(double)area.x0, (double)area.y0,
                                                               (double)(area.x1 - area.x0),
                                                               (double)(area.y1 - area.y0)},
                                            job->room, (double)wide, (double)high);
    /* Cut to whole pixels as it is seen: the same ones however the picture is stored. */
    size_t w = (size_t)fmax(part.w, 1), h = (size_t)fmax(part.h, 1);
    area =
        (struct carn_area){(size_t)part.x, (size_t)part.y, (size_t)part.x + w, (size_t)part.y + h};
    area = carn_upright_area(carn_upright_back(orientation), wide, high, area);
    face->x = area.x0;
    face->y = area.y0;
    face->w = area.x1 - area.x0;
    face->h = area.y1 - area.y0;
    size_t width = job->width < w ? job->width : w; /* upright, as job->width is */
    face->width = lies ? carn_average_height(w, h, width) : width;
    face->height = carn_average_height(face->w, face->h, face->width);
    face->average = carn_average_open(face->w, face->h, channels, face->width, job->err);
    face->picture =
        carn_alloc(face->width * channels * face->height, sizeof *face->picture, job->err);
    return face->average != NULL && face->picture != NULL ? 0 : -1;
}

static int open_faces(struct job *job)
{
    size_t count = 0;
    struct carn_box *boxes = carn_patches_boxes(job->patches, &job->stream.frame, &count, job->err);
    job->faces = boxes != NULL ? carn_alloc(count + 1, sizeof *job->faces, job->err) : NULL;
    int rc = job->faces != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < count; i++)
        if (boxes[i].face)
            rc = open_face(job, &boxes[i], &job->faces[job->count++]);
    free(boxes);
    return rc;
}

static void take_row(struct job *job, const uint16_t *row, size_t y)
{
    size_t channels = carn_frame_channels(&job->stream.frame);
    for (size_t i = 0; i < job->count; i++) {
        struct face *face = &job->faces[i];
        if (y < face->y || y >= face->y + face->h)
            continue;
        const uint16_t *done = carn_average_push(face->average, row + face->x * channels);
        size_t samples = face->width * channels;
        if (done != NULL)
            memcpy(face->picture + samples * face->rows++, done, samples * sizeof *done);
    }
}

static int write_face(struct job *job, const struct face *face)
{
    struct carn_frame written = {0};
    size_t samples = face->width * carn_frame_channels(&job->stream.frame);
    int rc = carn_frame_copy(&written, &job->stream.frame, job->err);
    written.width = face->width;
    written.height = face->height;
    if (rc == 0) /* a part is not the whole averaged down, so its key full goes */
        rc = carn_frame_set(&written, "full", NULL, job->err);
    if (rc == 0 && face->width < face->w && carn_frame_get(&written, "smoothed") == NULL)
        rc = carn_frame_set(&written, "smoothed", "average", job->err);
    if (rc == 0)
        rc = carn_stream_begin(&job->stream, &written);
    for (size_t y = 0; rc == 0 && y < face->height; y++)
        rc = carn_stream_write(&job->stream, face->picture + samples * y);
    carn_frame_clear(&written);
    return rc;
}

static void close_faces(struct job *job)
{
    for (size_t i = 0; job->faces != NULL && i < job->count; i++) {
        carn_average_close(job->faces[i].average);
        free(job->faces[i].picture);
    }
    free(job->faces);
    job->faces = NULL;
    job->count = 0;
}

static int crop_frame(struct job *job)
{
    size_t y = 0;
    int rc = open_faces(job);
    for (const uint16_t *row; rc == 0 && (row = carn_stream_row(&job->stream)) != NULL;)
        take_row(job, row, y++);
    if (job->stream.failed)
        rc = -1;
    if (rc == 0 && job->count == 0) {
        carn_tool_note(job->tool, "none", "%s: no row of tone all",
                       carn_frame_name(&job->stream.frame));
        job->tool->status = job->tool->status > 1 ? job->tool->status : 1;
    }
    for (size_t i = 0; rc == 0 && i < job->count; i++)
        rc = write_face(job, &job->faces[i]);
    close_faces(job);
    return rc;
}

int main(int argc, char **argv)
{
    const char *patches = NULL;
    const struct carn_option options[] = {
        {'p', "patches", "PATCHES", "where the faces are: rows of tone all", .text = &patches},
        {'w', "width", "WIDTH",
         .help = "width of a face's picture in pixels (512); never enlarged"},
        {'r', "room", "TIMES", .help = "width of the picture in widths of the face (1.5)"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-crop",
                             .operands = "-p PATCHES <FRAMES >FRAMES",
                             .purpose = "Cuts the faces out of frames: a frame a face.",
                             .options = options};
    struct job job = {.width = WIDTH, .room = CARN_CROP_FACE, .tool = &tool, .err = &tool.err};

    /* arguments */
    int key, rc = 0;
    while (rc == 0 && (key = carn_tool_option(&tool, argc, argv)) != 0) {
        if (key < 0)
            return carn_tool_end(&tool);
        rc = key == 'w' ? carn_tool_whole(&tool, "width", 1, WIDEST, &job.width)
                        : carn_tool_number(&tool, "room", 0.1, 100, &job.room);
    }
    if (rc == 0 && carn_tool_no_operand(&tool, argc, argv) == 0 && patches == NULL)
        carn_fail(&tool.err, CARN_USAGE, "no patches given; see %s --help", tool.name);

    /* prepare */
    if (tool.err.kind == CARN_NONE)
        job.patches = carn_patches_read(patches, &tool.err);
    bool go = job.patches != NULL && carn_stream_open(&job.stream, true, &tool.err) == 0;

    /* data */
    while (go && carn_stream_next(&job.stream))
        go = crop_frame(&job) == 0;

    /* clean up */
    carn_stream_close(&job.stream);
    carn_patches_close(job.patches);
    return carn_tool_end(&tool);
}
