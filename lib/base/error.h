/*
 * error: what went wrong, of which kind, with what, in one line.
 *
 * The library never prints and never exits. A function that can fail takes a struct carn_error
 * and returns -1 (or NULL) after carn_fail(); only main decides what to do with it. Nobody
 * compares the text: callers that act on a failure look at its kind.
 */
#ifndef CARN_ERROR_H
#define CARN_ERROR_H

#include <stdbool.h>
#include <stddef.h>

enum carn_kind {
    CARN_NONE,   /* nothing failed */
    CARN_USAGE,  /* a program, option or function was not used as it says */
    CARN_INPUT,  /* a file, frame or table is damaged, of a form that is not handled, or not enough
                  */
    CARN_LIMIT,  /* the input is larger than an option, a format or a table here allows */
    CARN_MEMORY, /* no memory */
    CARN_SYSTEM, /* the system refused: a file, a disk, a pipe */
    CARN_NUMERIC /* the input is sound, and the computation finds no answer within its bounds */
};

/* Starts as all zero. */
struct carn_error {
    enum carn_kind kind;
    char where[1024]; /* the subject: a file or frame; "" when none is known */
    char text[1024];  /* what is wrong with it, without the subject; no newline */
};

/*
 * Keeps kind and message unless a failure is kept already (the first cause is the one to tell),
 * and returns -1. Bytes that would break a line on a terminal become '?'. carn_fail_at also says
 * where (NULL or "": not known).
 */
__attribute__((format(printf, 3, 4))) int carn_fail(struct carn_error *err, enum carn_kind kind,
                                                    const char *format, ...);
__attribute__((format(printf, 4, 5))) int carn_fail_at(struct carn_error *err, enum carn_kind kind,
                                                       const char *where, const char *format, ...);

/* Fails for a cause kept elsewhere: its kind and message, told of where (NULL: as the cause has
 * it). Another subject that the cause names stays in the text. */
int carn_fail_from(struct carn_error *err, const struct carn_error *cause, const char *where);

/* Did the machine fail (memory, the system) and not the input? Then the input must not be taken for
 * damaged or missing. */
bool carn_is_machine(const struct carn_error *err);

/* The whole line, "WHERE: TEXT" or "TEXT", cut to size. */
void carn_error_line(const struct carn_error *err, char *line, size_t size);

/* Shows every control of a text as '?': bytes under 0x20, 0x7F, and C1 (0x80 to 0x9F) as UTF-8 or
 * as a byte of its own. */
void carn_one_line(char *text);

/* malloc, calloc and realloc of count times size bytes; NULL with a message when that overflows or
 * memory is out. The caller frees. carn_alloc gives zeroed memory. */
void *carn_alloc(size_t count, size_t size, struct carn_error *err);
void *carn_grow(void *old, size_t count, size_t size, struct carn_error *err);

/* A copy of text that the caller frees; NULL with a message when memory is out. */
char *carn_copy(const char *text, struct carn_error *err);

#endif
