#include "base/error.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int carn_fail(struct carn_error *err, const char *format, ...)
{
    if (err->text[0] != '\0')
        return -1;
    va_list args;
    va_start(args, format);
    vsnprintf(err->text, sizeof err->text, format, args);
    va_end(args);
    for (char *c = err->text; *c != '\0'; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            *c = '?';
    return -1;
}

void *carn_alloc(size_t count, size_t size, struct carn_error *err)
{
    void *p = calloc(count > 0 ? count : 1, size > 0 ? size : 1);
    if (p == NULL)
        carn_fail(err, "out of memory (%zu times %zu bytes)", count, size);
    return p;
}

void *carn_grow(void *old, size_t count, size_t size, struct carn_error *err)
{
    void *p = NULL;
    if (size == 0 || count <= SIZE_MAX / size)
        p = realloc(old, count * size > 0 ? count * size : 1);
    if (p == NULL)
        carn_fail(err, "out of memory (%zu times %zu bytes)", count, size);
    return p;
}

char *carn_copy(const char *text, struct carn_error *err)
{
    size_t size = strlen(text) + 1;
    char *copy = carn_alloc(size, 1, err);
    if (copy != NULL)
        memcpy(copy, text, size);
    return copy;
}
