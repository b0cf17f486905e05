#include "base/md5.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

static uint32_t turn(uint32_t v, unsigned by)
{
    return v << by | v >> (32 - by);
}

/* A step: the others move on, and the second takes in what f and a word make of the first. */
static inline void step(uint32_t s[4], uint32_t f, uint32_t word, uint32_t sine, unsigned by)
{
    uint32_t next = s[1] + turn(s[0] + f + word + sine, by);
    s[0] = s[3];
    s[3] = s[2];
    s[2] = s[1];
    s[1] = next;
}

/* One block of 64 bytes, a loop a round: in one loop of all, to choose what a round does took four
 * times as long. The table is floor(2^32 |sin(i + 1)|), as RFC 1321 has it. */
static void add_block(uint32_t state[4], const unsigned char *block)
{
    static const uint32_t sines[64] = {
        0xd76aa478, 0xe8c7b756, 0x242070db, 0xc1bdceee, 0xf57c0faf, 0x4787c62a, 0xa8304613,
        0xfd469501, 0x698098d8, 0x8b44f7af, 0xffff5bb1, 0x895cd7be, 0x6b901122, 0xfd987193,
        0xa679438e, 0x49b40821, 0xf61e2562, 0xc040b340, 0x265e5a51, 0xe9b6c7aa, 0xd62f105d,
        0x02441453, 0xd8a1e681, 0xe7d3fbc8, 0x21e1cde6, 0xc33707d6, 0xf4d50d87, 0x455a14ed,
        0xa9e3e905, 0xfcefa3f8, 0x676f02d9, 0x8d2a4c8a, 0xfffa3942, 0x8771f681, 0x6d9d6122,
        0xfde5380c, 0xa4beea44, 0x4bdecfa9, 0xf6bb4b60, 0xbebfbc70, 0x289b7ec6, 0xeaa127fa,
        0xd4ef3085, 0x04881d05, 0xd9d4d039, 0xe6db99e5, 0x1fa27cf8, 0xc4ac5665, 0xf4292244,
        0x432aff97, 0xab9423a7, 0xfc93a039, 0x655b59c3, 0x8f0ccc92, 0xffeff47d, 0x85845dd1,
        0x6fa87e4f, 0xfe2ce6e0, 0xa3014314, 0x4e0811a1, 0xf7537e82, 0xbd3af235, 0x2ad7d2bb,
        0xeb86d391};
    static const unsigned char turns[16] = {7, 12, 17, 22, 5, 9,  14, 20,
                                            4, 11, 16, 23, 6, 10, 15, 21};
    uint32_t w[16], s[4] = {state[0], state[1], state[2], state[3]};
    for (unsigned i = 0; i < 16; i++) {
        const unsigned char *p = block + (size_t)i * 4;
        w[i] = (uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
    }
    for (unsigned i = 0; i < 16; i++)
        step(s, (s[1] & s[2]) | (~s[1] & s[3]), w[i], sines[i], turns[i % 4]);
    for (unsigned i = 0; i < 16; i++)
        step(s, (s[3] & s[1]) | (~s[3] & s[2]), w[(5 * i + 1) % 16], sines[16 + i],
             turns[4 + i % 4]);
    for (unsigned i = 0; i < 16; i++)
        step(s, s[1] ^ s[2] ^ s[3], w[(3 * i + 5) % 16], sines[32 + i], turns[8 + i % 4]);
    for (unsigned i = 0; i < 16; i++)
        step(s, s[2] ^ (s[1] | ~s[3]), w[7 * i % 16], sines[48 + i], turns[12 + i % 4]);
    for (unsigned i = 0; i < 4; i++)
        state[i] += s[i];
}

void carn_md5(const void *bytes, size_t size, unsigned char sum[16])
{
    uint32_t state[4] = {0x67452301, 0xefcdab89, 0x98badcfe, 0x10325476};
    const unsigned char *p = bytes;
    size_t left = size;
    for (; left >= 64; left -= 64, p += 64)
        add_block(state, p);
    /* The rest, a one bit, zeroes, and the length in bits: one or two blocks more. */
    unsigned char tail[128] = {0};
    size_t end = left < 56 ? 64 : 128;
    if (left > 0)
        memcpy(tail, p, left);
    tail[left] = 0x80;
    for (size_t i = 0; i < 8; i++)
        tail[end - 8 + i] = (unsigned char)((uint64_t)size * 8 >> (8 * i));
    for (size_t at = 0; at < end; at += 64)
        add_block(state, tail + at);
    for (size_t i = 0; i < 16; i++)
        sum[i] = (unsigned char)(state[i / 4] >> (8 * (i % 4)));
}

void carn_md5_word(const void *bytes, size_t size, char word[9])
{
    unsigned char sum[16];
    carn_md5(bytes, size, sum);
    snprintf(word, 9, "%02x%02x%02x%02x", sum[0], sum[1], sum[2], sum[3]);
}
