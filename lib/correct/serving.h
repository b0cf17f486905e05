/*
 * serving: the readings of a table that serve a frame: its own before its subject's, before all.
 */
#ifndef CARN_SERVING_H
#define CARN_SERVING_H

#include "base/tone.h"
#include "correct/reading.h"

enum carn_serves { CARN_SERVES_NONE, CARN_SERVES_ANYBODY, CARN_SERVES_SUBJECT, CARN_SERVES_FRAME };

/* Fills rows, which has room for all, with the rows of skin that serve a frame of this name and
 * subject ("-": not known) best; doubtful ones only when there are no others. how: in which way
 * they serve. Returns how many; 0 when there is no skin. */
size_t carn_readings_serving(const struct carn_readings *readings, const char *frame,
                             const char *subject, size_t *rows, enum carn_serves *how);

/* One tone of the face that a reading is of, read whole in the same frame and patch; else NULL. */
const struct carn_reading *carn_readings_tone(const struct carn_readings *readings,
                                              const struct carn_reading *of, enum carn_tone tone);

#endif
