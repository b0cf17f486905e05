#include "codec/resources.h"
#include "codec/format.h"

#include <stdint.h>
#include <string.h>

enum {
    HEAD = 12,       /* "8BIM", number, an empty name, size: of the form written here */
    IPTC_HIGH = 0x04 /* resource 0x0404 */
};

const unsigned char *carn_resources_iptc(const unsigned char *blocks, size_t size,
                                         size_t *iptc_size)
{
    size_t at = 0;
    while (size - at >= HEAD && memcmp(blocks + at, "8BIM", 4) == 0) {
        const unsigned char *block = blocks + at;
        /* The name is a counted string padded to an even length. */
        size_t head = 6 + (((size_t)block[6] + 2) & ~(size_t)1) + 4;
        if (head > size - at)
            return NULL;
        size_t data = carn_big_endian(block + head - 4);
        if (data > size - at - head)
            return NULL;
        if (block[4] == IPTC_HIGH && block[5] == 0x04 && data > 0) {
            *iptc_size = data;
            return block + head;
        }
        at += head + data;
        at += at < size && data % 2 != 0;
    }
    return NULL;
}

size_t carn_iptc_length(const unsigned char *iptc, size_t size)
{
    size_t at = 0;
    while (size - at >= 5 && iptc[at] == 0x1c && iptc[at + 3] < 0x80) {
        size_t data = (size_t)iptc[at + 3] << 8 | iptc[at + 4];
        if (data > size - at - 5)
            return size;
        at += 5 + data;
    }
    for (size_t i = at; i < size; i++)
        if (iptc[i] != 0)
            return size; /* not of the plain form: nothing is known of its end */
    return size - at < 4 ? at : size;
}

unsigned char *carn_resources_block(const void *iptc, size_t size, size_t *block_size,
                                    struct carn_error *err)
{
    static const unsigned char head[8] = {'8', 'B', 'I', 'M', IPTC_HIGH, 0x04, 0, 0};
    *block_size = HEAD + size + size % 2;
    unsigned char *block = carn_alloc(*block_size, 1, err);
    if (block == NULL)
        return NULL;
    memcpy(block, head, sizeof head);
    for (size_t i = 0; i < 4; i++)
        block[8 + i] = (unsigned char)(size >> (24 - 8 * i));
    memcpy(block + HEAD, iptc, size);
    return block;
}
