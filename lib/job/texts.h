/*
 * texts: what a pipeline is given as words, and what else has to live until a step is done.
 */
#ifndef CARN_TEXTS_H
#define CARN_TEXTS_H

#include "base/error.h"

#include <stdarg.h>
#include <stddef.h>

/* Starts as all zero. As many as are needed: a group of hundreds of frames has hundreds. */
struct carn_texts {
    size_t count;
    char **texts;
};

/* A text that lives until carn_texts_clear; "", with a message, when memory is out. */
__attribute__((format(printf, 3, 0))) const char *carn_texts_print(struct carn_texts *texts,
                                                                   struct carn_error *err,
                                                                   const char *format,
                                                                   va_list args);
void carn_texts_clear(struct carn_texts *texts);

#endif
