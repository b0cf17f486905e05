/*
 * faces: what is seen in frames and the features that its confidence is made of, a row a face; for
 * those who fit and test. A frame in which nothing is seen has a row of score 0.
 * usage: faces WEIGHTS [LEAST] <FRAMES >TABLE
 */
#include "base/table.h"
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "frame/stream.h"
#include "skin/face.h"
#include "skin/thumbnail.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

struct job {
    struct carn_tool tool;
    struct carn_frame_profile last;
    struct carn_detector *detector;
    double least;
};

static double milliseconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static void print_face(const char *name, const struct carn_thumbnail *planes,
                       const struct carn_face *face, double took)
{
    double w = (double)planes->width / 100, h = (double)planes->height / 100;
    const struct carn_outline *o = &face->outline;
    carn_table_print(stdout, name);
    printf("\t%.4f\t%.4f\t%.3f\t%.3f\t%.3f\t%.3f\t%.2f\t%.3f\t%.3f\t%.3f\t", face->seen.score,
           face->confidence, o->x / w, o->y / h, 2 * o->across / w, 2 * o->down / h, o->tilt,
           face->seen.x / w, face->seen.y / h, face->seen.side / w);
    for (int k = 0; k < CARN_POINTS; k++)
        printf("%s%.3f %.3f", k == 0 ? "" : " ", o->points[k][0] / w, o->points[k][1] / h);
    printf("\t%.1f", took);
    for (int i = 0; i < CARN_FACE_FEATURES; i++)
        printf("\t%.4f", face->features[i]);
    putchar('\n');
}

static int take_frame(struct job *job, struct carn_stream *stream)
{
    const char *name = carn_frame_name(&stream->frame);
    struct carn_face faces[CARN_FACES];
    const struct carn_lab_lookup *quick =
        carn_frame_lab_lookup(&job->last, &stream->frame, &job->tool.err);
    struct carn_thumbnail_maker *maker =
        quick != NULL ? carn_thumbnail_open(&stream->frame, quick, &job->tool.err) : NULL;
    if (maker == NULL)
        return -1;
    for (const uint16_t *row; (row = carn_stream_row(stream)) != NULL;)
        carn_thumbnail_push(maker, row);
    const struct carn_thumbnail *planes = carn_thumbnail_search(maker, &job->tool.err);
    double from = milliseconds();
    int count =
        planes != NULL ? carn_faces(job->detector, planes, job->least, faces, &job->tool.err) : -1;
    double took = milliseconds() - from;
    for (int i = 0; i < count; i++)
        print_face(name, planes, &faces[i], took);
    if (count == 0) {
        static const struct carn_face none = {.confidence = 0};
        print_face(name, planes, &none, took);
    }
    carn_thumbnail_close(maker);
    return count < 0 ? -1 : 0;
}

int main(int argc, char **argv)
{
    struct job job = {.tool = {.name = "faces"}};
    struct carn_stream stream = {0};
    if (argc > 2)
        job.least = strtod(argv[2], NULL);
    job.detector = argc > 1 ? carn_detector_open(argv[1], &job.tool.err) : NULL;
    bool go = job.detector != NULL && carn_stream_open(&stream, false, &job.tool.err) == 0;
    printf("frame\tscore\tconfidence\tx\ty\tw\th\ttilt\tbx\tby\tbs\tpoints\tms");
    for (int i = 0; i < CARN_FACE_FEATURES; i++)
        printf("\tf_%s", carn_face_features[i]);
    putchar('\n');
    while (go && carn_stream_next(&stream))
        go = take_frame(&job, &stream) == 0;
    carn_stream_close(&stream);
    carn_frame_profile_forget(&job.last);
    carn_detector_close(job.detector);
    return carn_tool_end(&job.tool);
}
