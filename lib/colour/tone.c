#include "colour/tone.h"

#include <string.h>

static const char *const words[] = {"light", "middle", "shade", "-"};

enum carn_tone carn_tone_of(const char *word)
{
    enum carn_tone tone = CARN_TONE_LIGHT;
    while (tone < CARN_UNTONED && strcmp(words[tone], word) != 0)
        tone++;
    return tone;
}

const char *carn_tone_word(enum carn_tone tone)
{
    return words[tone];
}

bool carn_tone_is_skin(const char *word)
{
    return strcmp(word, "card") != 0 && strcmp(word, "backdrop") != 0;
}
