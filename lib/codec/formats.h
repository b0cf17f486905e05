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

/* What a file is that Carnation knows but does not read, as "a WebP picture"; NULL when it is not
 * known. way: a command that converts it into one that is read, with FILE for its name; NULL when
 * Debian has none.
 */
const char *carn_format_foreign(const unsigned char *head, size_t size, const char **way);

#endif
