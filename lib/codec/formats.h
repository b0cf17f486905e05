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

/* The format of a file that begins with these bytes; NULL when there is none. */
const struct carn_format *carn_format_of(const unsigned char *head, size_t size);

#endif
