/*
 * tone: what a patch or a reading is of, as the tables' column tone has it.
 */
#ifndef CARN_TONE_H
#define CARN_TONE_H

#include <stdbool.h>

/* The first three are a face's own. CARN_UNTONED is -, an empty cell, and any word not listed. */
enum carn_tone {
    CARN_TONE_LIGHT,
    CARN_TONE_MIDDLE,
    CARN_TONE_SHADE,
    CARN_UNTONED,
    CARN_TONE_ALL, /* a whole face */
    CARN_TONE_CARD,
    CARN_TONE_BACKDROP
};

/* Light, middle, shade. */
enum { CARN_TONES = 3 };

/* Of a word; is_known tells - and an empty cell from a word that is none of these. */
enum carn_tone carn_tone_of(const char *word);
bool carn_tone_is_known(const char *word);

/* Light, middle or shade; anything else is CARN_UNTONED. */
enum carn_tone carn_tone_of_face(const char *word);

/* "light", "middle", "shade", "-", "all", "card", "backdrop". */
const char *carn_tone_word(enum carn_tone tone);

/* Any word but card and backdrop. */
bool carn_tone_is_skin(const char *word);

#endif
