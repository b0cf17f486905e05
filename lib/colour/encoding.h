/*
 * encoding: linear light back to encoded values, through a table.
 *
 * The nodes lie evenly within each octave, since encodings are steep near black, and values between
 * are interpolated. With these numbers a power of up to 2.6 is within a fifth of a code of 65535
 * above 2^-CARN_OCTAVES and within 2 below. A float gives octave and node by its bits.
 */
#ifndef CARN_ENCODING_H
#define CARN_ENCODING_H

#include <stdint.h>
#include <string.h>

enum { CARN_OCTAVES = 40, CARN_NODE_BITS = 7, CARN_NODES = CARN_OCTAVES << CARN_NODE_BITS };

struct carn_encoding {
    struct carn_encoding_node {
        float code, rise; /* of 65535, and on to the next node; the last has none, for exactly 1 */
    } node[CARN_NODES + 1];
    float foot; /* slope from 0 to the first node */
};

/* From linear light of all encoded values, which never falls. */
void carn_encoding_build(struct carn_encoding *encoding, const float linear[65536]);

/* Linear light of 0..1 to a code of 0..65535, not rounded. */
static inline float carn_encoding_at(const struct carn_encoding *encoding, float x)
{
    /* Bits of a float (IEEE 754): 23 of mantissa; the exponent of 1 is 127. */
    enum { REST = 23 - CARN_NODE_BITS, BASE = (127 - CARN_OCTAVES) << CARN_NODE_BITS };
    if (x < 0x1p-40F) /* 2^-CARN_OCTAVES */
        return x * encoding->foot;
    uint32_t bits;
    memcpy(&bits, &x, sizeof bits);
    const struct carn_encoding_node *node = &encoding->node[(bits >> REST) - BASE];
    float t = (float)(int32_t)(bits & ((1U << REST) - 1)) * (1.0F / (1U << REST));
    return node->code + t * node->rise;
}

#endif
