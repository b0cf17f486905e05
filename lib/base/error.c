#include "base/error.h"

#include "base/text.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    LINE = sizeof((struct carn_error *)NULL)->where + 2 + sizeof((struct carn_error *)NULL)->text
};

void carn_one_line(char *text)
{
    for (char *c = text; *c != '\0';) {
        size_t size = carn_character(c);
        bool control = carn_is_control(c, size);
        size += size == 0;
        /* What is no character may be a control to a terminal of 8 bit (ISO 6429, C1). */
        if (control || (size == 1 && (*c & 0xe0) == 0x80))
            memset(c, '?', size);
        c += size;
    }
}

__attribute__((format(printf, 4, 0))) static int keep(struct carn_error *err, enum carn_kind kind,
                                                      const char *where, const char *format,
                                                      va_list args)
{
    if (err->kind != CARN_NONE)
        return -1;
    err->kind = kind;
    snprintf(err->where, sizeof err->where, "%s", where != NULL ? where : "");
    vsnprintf(err->text, sizeof err->text, format, args);
    carn_one_line(err->where);
    carn_one_line(err->text);
    return -1;
}

int carn_fail(struct carn_error *err, enum carn_kind kind, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    keep(err, kind, NULL, format, args);
    va_end(args);
    return -1;
}

int carn_fail_at(struct carn_error *err, enum carn_kind kind, const char *where, const char *format,
                 ...)
{
    va_list args;
    va_start(args, format);
    keep(err, kind, where, format, args);
    va_end(args);
    return -1;
}

int carn_fail_from(struct carn_error *err, const struct carn_error *cause, const char *where)
{
    if (where == NULL || strcmp(where, cause->where) == 0)
        return carn_fail_at(err, cause->kind, cause->where, "%s", cause->text);
    char line[LINE];
    carn_error_line(cause, line, sizeof line);
    return carn_fail_at(err, cause->kind, where, "%s", line);
}

bool carn_is_machine(const struct carn_error *err)
{
    return err->kind == CARN_MEMORY || err->kind == CARN_SYSTEM;
}

void carn_error_line(const struct carn_error *err, char *line, size_t size)
{
    snprintf(line, size, "%s%s%s", err->where, err->where[0] != '\0' ? ": " : "", err->text);
}

void *carn_alloc(size_t count, size_t size, struct carn_error *err)
{
    void *p = calloc(count > 0 ? count : 1, size > 0 ? size : 1);
    if (p == NULL)
        carn_fail(err, CARN_MEMORY, "out of memory (%zu times %zu bytes)", count, size);
    return p;
}

void *carn_grow(void *old, size_t count, size_t size, struct carn_error *err)
{
    void *p = NULL;
    if (size == 0 || count <= SIZE_MAX / size)
        p = realloc(old, count * size > 0 ? count * size : 1);
    if (p == NULL)
        carn_fail(err, CARN_MEMORY, "out of memory (%zu times %zu bytes)", count, size);
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
