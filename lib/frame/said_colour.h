/*
 * said_colour: what a file says of a frame's colours without a profile.
 */
#ifndef CARN_SAID_COLOUR_H
#define CARN_SAID_COLOUR_H

/* What a file says about its colours other than by a profile (PNG sRGB, gAMA and cHRM): the profile
 * to be made for it, by someone who knows colour. */
enum carn_colour_kind { CARN_COLOUR_UNSAID, CARN_COLOUR_SRGB, CARN_COLOUR_PRIMARIES };
struct carn_colour {
    enum carn_colour_kind kind;
    double xy[8]; /* CIE 1931 x y of white, red, green, blue */
    double gamma; /* light = sample ^ gamma */
};

/* To set xy with: D65 and the primaries of sRGB and BT.709, opRGB, P3-D65 and BT.2020. From memory;
 * but for opRGB's (IEC 61966-2-5) they also stand in ITU-T H.273. */
#define CARN_XY_SRGB                                                                               \
    {                                                                                              \
        0.3127, 0.3290, 0.64, 0.33, 0.30, 0.60, 0.15, 0.06                                         \
    }
#define CARN_XY_OPRGB                                                                              \
    {                                                                                              \
        0.3127, 0.3290, 0.64, 0.33, 0.21, 0.71, 0.15, 0.06                                         \
    }
#define CARN_XY_P3                                                                                 \
    {                                                                                              \
        0.3127, 0.3290, 0.680, 0.320, 0.265, 0.690, 0.150, 0.060                                   \
    }
#define CARN_XY_BT2020                                                                             \
    {                                                                                              \
        0.3127, 0.3290, 0.708, 0.292, 0.170, 0.797, 0.131, 0.046                                   \
    }

/* Gamma of opRGB (IEC 61966-2-5). */
#define CARN_GAMMA_OPRGB (563.0 / 256)

#endif
