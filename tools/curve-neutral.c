/* carn-curve-neutral: the curve that makes a grey card neutral. */
#include "base/tone.h"
#include "base/tool.h"
#include "correct/curve.h"
#include "correct/reading.h"
#include "correct/solve.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* Notes what makes the card doubtful. It is used all the same. */
static void tell_doubts(struct carn_tool *tool, const struct carn_readings *readings,
                        const struct carn_move *neutral)
{
    unsigned card = 0, all = 0;
    bool toned = false;
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        toned = toned || strcmp(r->tone, "-") != 0;
        all |= r->flags;
        card |= carn_tone_of(r->tone) == CARN_TONE_CARD ? r->flags : 0;
    }
    unsigned flags = toned ? card : all;
    if ((flags & CARN_CLIPPED) != 0)
        carn_tool_note(tool, "clipped", "the card is clipped, its cast is only partly known");
    if ((flags & CARN_UNEVEN) != 0)
        carn_tool_note(tool, "uneven", "the card is lit unevenly, over 3 %% across");
    if (carn_chroma(neutral->from) > 20)
        carn_tool_note(tool, "coloured", "the card has a chroma of %.1f, is it a grey card?",
                       carn_chroma(neutral->from));
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {{0}};
    struct carn_tool tool = {.name = "carn-curve-neutral",
                             .operands = "[READINGS] >CURVE",
                             .purpose = "Makes the curve that turns a grey card's reading neutral.",
                             .options = options};
    struct carn_readings readings = {0};
    struct carn_solution solution;

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    if (key == 0 && argc - optind > 1)
        carn_fail(&tool.err, CARN_USAGE, "one table of readings, not %d", argc - optind);
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    const char *path = optind < argc ? argv[optind] : "-";

    /* data */
    if (carn_readings_read(path, CARN_NEED_LAB, &readings, &tool.err) == 0 &&
        carn_solve_neutral(&readings, &solution, &tool.err) == 0) {
        char note[64];
        snprintf(note, sizeof note, "%zu reading%s", solution.readings[0],
                 solution.readings[0] == 1 ? "" : "s");
        tell_doubts(&tool, &readings, &solution.moves[0]);
        carn_curve_print_header(stdout);
        carn_curve_print(stdout, &solution.moves[0], note);
    }

    /* clean up */
    carn_readings_clear(&readings);
    return carn_tool_end(&tool);
}
