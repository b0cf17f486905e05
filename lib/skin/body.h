/*
 * body: bare skin in a picture in which no face was found: an arm, a shoulder, a hand, a back.
 *
 * The picture is cut into square cells. A cell is skin when its colour could be skin's
 * (thumbnail.h) and its lightness changes as slowly as it does over an arm. The largest group of
 * such cells that touch one another is proposed, when it is large enough and has one colour,
 * shading aside. Sand, wood, wicker and painted walls have these features too, so a proposal is a
 * place to look at, not a finding.
 */
#ifndef CARN_BODY_H
#define CARN_BODY_H

#include "base/error.h"
#include "skin/outline.h"
#include "skin/thumbnail.h"

struct carn_body {
    struct carn_outline outline; /* within the group of cells; its points mean nothing */
    double share;                /* of the picture that the group covers, 0..1 */
};

/* Of every proposal: under 0.2, the least of a face, by decision (docs/photographs.md: counts). */
extern const double carn_body_confidence;

/* In the planes of carn_thumbnail_search. 1: found; 0: there is none; -1 with a message. */
int carn_body_find(const struct carn_thumbnail *planes, struct carn_body *body,
                   struct carn_error *err);

#endif
