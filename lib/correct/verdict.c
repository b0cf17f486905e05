#include "correct/verdict.h"

#include <string.h>

static const char *const words[CARN_VERDICTS] = {"-", "on", "held", "unsure", "off"};

const char *carn_verdict_word(enum carn_verdict verdict)
{
    return words[verdict];
}

enum carn_verdict carn_verdict_of(const char *word)
{
    enum carn_verdict v = CARN_OFF;
    while (v > CARN_UNJUDGED && strcmp(word, words[v]) != 0)
        v--;
    return v;
}
