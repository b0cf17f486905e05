#include "base/text.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static int hex(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'A' && c <= 'F')
        return c - 'A' + 10;
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    return -1;
}

char *carn_escape(const char *text, bool (*escape)(const char *at), struct carn_error *err)
{
    static const char digits[] = "0123456789ABCDEF";
    char *out = carn_alloc(strlen(text) + 1, 3, err);
    if (out == NULL)
        return NULL;
    char *to = out;
    for (; *text != '\0'; text++) {
        unsigned char c = (unsigned char)*text;
        if (escape(text)) {
            *to++ = '%';
            *to++ = digits[c >> 4];
            *to++ = digits[c & 15];
        } else {
            *to++ = *text;
        }
    }
    *to = '\0';
    return out;
}

size_t carn_unescape(char *text)
{
    char *to = text;
    for (const char *from = text; *from != '\0';) {
        int value = from[0] == '%' && hex(from[1]) >= 0 && hex(from[2]) >= 0
                        ? hex(from[1]) * 16 + hex(from[2])
                        : 0;
        if (value > 0) {
            *to++ = (char)value;
            from += 3;
        } else {
            *to++ = *from++;
        }
    }
    *to = '\0';
    return (size_t)(to - text);
}

static const char alphabet[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

char *carn_base64(const void *bytes, size_t size, struct carn_error *err)
{
    const unsigned char *p = bytes;
    char *out = carn_alloc(size / 3 + 2, 4, err);
    if (out == NULL)
        return NULL;
    char *to = out;
    for (size_t i = 0; i < size; i += 3) {
        size_t have = size - i < 3 ? size - i : 3;
        uint32_t group = (uint32_t)p[i] << 16 | (have > 1 ? (uint32_t)p[i + 1] << 8 : 0) |
                         (have > 2 ? (uint32_t)p[i + 2] : 0);
        *to++ = alphabet[group >> 18];
        *to++ = alphabet[group >> 12 & 63];
        *to++ = have > 1 ? alphabet[group >> 6 & 63] : '=';
        *to++ = have > 2 ? alphabet[group & 63] : '=';
    }
    *to = '\0';
    return out;
}

void *carn_unbase64(const char *text, size_t *size, struct carn_error *err)
{
    size_t length = strlen(text);
    while (length > 0 && text[length - 1] == '=')
        length--;
    unsigned char *out = carn_alloc(length / 4 + 1, 3, err);
    if (out == NULL)
        return NULL;
    size_t done = 0;
    uint32_t group = 0;
    for (size_t i = 0; i < length; i++) {
        const char *at = strchr(alphabet, text[i]);
        if (at == NULL || length % 4 == 1) {
            carn_fail(err, CARN_INPUT, "broken base64 at character %zu", i + 1);
            free(out);
            return NULL;
        }
        group = group << 6 | (uint32_t)(at - alphabet);
        if (i % 4 > 0)
            out[done++] = (unsigned char)(group >> (6 - i % 4 * 2));
    }
    *size = done;
    return out;
}

size_t carn_character(const char *text)
{
    const unsigned char *c = (const unsigned char *)text;
    size_t size = c[0] < 0x80 ? 1 : c[0] < 0xc2 ? 0 : c[0] < 0xe0 ? 2 : c[0] < 0xf0 ? 3 : 4;
    if (c[0] > 0xf4)
        size = 0;
    for (size_t i = 1; i < size; i++)
        if ((c[i] & 0xc0) != 0x80)
            return 0;
    return size;
}

bool carn_is_control(const char *text, size_t size)
{
    const unsigned char *c = (const unsigned char *)text;
    return size == 1 ? c[0] < 0x20 || c[0] == 0x7f : size == 2 && c[0] == 0xc2 && c[1] < 0xa0;
}

int carn_places(const char *text)
{
    int places = 0;
    for (; *text != '\0'; places++) {
        size_t size = carn_character(text);
        text += size > 0 ? size : 1;
    }
    return places;
}

int carn_fill(const char *text, int places)
{
    return places + (int)strlen(text) - carn_places(text);
}

void carn_show(FILE *to, const char *text)
{
    while (*text != '\0') {
        size_t size = carn_character(text);
        bool shown = size > 0 && !carn_is_control(text, size);
        if (shown)
            fwrite(text, 1, size, to);
        else
            fputc('?', to); /* for each byte */
        text += shown ? size : 1;
    }
}
