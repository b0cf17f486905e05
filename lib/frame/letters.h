/*
 * letters: small letters of one width for names on pictures, from lib/data/letters.hex.
 */
#ifndef CARN_LETTERS_H
#define CARN_LETTERS_H

#include "base/error.h"

#include <stddef.h>
#include <stdint.h>

enum { CARN_LETTER_WIDTH = 6, CARN_LETTER_HEIGHT = 13 };

struct carn_letters;

/* NULL with a message when the file is not there or is no such table. */
struct carn_letters *carn_letters_open(const char *path, struct carn_error *err);
void carn_letters_close(struct carn_letters *letters);

/* The rows of the letter that *text begins with, the leftmost pixel 0x80, and *text goes on behind
 * it; U+FFFD for one that is not there and for bytes that are no UTF-8. */
const uint8_t *carn_letter(const struct carn_letters *letters, const char **text);

/* How many letters a text has. */
size_t carn_letters_count(const char *text);

#endif
