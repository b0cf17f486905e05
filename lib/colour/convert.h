/*
 * convert: rows of whole frames from one profile to another.
 *
 * Where both profiles are curves and a matrix, through tables of our own, within 1 in 2^14 of the
 * exact way; else through lcms2 in floating point, which is exact and some 20 times slower; grey
 * through one table.
 */
#ifndef CARN_CONVERT_H
#define CARN_CONVERT_H

#include "base/error.h"
#include "colour/link.h"
#include "frame/frame.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct carn_convert;

/* Neither profile is needed after; to is RGB. 0.9 MiB, 1.3 for grey. */
struct carn_convert *carn_convert_open(const struct carn_profile *from,
                                       const struct carn_profile *to, enum carn_intent intent,
                                       bool bpc, struct carn_error *err);
void carn_convert_close(struct carn_convert *convert);

/* Opens one from the profile of an RGB frame for all that convert frames of it into the same in
 * this process and in its forks, relative with black-point compensation. The first one is kept.
 * carn_convert_kept gives it for these ICC profiles, or NULL; closing it does nothing. */
void carn_convert_keep(const void *from, size_t from_size, const void *to, size_t to_size);
struct carn_convert *carn_convert_kept(const void *from, size_t from_size, const void *to,
                                       size_t to_size);

/* Whether it goes through tables of our own. */
bool carn_convert_is_quick(const struct carn_convert *convert);

/*
 * One row of frame, as read, to out, which has three colours in place of the frame's and then alpha
 * and weight as they were. Colours multiplied with alpha (key alpha associated) are converted as
 * what they stand for; fully transparent ones pass. Returns how many pixels had to be clipped: a
 * channel lay more than 1 in 2^14 outside 0..1, of linear light in the quick way, else encoded.
 */
size_t carn_convert_row(struct carn_convert *convert, const struct carn_frame *frame,
                        const uint16_t *row, uint16_t *out);

#endif
