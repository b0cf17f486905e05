#include "base/tone.h"

#include <string.h>

static const char *const words[] = {"light", "middle", "shade", "-", "all", "card", "backdrop"};

enum { WORDS = sizeof words / sizeof *words };

enum carn_tone carn_tone_of(const char *word)
{
    int tone = 0;
    while (tone < WORDS && strcmp(words[tone], word) != 0)
        tone++;
    return tone < WORDS ? (enum carn_tone)tone : CARN_UNTONED;
}

bool carn_tone_is_known(const char *word)
{
    return carn_tone_of(word) != CARN_UNTONED || word[0] == '\0' || strcmp(word, "-") == 0;
}

enum carn_tone carn_tone_of_face(const char *word)
{
    enum carn_tone tone = carn_tone_of(word);
    return tone < CARN_UNTONED ? tone : CARN_UNTONED;
}

const char *carn_tone_word(enum carn_tone tone)
{
    return words[tone];
}

bool carn_tone_is_skin(const char *word)
{
    enum carn_tone tone = carn_tone_of(word);
    return tone != CARN_TONE_CARD && tone != CARN_TONE_BACKDROP;
}
