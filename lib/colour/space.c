#include "colour/space.h"

#include "colour/make_profile.h"
#include "frame/said_colour.h"

#include <string.h>

/*
 * White, red, green, blue as x, y; then the curve to linear light as g a b c d (see
 * make_profile.h).
 *
 * The figures are those of the standards, from memory; those of all but oprgb and romm also stand
 * in ITU-T H.273. bt709 and bt2020 have the inverse of the camera's curve that the standard
 * defines, as ICC profiles of these names do, not a display's (BT.1886).
 */
#define SRGB_CURVE                                                                                 \
    {                                                                                              \
        2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045                                          \
    }

/* 1.099 and 0.018, with the digits that join its parts without a step. */
#define ALPHA 1.09929682680944
#define BETA 0.018053968510807
#define CAMERA_CURVE                                                                               \
    {                                                                                              \
        1 / 0.45, 1 / ALPHA, 1 - 1 / ALPHA, 1 / 4.5, 4.5 * BETA                                    \
    }

static const struct {
    const char *name, *title;
    double xy[8], curve[5];
} spaces[] = {
    {"srgb", "sRGB (IEC 61966-2-1)", CARN_XY_SRGB, SRGB_CURVE},
    {"oprgb", "opRGB (IEC 61966-2-5)", CARN_XY_OPRGB, {CARN_GAMMA_OPRGB, 1, 0, 0, 0}},
    {"p3-d65", /* H.273: primaries 12, transfer 13 */
     "P3-D65 (SMPTE EG 432-1) with the curve of IEC 61966-2-1", CARN_XY_P3, SRGB_CURVE},
    {"bt709", "ITU-R BT.709", CARN_XY_SRGB, CAMERA_CURVE},
    {"bt2020", "ITU-R BT.2020", CARN_XY_BT2020, CAMERA_CURVE},
    {"romm", /* D50 */
     "ROMM RGB (ISO 22028-2)",
     {0.3457, 0.3585, 0.7347, 0.2653, 0.1596, 0.8404, 0.0366, 0.0001},
     {1.8, 1, 0, 1 / 16.0, 1 / 32.0}},
};

void *carn_space_profile(const char *name, size_t *size, struct carn_error *err)
{
    for (size_t i = 0; i < sizeof spaces / sizeof *spaces; i++)
        if (strcmp(spaces[i].name, name) == 0)
            return carn_profile_make_curved(spaces[i].title, spaces[i].xy, spaces[i].curve, size,
                                            err);
    return NULL;
}

const char *carn_space_names(void)
{
    return "srgb, oprgb, p3-d65, bt709, bt2020, romm";
}
