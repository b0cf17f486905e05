/*
 * card: the grey card in a small upright picture: a rectangle, perhaps tilted, of one near-neutral
 * colour, evenly lit, with an edge all round.
 *
 * Much in photographs is such a rectangle at first sight (walls, windows, screens, sheets of
 * paper), so every feature has to speak for it: confidence is their product.
 */
#ifndef CARN_CARD_H
#define CARN_CARD_H

#include "base/error.h"
#include "skin/thumbnail.h"

enum carn_card_feature {
    CARN_CARD_FILL,     /* share of the rectangle that is of the card's colour; fingers hide some */
    CARN_CARD_EDGE,     /* share of its outline where the colour ends */
    CARN_CARD_SIDE,     /* the same of the worst of its four sides */
    CARN_CARD_STRAIGHT, /* how far the ends of its rows and columns lie off straight lines, pixels
                         */
    CARN_CARD_UNEVEN,   /* root mean square of L* about the plane through it */
    CARN_CARD_SPOTTED,  /* the same of a* and b* about their means */
    CARN_CARD_SLOPE,    /* L* from end to end of that plane */
    CARN_CARD_LIGHT,    /* mean L* */
    CARN_CARD_CHROMA,   /* of its mean colour: a camera's cast may be on it */
    CARN_CARD_LONG,     /* longer side by shorter side */
    CARN_CARD_SHORT,    /* its shorter side, pixels */
    CARN_CARD_SHARE,    /* of the picture */
    CARN_CARD_CUT,      /* sides that the picture's edge cuts off */
    CARN_CARD_FEATURES
};

struct carn_card {
    double x, y, w, h; /* an upright box that lies well inside it, pixels of the small picture */
    double middle[2], across, down, tilt; /* the card: half sides, degrees clockwise as seen */
    double L, a, b;
    double features[CARN_CARD_FEATURES];
    double confidence; /* 0..1 */
};

/* The likeliest. 1, 0 when nothing has a confidence of at least `least`, -1 with a message. */
int carn_card_find(const struct carn_thumbnail *planes, double least, struct carn_card *card,
                   struct carn_error *err);

#endif
