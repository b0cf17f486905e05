/*
 * options: what is asked for on the command line.
 */
#include "scene.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

const char *const scene_camera_names[] = {
    [NORTH] = "north", [SOUTH] = "south", [NONE] = "none", NULL};

/* Options without a short letter. */
enum { CAMERA = 256, TWIST, STRENGTH, CONTRAST, CAST, GRAIN };
enum {
    GREY = 280,
    CARD_SIZE,
    CARD_TILT,
    CARD_ACROSS,
    CARD_UP,
    SECOND,
    DOOR,
    BRICKS,
    RED,
    PROFILE,
    SEED
};
enum { DATA = 300, CHOIR, PATCH_TABLE, TRUTH, CHART_FRAME };

const struct carn_option scene_options[] = {
    {'s', "singer", "NAME", .help = "whose portrait (see --list; the first unless told)"},
    {CAMERA, "camera", "north|south|none", .help = "whose camera (north); none is the ideal one"},
    {TWIST, "twist", "north|south|none", .help = "whose twist of colour (the camera's own)"},
    {STRENGTH, "strength", "FACTOR", .help = "of the twist (1)"},
    {CONTRAST, "contrast", "FACTOR",
     .help = "of the camera's own tone curve below the shoulder (0)"},
    {CAST, "cast", "FACTOR", .help = "of the camera's error of white balance (1)"},
    {GRAIN, "grain", "FACTOR", .help = "of the noise (1)"},
    {GREY, "card", NULL, .help = "holding a grey card"},
    {CARD_SIZE, "card-size", "FACTOR", .help = "of its sides (1)"},
    {CARD_TILT, "card-tilt", "DEGREES", .help = "clockwise (0)"},
    {CARD_ACROSS, "card-across", "SHIFT", .help = "to the right, in heights of the frame (0)"},
    {CARD_UP, "card-up", "SHIFT", .help = "higher, in heights of the frame (0)"},
    {SECOND, "with", "NAME",
     .help = "a second person behind, right; again: a third, left (wide frames)"},
    {DOOR, "door", NULL, .help = "a wooden door behind"},
    {BRICKS, "brick", NULL, .help = "a brick wall behind"},
    {RED, "scarf", NULL, .help = "a red scarf"},
    {PROFILE, "profile", "srgb|wide", .help = "of the frame (srgb; the chart's is wide)"},
    {'w', "width", "PIXELS", .help = "96 to 8000 (600)"},
    {'h', "height", "PIXELS", .help = "96 to 8000 (800)"},
    {SEED, "seed", "N", .help = "another grain and mottle (0)"},
    {'n', "name", "NAME", .help = "the frame's name (SINGER.tif), and the frame in tables (*)"},
    {DATA, "data", "FOLDER", .help = "of the spectra (tests/data, copied by make)"},
    {CHOIR, "list", NULL, .help = "print the singers and their middle tones instead"},
    {PATCH_TABLE, "patches", NULL, .help = "print the patch table for these options instead"},
    {TRUTH, "truth", NULL, .help = "print the true CIELAB of each patch instead"},
    {CHART_FRAME, "chart", NULL, .help = "the 24-patch chart as published, no camera"},
    {0},
};

/* Each of these takes the value of the option just read; -1 with a message when it is wrong. */

static int choose_camera(struct carn_tool *tool, const char *what, enum camera *to)
{
    int chosen = carn_tool_choice(tool, what, scene_camera_names);
    if (chosen < 0)
        return -1;
    *to = (enum camera)chosen;
    return 0;
}

static int choose_profile(struct carn_tool *tool, bool *wide)
{
    static const char *const profiles[] = {"srgb", "wide", NULL};
    int chosen = carn_tool_choice(tool, "--profile", profiles);
    *wide = chosen == 1;
    return chosen < 0 ? -1 : 0;
}

static int choose_singer(struct carn_tool *tool, const struct singer **to)
{
    for (size_t i = 0; i < SINGERS; i++)
        if (strcmp(tool->value, scene_choir[i].name) == 0) {
            *to = &scene_choir[i];
            return 0;
        }
    return carn_fail(&tool->err, CARN_USAGE, "no singer '%s'; see --list", tool->value);
}

static int take_value(struct request *r, int key, struct carn_tool *tool)
{
    struct options *is = &r->is;
    switch (key) {
    case 's':
        return choose_singer(tool, &is->singer);
    case SECOND:
        return choose_singer(tool, &is->with[is->with[0] != NULL]);
    case CAMERA:
        return choose_camera(tool, "--camera", &is->camera);
    case TWIST:
        r->twist_told = true;
        return choose_camera(tool, "--twist", &is->twist);
    case PROFILE:
        r->profile_told = true;
        return choose_profile(tool, &is->wide);
    case STRENGTH:
        return carn_tool_number(tool, "--strength", 0, 4, &is->strength);
    case CONTRAST:
        return carn_tool_number(tool, "--contrast", 0, 2, &is->contrast);
    case CAST:
        return carn_tool_number(tool, "--cast", -10, 10, &is->cast);
    case GRAIN:
        return carn_tool_number(tool, "--grain", 0, 20, &is->grain);
    case CARD_SIZE:
        return carn_tool_number(tool, "--card-size", 0.2, 3, &is->card_size);
    case CARD_TILT:
        return carn_tool_number(tool, "--card-tilt", -45, 45, &is->card_tilt);
    case CARD_ACROSS:
        return carn_tool_number(tool, "--card-across", -1, 1, &is->card_across);
    case CARD_UP:
        return carn_tool_number(tool, "--card-up", -1, 1, &is->card_up);
    case 'w':
        return carn_tool_whole(tool, "--width", 96, 8000, &is->width);
    case 'h':
        return carn_tool_whole(tool, "--height", 96, 8000, &is->height);
    default:
        return carn_tool_whole(tool, "--seed", 0, 4000000000, &is->seed);
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

int scene_read_request(struct request *r, struct carn_tool *tool, int argc, char **argv)
{
    int key;
    r->is = (struct options){.singer = &scene_choir[0],
                             .strength = 1,
                             .cast = 1,
                             .grain = 1,
                             .card_size = 1,
                             .width = 600,
                             .height = 800};
    while ((key = carn_tool_option(tool, argc, argv)) > 0)
        if (take_option(r, key, tool) != 0)
            return -1;
    if (key < 0)
        return -1;
    if (optind < argc)
        return carn_fail(&tool->err, CARN_USAGE, "no operand is taken: '%s'", argv[optind]);
    if (r->list + r->patches + r->truth > 1 || (r->chart && (r->list || r->truth)))
        return carn_fail(&tool->err, CARN_USAGE,
                         "only one of --list, --patches and --truth, and only "
                         "--patches with --chart");
    if (!r->twist_told)
        r->is.twist = r->is.camera;
    if (r->chart && !r->profile_told)
        r->is.wide = true;
    if (r->is.data == NULL) {
        if (carn_tool_share("scene", r->data, sizeof r->data, &tool->err) != 0)
            return -1;
        r->is.data = r->data;
    }
    return 0;
}
