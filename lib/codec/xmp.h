/*
 * xmp: packets that do not fit in one JPEG segment. The XMP specification (part 3) has a standard
 * packet in the first segment that names, by its MD5, an extended one in segments of their own.
 */
#ifndef CARN_XMP_H
#define CARN_XMP_H

#include "base/error.h"

#include <stddef.h>

enum { CARN_XMP_NAME = 32 /* digits of an extended packet's name */ };

/* For a packet that is too long: the standard packet to write in its place, ended by a zero, and
 * the part of xmp that is the extended one, with its name. -1 when it is no packet of RDF. */
int carn_xmp_split(const char *xmp, size_t size, char standard[600], const char **extended,
                   size_t *extended_size, char name[CARN_XMP_NAME + 1]);

/* Both as one packet, which the caller frees; NULL when standard does not name extended or they are
 * not of a form that can be joined, or with a message. */
char *carn_xmp_join(const char *standard, size_t size, const char *extended, size_t extended_size,
                    const char name[CARN_XMP_NAME], size_t *joined, struct carn_error *err);

#endif
