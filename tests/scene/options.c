/*
 * options: what is asked for on the command line.
 */
#include "scene.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

enum { CAMERA = 256, TWIST, STRENGTH, CAST, GRAIN, SECOND, DOOR, BRICKS, RED, PROFILE, DATA, SEED };
enum { CHOIR = 300, PATCH_TABLE, TRUTH, CHART_FRAME, GREY };

static const struct carn_option options[] = {
    {'s', "singer", "NAME", "whose portrait (see --list; the first unless told)"},
    {CAMERA, "camera", "north|south|none", "whose camera (north); none is the ideal one"},
    {TWIST, "twist", "north|south|none", "whose twist of colour (the camera's own)"},
    {STRENGTH, "strength", "FACTOR", "of the twist (1)"},
    {CAST, "cast", "FACTOR", "of the camera's error of white balance (1)"},
    {GRAIN, "grain", "FACTOR", "of the noise (1)"},
    {GREY, "card", NULL, "holding a grey card"},
    {SECOND, "with", "NAME", "a second person behind"},
    {DOOR, "door", NULL, "a wooden door behind"},
    {BRICKS, "brick", NULL, "a brick wall behind"},
    {RED, "scarf", NULL, "a red scarf"},
    {PROFILE, "profile", "srgb|wide", "of the frame (srgb; the chart's is wide)"},
    {'w', "width", "PIXELS", "96 to 8000 (600)"},
    {'h', "height", "PIXELS", "96 to 8000 (800)"},
    {SEED, "seed", "N", "another grain and mottle (0)"},
    {'n', "name", "NAME", "the frame's name (SINGER.tif), and the frame in tables (*)"},
    {DATA, "data", "FOLDER", "of the spectra (tests/data beside build)"},
    {CHOIR, "list", NULL, "print the singers and their middle tones instead"},
    {PATCH_TABLE, "patches", NULL, "print the patch table for these options instead"},
    {TRUTH, "truth", NULL, "print the true CIELAB of each patch instead"},
    {CHART_FRAME, "chart", NULL, "the 24-patch chart as published, no camera"},
    {0},
};

static int choose(const char *text, const char *what, const char *const *words, int count,
                  struct carn_error *err)
{
    for (int i = 0; i < count; i++)
        if (strcmp(text, words[i]) == 0)
            return i;
    return carn_fail(err, "%s: '%s' is unknown", what, text);
}

static int choose_singer(const char *text, const struct singer **to, struct carn_error *err)
{
    for (size_t i = 0; i < SINGERS; i++)
        if (strcmp(text, choir[i].name) == 0) {
            *to = &choir[i];
            return 0;
        }
    return carn_fail(err, "no singer '%s'; see --list", text);
}

static int read_amount(const struct carn_tool *tool, const char *what, double low, double high,
                       double *to, struct carn_error *err)
{
    if (carn_number(tool->value, what, to, err) != 0)
        return -1;
    if (*to < low || *to > high)
        return carn_fail(err, "%s: %s is not within %g to %g", what, tool->value, low, high);
    return 0;
}

static int read_count(const struct carn_tool *tool, const char *what, double low, double high,
                      size_t *to, struct carn_error *err)
{
    double v;
    if (read_amount(tool, what, low, high, &v, err) != 0)
        return -1;
    if (v != floor(v))
        return carn_fail(err, "%s: %s is not a whole number", what, tool->value);
    *to = (size_t)v;
    return 0;
}

static int take_value(struct request *r, int key, struct carn_tool *tool)
{
    static const char *const profiles[] = {"srgb", "wide"};
    struct options *is = &r->is;
    struct carn_error *err = &tool->err;
    size_t seed = 0;
    int chosen = 0, bad = 0;
    switch (key) {
    case 's':
        return choose_singer(tool->value, &is->singer, err);
    case SECOND:
        return choose_singer(tool->value, &is->second, err);
    case CAMERA:
        chosen = choose(tool->value, "--camera", camera_names, 3, err);
        is->camera = chosen < 0 ? NONE : (enum camera)chosen;
        return chosen;
    case TWIST:
        r->twist_told = true;
        chosen = choose(tool->value, "--twist", camera_names, 3, err);
        is->twist = chosen < 0 ? NONE : (enum camera)chosen;
        return chosen;
    case PROFILE:
        r->profile_told = true;
        chosen = choose(tool->value, "--profile", profiles, 2, err);
        is->wide = chosen == 1;
        return chosen;
    case STRENGTH:
        return read_amount(tool, "--strength", 0, 4, &is->strength, err);
    case CAST:
        return read_amount(tool, "--cast", -10, 10, &is->cast, err);
    case GRAIN:
        return read_amount(tool, "--grain", 0, 20, &is->grain, err);
    case 'w':
        return read_count(tool, "--width", 96, 8000, &is->width, err);
    case 'h':
        return read_count(tool, "--height", 96, 8000, &is->height, err);
    default:
        bad = read_count(tool, "--seed", 0, 4e9, &seed, err);
        is->seed = seed;
        return bad;
    }
}

static int take_option(struct request *r, int key, struct carn_tool *tool)
{
    switch (key) {
    case GREY:
        r->is.card = true;
        break;
    case DOOR:
        r->is.door = true;
        break;
    case BRICKS:
        r->is.brick = true;
        break;
    case RED:
        r->is.scarf = true;
        break;
    case 'n':
        r->is.name = tool->value;
        break;
    case DATA:
        r->is.data = tool->value;
        break;
    case CHOIR:
        r->list = true;
        break;
    case PATCH_TABLE:
        r->patches = true;
        break;
    case TRUTH:
        r->truth = true;
        break;
    case CHART_FRAME:
        r->chart = true;
        break;
    default:
        return take_value(r, key, tool);
    }
    return 0;
}

static int read_request(struct request *r, struct carn_tool *tool, int argc, char **argv)
{
    int key;
    r->is = (struct options){
        .singer = &choir[0], .strength = 1, .cast = 1, .grain = 1, .width = 600, .height = 800};
    while ((key = carn_tool_option(tool, argc, argv)) > 0)
        if (take_option(r, key, tool) < 0)
            return -1;
    if (key < 0)
        return -1;
    if (optind < argc)
        return carn_fail(&tool->err, "no operand is taken: '%s'", argv[optind]);
    if (r->list + r->patches + r->truth > 1 || (r->chart && (r->list || r->truth)))
        return carn_fail(&tool->err, "only one of --list, --patches and --truth, and only "
                                     "--patches with --chart");
    if (!r->twist_told)
        r->is.twist = r->is.camera;
    if (r->chart && !r->profile_told)
        r->is.wide = true;
    if (r->is.data == NULL) {
        if (carn_tool_share("../tests/data", r->data, sizeof r->data, &tool->err) != 0)
            return -1;
        r->is.data = r->data;
    }
    return 0;
}

