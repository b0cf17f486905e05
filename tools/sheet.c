/*
 * carn-sheet: frames as one contact sheet: a frame with all of them small, side by side, with where
 * they were measured, what was measured, and their names.
 */
#include "report/sheet.h"
#include "base/tool.h"
#include "colour/frame_profile.h"

#include <stdlib.h>

enum { NARROWEST = 96, WIDEST = 4096 }; /* of a cell, pixels */

struct job {
    struct carn_tool *tool;
    struct carn_error *err;
    struct carn_patches *patches;
    struct carn_sheet_ask ask;
    struct carn_readings tables[CARN_SHEET_TABLES];
    struct carn_sheet *sheet;
    struct carn_stream stream;
};

static int add_frame(struct job *job)
{
    const struct carn_frame *frame = &job->stream.frame;
    struct carn_error why = {0};
    struct carn_box *boxes = NULL;
    size_t count = 0;
    carn_tool_note_of(job->tool, "untagged", carn_frame_name(frame),
                      carn_frame_profile_note(frame));
    if (job->patches != NULL)
        boxes = carn_patches_boxes(job->patches, frame, &count, &why);
    if (why.kind == CARN_MEMORY)
        return carn_fail_from(job->err, &why, NULL);
    if (why.kind != CARN_NONE)
        carn_tool_note_of(job->tool, "no patch", why.where, why.text);
    int rc = carn_sheet_add(job->sheet, &job->stream, boxes, boxes != NULL ? count : 0, job->err);
    free(boxes);
    return rc;
}

static int take_option(struct job *job, int key)
{
    struct carn_tool *tool = job->tool;
    if (key == 'w')
        return carn_tool_whole(tool, "width", NARROWEST, WIDEST, &job->ask.width);
    if (key == 'c')
        return carn_tool_whole(tool, "columns", 1, 10000, &job->ask.columns);
    if (key == 'p') {
        carn_patches_close(job->patches);
        job->patches = carn_patches_read(tool->value, job->err);
        return job->patches != NULL ? 0 : -1;
    }
    if (job->ask.table_count == CARN_SHEET_TABLES)
        return carn_fail(job->err, CARN_USAGE, "more than %d tables of readings",
                         CARN_SHEET_TABLES);
    return carn_readings_read(tool->value, CARN_NEED_LAB, &job->tables[job->ask.table_count++],
                              job->err);
}

static int prepare(struct job *job)
{
    char letters[4200];
    if (carn_tool_share("letters.hex", letters, sizeof letters, job->err) != 0)
        return -1;
    job->sheet = carn_sheet_open(&job->ask, letters, job->err);
    return job->sheet != NULL ? carn_stream_open(&job->stream, true, job->err) : -1;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'p', "patches", "PATCHES", .help = "draw where frames are measured"},
        {'r', "readings", "READINGS", .help = "show what was measured; several: before, after"},
        {'w', "width", "WIDTH", .help = "width of a cell in pixels (240); no frame is enlarged"},
        {'c', "columns", "COLUMNS", .help = "cells side by side (as many as there are lines)"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-sheet",
                             .operands = "<FRAMES >FRAME",
                             .purpose = "Shows frames small, side by side on one contact sheet.",
                             .options = options};
    struct job job = {.tool = &tool, .err = &tool.err, .ask = {.width = CARN_SHEET_WIDTH}};
    job.ask.tables = job.tables;

    /* arguments */
    int key;
    bool go = true;
    while (go && (key = carn_tool_option(&tool, argc, argv)) != 0)
        go = key > 0 && take_option(&job, key) == 0;
    go = go && carn_tool_no_operand(&tool, argc, argv) == 0;

    /* prepare */
    go = go && prepare(&job) == 0;

    /* data */
    while (go && carn_stream_next(&job.stream))
        go = add_frame(&job) == 0;
    if (go && job.stream.ended)
        (void)carn_sheet_write(job.sheet, &job.stream, job.err);

    /* clean up */
    carn_stream_close(&job.stream);
    carn_sheet_close(job.sheet);
    for (size_t i = 0; i < job.ask.table_count; i++)
        carn_readings_clear(&job.tables[i]);
    carn_patches_close(job.patches);
    return carn_tool_end(&tool);
}
