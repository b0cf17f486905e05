/*
 * measure: the robust mean of a patch, and what can be said against it.
 *
 * Pores, hairs and speculars scatter a reading; the trade smooths first. Here the mean in encoded
 * RGB leaves out the lightest and the darkest tenth by the sum of channels, and pixels with alpha
 * under full. A patch is held in memory (2 bytes a sample), a frame never.
 */
#ifndef CARN_MEASURE_H
#define CARN_MEASURE_H

#include "base/error.h"
#include "colour/profile.h"
#include "colour/separation.h"
#include "correct/mean.h"
#include "correct/reading.h"
#include "frame/frame.h"
#include "frame/patch.h"

struct carn_measure;

/* box is copied. NULL with a message when memory is out. */
struct carn_measure *carn_measure_open(const struct carn_box *box, const struct carn_frame *frame,
                                       struct carn_error *err);
void carn_measure_close(struct carn_measure *measure);

/* Takes row y of the frame, in any order, each once. */
void carn_measure_row(struct carn_measure *measure, size_t y, const uint16_t *row);

/* Fills all of reading but frame, subject and camera. separation may be NULL: no inks. -1 with a
 * message when no pixel is opaque or memory is out. */
int carn_measure_finish(const struct carn_measure *measure, const struct carn_profile *profile,
                        const struct carn_separation *separation, enum carn_mean mean,
                        struct carn_reading *reading, struct carn_error *err);

/* What a colour alone says: fills lab, xyz, inks and separation of reading from its rgb, for a
 * profile of this many colours. separation may be NULL: no inks. */
void carn_measure_colour(const struct carn_profile *profile, size_t colours,
                         const struct carn_separation *separation, struct carn_reading *reading);

/* The flags clipped, small and dark of a reading of this many full-size pixels. tone: it is a
 * face's tone, of which a twentieth of the samples may be cut, where 0.5 % of a patch may: those of
 * a patch can lie at one end of it, and be another thing. */
unsigned carn_measure_doubts(const struct carn_reading *reading, double pixels, bool tone);

#endif
