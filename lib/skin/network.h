/*
 * network: the published short-range face detector's network, run in plain C.
 *
 * It looks at a picture of 128 x 128 pixels and says for 896 places (anchors) how surely a face is
 * there, where its box is and where six points of it are. What the numbers mean is in detector.h's
 * source; here they are only computed: a convolution, sixteen blocks (depthwise 3 x 3, pointwise,
 * shortcut, in places to half the size) and four heads. 31 million multiplications a look.
 *
 * The weights are of lib/data/face-detector.net, whose source and form its recipe states.
 */
#ifndef CARN_NETWORK_H
#define CARN_NETWORK_H

#include "base/error.h"

enum { CARN_LOOK_SIDE = 128, CARN_ANCHORS = 896, CARN_REGRESSORS = 16 };

/* What a look gives: scores as logits, regressors in pixels of the look from the anchor's middle:
 * x, y, width, height of the box, then x and y of six points. */
struct carn_look {
    float logit[CARN_ANCHORS];
    float regressor[CARN_ANCHORS][CARN_REGRESSORS];
};

struct carn_network;

/* NULL with a message when the file cannot be read or is not of this form and size. 2.1 MB. */
struct carn_network *carn_network_open(const char *path, struct carn_error *err);
void carn_network_close(struct carn_network *network);

/* picture: 128 rows of 128 pixels of red, green, blue, -1 (black) to 1, encoded as in sRGB. Uses
 * the network's own memory: one look at a time. */
void carn_network_look(struct carn_network *network, const float *picture, struct carn_look *look);

#endif
