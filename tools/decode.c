/* carn-decode: picture files to frames. */
#include "base/io.h"
#include "base/match.h"
#include "base/table.h"
#include "base/tool.h"
#include "codec/codec.h"
#include "colour/said_profile.h"
#include "frame/frame.h"
#include "frame/keys.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { BARE = 256, AS, MAX_PIXELS, MAX_METADATA, MAX_MEMORY };

struct job {
    struct carn_tool *tool;
    struct carn_limits limits;
    bool bare;
    const char *original; /* of --as */
    struct carn_frame as; /* its keys */
    struct carn_table *table;
    const char *table_path;
    struct carn_out *out;
};

/* What became of a file. */
enum outcome { DONE, SKIPPED, ENDED };

static int read_limit(struct carn_tool *tool, const char *what, uint64_t *limit)
{
    double value;
    if (carn_number(tool->value, what, &value, &tool->err) != 0)
        return -1;
    if (!(value >= 1 && value < 9e18))
        return carn_fail(&tool->err, CARN_USAGE, "%s '%s' is not between 1 and 9e18", what,
                         tool->value);
    *limit = (uint64_t)value;
    return 0;
}

static int take_option(struct job *job, int key)
{
    struct carn_tool *tool = job->tool;
    switch (key) {
    case MAX_PIXELS:
        return read_limit(tool, "--max-pixels", &job->limits.pixels);
    case MAX_METADATA:
        return read_limit(tool, "--max-metadata", &job->limits.metadata);
    default:
        return read_limit(tool, "--max-memory", &job->limits.memory);
    }
}

/* Sets subject and camera from the row of the job's table that fits the frame's name best. */
static int label(struct job *job, struct carn_frame *frame)
{
    struct carn_error *err = &job->tool->err;
    const char *name = carn_frame_name(frame);
    int column = carn_table_find(job->table, "frame");
    int best = 0;
    size_t found = 0;
    for (size_t row = 0; row < carn_table_rows(job->table); row++) {
        int rank = carn_table_serves(carn_table_cell(job->table, row, column), name);
        if (rank > best) {
            best = rank;
            found = row;
        }
    }
    if (best == 0) {
        carn_tool_note(job->tool, "no row", "%s: has no row in %s", name, job->table_path);
        return 0;
    }
    static const char *const keys[] = {"subject", "camera"};
    for (size_t i = 0; i < 2; i++) {
        const char *cell = carn_table_at(job->table, found, keys[i]);
        if (cell[0] != '\0' && strcmp(cell, "-") != 0 &&
            carn_frame_set_text(frame, keys[i], cell, err) != 0)
            return -1;
    }
    return 0;
}

/* Adds the keys that the file itself lacks, and prints the notes on it. */
static int complete(struct job *job, const char *path, const struct carn_decoder *decoder,
                    struct carn_frame *frame)
{
    const struct carn_colour *colour = carn_decoder_colour(decoder);
    const struct carn_notes *notes = carn_decoder_notes(decoder);
    for (size_t i = 0; i < notes->count; i++)
        carn_tool_note(job->tool, notes->note[i].kind, "%s", notes->note[i].text);
    if (job->original != NULL && frame->colours != job->as.colours)
        carn_tool_note(job->tool, "other colours",
                       "%s: its colours are not those of %s: no profile is put back", path,
                       job->original);
    if (job->original != NULL && carn_codec_put_back(frame, &job->as, &job->tool->err) != 0)
        return -1;
    if (carn_said_profile(frame, colour, &job->tool->err) != 0)
        return -1;
    if (carn_frame_get(frame, "icc") == NULL && colour->kind == CARN_COLOUR_UNSAID)
        carn_tool_note(job->tool, "untagged", "%s: no profile, taken as sRGB", path);
    return job->table == NULL ? 0 : label(job, frame);
}

static int copy_rows(struct job *job, struct carn_decoder *decoder, struct carn_frame *frame)
{
    struct carn_error *err = &job->tool->err;
    uint16_t *row = carn_alloc(frame->width * carn_frame_channels(frame), sizeof *row, err);
    int result = row == NULL ? -1 : carn_frame_begin(job->out, frame, job->bare, err);
    for (size_t y = 0; result == 0 && y < frame->height; y++) {
        result = carn_decoder_read(decoder, frame, row, err);
        if (result == 0)
            result = carn_frame_write(job->out, frame, row, err);
    }
    free(row);
    return result;
}

/* All pictures of one file. */
static enum outcome decode(struct job *job, const char *path, struct carn_frame *frame)
{
    struct carn_error *err = &job->tool->err;
    enum outcome outcome = SKIPPED;
    struct carn_decoder *decoder = carn_decoder_open(path, &job->limits, err);
    int more = decoder == NULL ? -1 : carn_decoder_next(decoder, frame, err);
    while (more == 1) {
        outcome = SKIPPED;
        if (complete(job, path, decoder, frame) != 0)
            break;
        outcome = ENDED;
        if (copy_rows(job, decoder, frame) != 0)
            break;
        more = carn_decoder_next(decoder, frame, err);
        outcome = more < 0 ? SKIPPED : DONE;
    }
    carn_decoder_close(decoder);
    return outcome;
}

int main(int argc, char **argv)
{
    struct job job = {.limits = carn_limits_default};
    const struct carn_option options[] = {
        {'j', "job", "JOB", "a table with subject and camera of each frame",
         .text = &job.table_path},
        {BARE, "bare", NULL, "write no keys, for programs that read plain PAM", .flag = &job.bare},
        {AS, "as", "ORIGINAL", "put back the profile and metadata of this file",
         .text = &job.original},
        {MAX_PIXELS, "max-pixels", "N", .help = "refuse larger pictures (1000000000)"},
        {MAX_METADATA, "max-metadata", "BYTES", .help = "refuse more metadata in a file (8388608)"},
        {MAX_MEMORY, "max-memory", "BYTES",
         .help = "refuse to hold more of a picture (2147483648)"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-decode",
                             .operands = "FILE... >FRAMES",
                             .purpose = "Reads PNG, TIFF, JPEG, PNM and PAM files as frames.",
                             .options = options};
    job.tool = &tool;

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0)
        if (take_option(&job, key) != 0)
            break;
    if (key == 0 && optind == argc)
        carn_fail(&tool.err, CARN_USAGE, "no file given; see %s --help", tool.name);
    if (key == 0 && job.bare && (job.table_path != NULL || job.original != NULL))
        carn_fail(&tool.err, CARN_USAGE, "--bare leaves out what %s would add",
                  job.original != NULL ? "--as" : "-j");
    bool go = key == 0 && tool.err.kind == CARN_NONE;

    /* prepare */
    struct carn_frame frame = {0};
    struct carn_colour colour;
    if (go && job.table_path != NULL) {
        job.table = carn_table_read(job.table_path, &tool.err);
        go = job.table != NULL && carn_table_need(job.table, "frame", &tool.err) >= 0;
    }
    if (go && job.original != NULL)
        go = carn_codec_header(job.original, &job.limits, &job.as, &colour, &tool.err) == 0 &&
             carn_said_profile(&job.as, &colour, &tool.err) == 0;
    job.out = go ? carn_out_open(STDOUT_FILENO, "<stdout>", &tool.err) : NULL;
    go = job.out != NULL;

    /* data */
    for (int i = optind; go && i < argc; i++) {
        enum outcome outcome = decode(&job, argv[i], &frame);
        if (outcome == SKIPPED)
            carn_tool_trouble(&tool);
        go = outcome != ENDED;
    }
    /* What stands in the buffer is written even after a trouble: whole frames are whole. */
    if (job.out != NULL)
        carn_out_finish(job.out, &tool.err);

    /* clean up */
    carn_frame_clear(&frame);
    carn_frame_clear(&job.as);
    carn_table_close(job.table);
    carn_out_close(job.out);
    return carn_tool_end(&tool);
}
