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
    double xy[8]; /* x y of white, red, green, blue */
    double gamma; /* light = sample ^ gamma */
};

#endif
