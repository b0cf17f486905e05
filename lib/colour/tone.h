/*
 * tone: which part of a face a reading is of, as the tables' column tone has it.
 */
#ifndef CARN_TONE_H
#define CARN_TONE_H

#include <stdbool.h>

/* The first three are a face's; any other word, card and backdrop too, is CARN_UNTONED. */
enum carn_tone { CARN_TONE_LIGHT, CARN_TONE_MIDDLE, CARN_TONE_SHADE, CARN_UNTONED };

/* Light, middle, shade. */
enum { CARN_TONES = 3 };

enum carn_tone carn_tone_of(const char *word);

/* "light", "middle", "shade", "-". */
const char *carn_tone_word(enum carn_tone tone);

/* Any word but card and backdrop. */
bool carn_tone_is_skin(const char *word);

#endif
