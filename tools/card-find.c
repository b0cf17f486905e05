/* carn-card-find: finds the grey card in frames. */
#include "base/table.h"
#include "base/tool.h"
#include "colour/frame_profile.h"
#include "frame/stream.h"
#include "skin/card.h"
#include "skin/thumbnail.h"

#include <stdio.h>

/* Of a hundred photographs without a card at most one has a proposal of this confidence (counted).
 */
static const double LEAST = 0.9;

struct job {
    struct carn_tool *tool;
    struct carn_frame_profile last;
    double least;
    bool printed; /* the header */
};

static void print_card(const char *name, const struct carn_card *card,
                       const struct carn_thumbnail *planes)
{
    double w = (double)planes->width / 100, h = (double)planes->height / 100;
    carn_table_print(stdout, name);
    printf("\tcard\tcard\t%.2f%%\t%.2f%%\t%.2f%%\t%.2f%%\t%.1f\t%.1f\t%.3f\n", card->x / w,
           card->y / h, card->w / w, card->h / h, card->L, card->features[CARN_CARD_CHROMA],
           card->confidence);
}

static int find_in_frame(struct job *job, struct carn_stream *stream)
{
    const struct carn_frame *frame = &stream->frame;
    const char *name = carn_frame_name(frame);
    struct carn_error *err = &job->tool->err;
    struct carn_thumbnail_maker *maker = NULL;
    const struct carn_thumbnail *planes = NULL;
    struct carn_card card;
    int found = 0;
    if (frame->colours == 3) {
        carn_tool_note_of(job->tool, "untagged", name, carn_frame_profile_note(frame));
        planes = carn_thumbnail_read(stream, &job->last, &maker, err);
        found = planes != NULL ? carn_card_find(planes, job->least, &card, err) : -1;
    } else {
        carn_tool_note(job->tool, "grey", "%s: a grey frame has no neutral to find", name);
        while (carn_stream_row(stream) != NULL)
            ;
    }
    if (!job->printed && found >= 0 && !stream->failed)
        puts("frame\tpatch\ttone\tx\ty\tw\th\tL\tchroma\tconfidence");
    job->printed = true;
    if (found == 1)
        print_card(name, &card, planes);
    carn_thumbnail_close(maker);
    if (!stream->failed && found == 0 && job->tool->status == 0)
        job->tool->status = 1;
    return found < 0 || stream->failed ? -1 : 0;
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'l', "least", "CONFIDENCE", .help = "propose no card of a lower confidence (0.9)"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-card-find",
                             .operands = "<FRAMES >PATCHES",
                             .purpose = "Finds the grey card in frames.",
                             .options = options};
    struct job job = {.tool = &tool, .least = LEAST};

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        if (carn_number(tool.value, "--least", &job.least, &tool.err) != 0)
            break;
        if (job.least < 0 || job.least > 1)
            carn_fail(&tool.err, CARN_USAGE, "--least: %s is not between 0 and 1", tool.value);
    }
    bool go =
        key == 0 && tool.err.kind == CARN_NONE && carn_tool_no_operand(&tool, argc, argv) == 0;

    /* data */
    struct carn_stream stream = {0};
    go = go && carn_stream_open(&stream, false, &tool.err) == 0;
    while (go && carn_stream_next(&stream))
        go = find_in_frame(&job, &stream) == 0;

    /* clean up */
    carn_stream_close(&stream);
    carn_frame_profile_forget(&job.last);
    return carn_tool_end(&tool);
}
