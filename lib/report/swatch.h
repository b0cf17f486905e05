/*
 * swatch: a CIELAB colour as a page can show it.
 */
#ifndef CARN_SWATCH_H
#define CARN_SWATCH_H

#include "base/error.h"
#include "colour/lab.h"
#include "colour/profile.h"

#include <stdbool.h>

/* The colour in srgb, 0 to 255, clipped where it lies outside of it; false when it is unknown. */
bool carn_swatch(struct carn_profile *srgb, struct carn_lab lab, unsigned char rgb[3]);

#endif
