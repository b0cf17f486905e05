#include "colour/encoding.h"

#include <math.h>

void carn_encoding_build(struct carn_encoding *encoding, const float linear[65536])
{
    int v = 0;
    for (int i = 0; i <= CARN_NODES; i++) {
        int octave = i >> CARN_NODE_BITS, step = i & ((1 << CARN_NODE_BITS) - 1);
        float x = ldexpf(1 + (float)step / (1 << CARN_NODE_BITS), octave - CARN_OCTAVES);
        while (v < 65535 && linear[v + 1] < x)
            v++;
        float low = linear[v], high = v < 65535 ? linear[v + 1] : x;
        float t = high > low ? (x - low) / (high - low) : 0;
        encoding->node[i].code = fminf((float)v + fmaxf(t, 0), 65535);
        if (i > 0)
            encoding->node[i - 1].rise = encoding->node[i].code - encoding->node[i - 1].code;
    }
    encoding->node[CARN_NODES].rise = 0;
    encoding->foot = encoding->node[0].code * ldexpf(1, CARN_OCTAVES);
}
