/* carn-curve-solve: the curve that brings skin onto an aim at its own lightness. */
#include "aim.h"
#include "codec.h"
#include "curve.h"
#include "frame.h"
#include "profile.h"
#include "reading.h"
#include "solve.h"
#include "tool.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct request {
    const char *aim, *aims, *separation, *profile;
    bool bpc, bound;
};

static int take_bound(const char *text, bool *bound, struct carn_error *err)
{
    if (strcmp(text, "none") != 0 && strcmp(text, "default") != 0)
        return carn_fail(err, "--bound: '%s' is not one of default, none", text);
    *bound = text[0] == 'd';
    return 0;
}

/* The profile of a picture file; NULL with size 0 when it is untagged. */
static void *picture_profile(const char *path, size_t *size, struct carn_error *err)
{
    struct carn_frame frame = {0};
    void *icc = NULL;
    if (carn_codec_header(path, NULL, &frame, err) == 0)
        icc = carn_frame_blob(&frame, "icc", size, err);
    carn_frame_clear(&frame);
    return icc;
}

/* sRGB without -r and for untagged pictures. */
static struct carn_profile *open_profile(const char *path, struct carn_error *err)
{
    size_t size = 0;
    void *icc = NULL;
    if (path != NULL)
        icc = carn_profile_is_icc(path) ? carn_profile_read(path, &size, err)
                                        : picture_profile(path, &size, err);
    if (err->text[0] != '\0')
        return NULL;
    struct carn_error why = {{0}};
    struct carn_profile *profile = carn_profile_open(icc, size, 3, &why);
    if (profile == NULL)
        carn_fail(err, "%s: %s", path != NULL ? path : "sRGB", why.text);
    free(icc);
    return profile;
}

static void print_solution(struct carn_tool *tool, const struct carn_solution *s)
{
    if (s->doubtful > 0)
        carn_tool_note(tool, "doubtful", "%zu reading%s with doubtful flags", s->doubtful,
                       s->doubtful == 1 ? "" : "s");
    carn_curve_print_header(stdout);
    for (size_t i = 0; i < s->count; i++) {
        char note[96];
        snprintf(note, sizeof note, "%zu reading%s%s%s", s->readings[i],
                 s->readings[i] == 1 ? "" : "s", s->moves[i].cut ? ", cut short by " : "",
                 s->moves[i].cut ? s->why[i] : "");
        carn_curve_print(stdout, &s->moves[i], note);
    }
}

int main(int argc, char **argv)
{
    enum { BOUND = 256 };
    static const struct carn_option options[] = {
        {'a', "aim", "AIM", "what the colour should be: common (default), hue, skin, or of -f"},
        {'f', "aims", "AIMS", "table of the house's own aims"},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own"},
        {'B', "no-black-point", NULL, "no black-point compensation"},
        {'r', "profile", "PROFILE", "RGB the curve is for: ICC or picture file; default sRGB"},
        {BOUND, "bound", "BOUND", "default, or none: as far as the aim asks"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-curve-solve",
                             .operands = "[READINGS] >CURVE",
                             .purpose = "Solves for the curve that brings skin onto an aim.",
                             .options = options};
    struct request ask = {.aim = "common", .bpc = true, .bound = true};
    char path[4096];

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        switch (key) {
        case 'a':
            ask.aim = tool.value;
            break;
        case 'f':
            ask.aims = tool.value;
            break;
        case 'k':
            ask.separation = tool.value;
            break;
        case 'B':
            ask.bpc = false;
            break;
        case 'r':
            ask.profile = tool.value;
            break;
        default:
            if (take_bound(tool.value, &ask.bound, &tool.err) != 0)
                return carn_tool_end(&tool);
        }
    }
    if (key == 0 && argc - optind > 1)
        carn_fail(&tool.err, "one table of readings, not %d", argc - optind);
    if (key < 0 || tool.err.text[0] != '\0')
        return carn_tool_end(&tool);

    /* prepare */
    struct carn_aim aim;
    struct carn_readings readings = {0};
    struct carn_solution solution;
    struct carn_separation *separation = NULL;
    struct carn_profile *profile = NULL;
    const char *file = carn_tool_separation(ask.separation, path, sizeof path, &tool.err);
    if (file != NULL && carn_aim_open(ask.aim, ask.aims, &aim, &tool.err) == 0)
        separation = carn_separation_open(file, ask.bpc, &tool.err);
    if (separation != NULL)
        profile = open_profile(ask.profile, &tool.err);

    /* data */
    if (profile != NULL &&
        carn_readings_read(optind < argc ? argv[optind] : "-", CARN_NEED_LAB, &readings,
                           &tool.err) == 0 &&
        carn_readings_fit(&readings, carn_separation_id(separation), &tool.err) == 0 &&
        carn_solve_aim(&readings, &aim, separation, profile, ask.bound, &solution, &tool.err) == 0)
        print_solution(&tool, &solution);

    /* clean up */
    carn_readings_clear(&readings);
    carn_profile_close(profile);
    carn_separation_close(separation);
    return carn_tool_end(&tool);
}
