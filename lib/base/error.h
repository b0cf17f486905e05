/*
 * error: what went wrong, in one line.
 *
 * The library never prints and never exits. A function that can fail takes a struct carn_error
 * and returns -1 (or NULL) after carn_fail(); only main decides what to do with the text.
 */
#ifndef CARN_ERROR_H
#define CARN_ERROR_H

#include <stddef.h>

/* Starts as all zero. text is "" as long as nothing failed. */
struct carn_error {
    char text[1024];
};

/*
 * Keeps the message unless one is kept already (the first cause is the one to tell), and returns
 * -1. Bytes that would break a line on a terminal are shown as '?'; no newline at the end.
 */
__attribute__((format(printf, 2, 3))) int carn_fail(struct carn_error *err, const char *format,
                                                    ...);

/* malloc, calloc and realloc of count times size bytes; NULL with a message when that overflows or
 * memory is out. The caller frees. carn_alloc gives zeroed memory. */
void *carn_alloc(size_t count, size_t size, struct carn_error *err);
void *carn_grow(void *old, size_t count, size_t size, struct carn_error *err);

/* A copy of text that the caller frees; NULL with a message when memory is out. */
char *carn_copy(const char *text, struct carn_error *err);

#endif
