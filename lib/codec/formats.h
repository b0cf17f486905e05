/*
 * formats: the list of formats, and which one a name or a file asks for.
 */
#ifndef CARN_FORMATS_H
#define CARN_FORMATS_H

#include "codec/format.h"

#include <stddef.h>

extern const struct carn_format carn_format_png, carn_format_tiff, carn_format_jpeg,
    carn_format_pnm;

/* The format for a suffix as "tif", upper or lower case; NULL when there is none. */
const struct carn_format *carn_format_for(const char *suffix);

/* The bytes at a file's beginning that tell its format. */
enum { CARN_MAGIC = 16 };

/* The format of a file that begins with these bytes, CARN_MAGIC or as many as there are; NULL when
 * there is none. */
const struct carn_format *carn_format_of(const unsigned char *head, size_t size);

/* Such a file in words, as "a WebP picture", when it is of a kind that is known but not read; way
 * is a command that makes one that is, with FILE for its name, or NULL. NULL when it is not known.
 */
const char *carn_format_foreign(const unsigned char *head, size_t size, const char **way);

#endif
