/*
 * space: RGB spaces that open standards define, by name, as ICC profiles.
 */
#ifndef CARN_SPACE_H
#define CARN_SPACE_H

#include "base/error.h"

#include <stddef.h>

/* The profile's bytes; NULL without a message for a name that is none. The caller frees. */
void *carn_space_profile(const char *name, size_t *size, struct carn_error *err);

/* The names, joined by commas. */
const char *carn_space_names(void);

#endif
