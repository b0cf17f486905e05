/* carn-encode: frames to picture files. */
#include "base/tool.h"
#include "codec/codec.h"
#include "colour/said_profile.h"
#include "frame/frame.h"
#include "frame/keys.h"
#include "frame/outname.h"
#include "frame/stream.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { AS = 256, FRAMES_MOST = 1000000000 };

struct job {
    struct carn_tool *tool;
    struct carn_encoding how;
    const char *out;      /* as typed */
    const char *original; /* of --as */
    size_t frames;        /* of -n; 0: any number */
    struct carn_frame as; /* its keys */
    struct carn_stream stream;
    struct carn_outnames *names;
};

static int take_option(struct job *job, int key)
{
    struct carn_tool *tool = job->tool;
    size_t quality = 0;
    switch (key) {
    case 'b':
        if (strcmp(tool->value, "8") != 0 && strcmp(tool->value, "16") != 0)
            return carn_fail(&tool->err, CARN_USAGE, "-b '%s' is neither 8 nor 16", tool->value);
        job->how.depth = tool->value[0] == '8' ? 8 : 16;
        return 0;
    case 'q':
        if (carn_tool_whole(tool, "-q", 1, 100, &quality) != 0)
            return -1;
        job->how.quality = (int)quality;
        return 0;
    default:
        return carn_tool_whole(tool, "-n", 1, FRAMES_MOST, &job->frames);
    }
}

static void tell(struct carn_tool *tool, const struct carn_encoder *encoder)
{
    const struct carn_notes *notes = carn_encoder_notes(encoder);
    for (size_t i = 0; i < notes->count; i++)
        carn_tool_note(tool, notes->note[i].kind, "%s", notes->note[i].text);
}

/* Whether the format can hold a profile: PNM and PAM (p?m) cannot. */
static bool says_profile(const struct job *job)
{
    const char *dot = strrchr(job->out, '.');
    const char *type = job->how.type != NULL ? job->how.type : dot != NULL ? dot + 1 : "";
    return strlen(type) != 3 || (type[0] | 0x20) != 'p' || (type[2] | 0x20) != 'm';
}

static int copy_rows(struct job *job, struct carn_encoder *encoder)
{
    for (const uint16_t *row; (row = carn_stream_row(&job->stream)) != NULL;)
        if (carn_encoder_write(encoder, row, &job->tool->err) != 0)
            return -1;
    return job->stream.failed ? -1 : 0;
}

static int encode(struct job *job, size_t number)
{
    struct carn_error *err = &job->tool->err;
    struct carn_frame *frame = &job->stream.frame;
    if (job->original != NULL && frame->colours != job->as.colours)
        carn_tool_note(job->tool, "other colours",
                       "%s: its colours are not those of %s: no profile is put back",
                       carn_frame_name(frame), job->original);
    if (job->original != NULL && carn_codec_put_back(frame, &job->as, err) != 0)
        return -1;
    if (carn_frame_get(frame, "icc") == NULL && says_profile(job))
        carn_tool_note(job->tool, "untagged", "%s: no profile, the file will say none",
                       carn_frame_name(frame));
    char *path = carn_outnames_fill(job->names, job->out, frame, number, err);
    struct carn_encoder *encoder =
        path == NULL ? NULL : carn_encoder_open(path, &job->how, frame, err);
    int result = encoder == NULL ? -1 : copy_rows(job, encoder);
    if (encoder != NULL)
        tell(job->tool, encoder);
    if (result == 0)
        result = carn_encoder_finish(encoder, err);
    if (result == 0)
        carn_outnames_done(job->names, path);
    carn_encoder_close(encoder);
    free(path);
    return result;
}

int main(int argc, char **argv)
{
    struct job job = {0};
    const struct carn_option options[] = {
        {'b', "bits", "8|16", .help = "bits a sample (as the frame's source had)"},
        {'z', "compression", "NAME", "TIFF: none, lzw, deflate, packbits or zstd (as the source)",
         .text = &job.how.compression},
        {'q', "quality", "1..100", .help = "JPEG: quality (95)"},
        {'t', "type", "TYPE", "png, tif, jpg, pnm or pam, whatever the suffix of OUT",
         .text = &job.how.type},
        {'n', "frames", "N", .help = "trouble if the stream holds another number of frames"},
        {'f', "force", NULL, "write over a file though frames do not say where they are from",
         .flag = &job.how.force},
        {AS, "as", "ORIGINAL", "put back the profile and metadata of this file",
         .text = &job.original},
        {0},
    };
    struct carn_tool tool = {.name = "carn-encode",
                             .operands = "OUT <FRAMES",
                             .purpose = "Writes frames as PNG, TIFF, JPEG, PNM or PAM files. "
                                        "{name} and {n} in OUT\nare a frame's name and number.",
                             .options = options};
    job.tool = &tool;

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0)
        if (take_option(&job, key) != 0)
            break;
    if (key == 0 && argc - optind != 1)
        carn_fail(&tool.err, CARN_USAGE, "give one file to write; see %s --help", tool.name);
    bool go = key == 0 && tool.err.kind == CARN_NONE;
    job.out = go ? argv[optind] : NULL;
    go = go && carn_encoding_check(job.out, &job.how, &tool.err) == 0;

    /* prepare */
    size_t number = 0;
    struct carn_colour colour;
    if (go && job.original != NULL)
        go = carn_codec_header(job.original, NULL, &job.as, &colour, &tool.err) == 0 &&
             carn_said_profile(&job.as, &colour, &tool.err) == 0;
    go = go && carn_stream_open(&job.stream, false, &tool.err) == 0;
    job.names = go ? carn_outnames_open(&tool.err) : NULL;
    go = job.names != NULL;

    /* data */
    while (go && carn_stream_next(&job.stream))
        go = encode(&job, ++number) == 0;
    if (go && !job.stream.failed && job.frames > 0 && number != job.frames)
        carn_fail_at(&tool.err, CARN_INPUT, "<stdin>", "%zu frames came, not %zu", number,
                     job.frames);

    /* clean up */
    carn_stream_close(&job.stream);
    carn_frame_clear(&job.as);
    carn_outnames_close(job.names);
    return carn_tool_end(&tool);
}
