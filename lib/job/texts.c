#include "job/texts.h"

#include <stdio.h>
#include <stdlib.h>

const char *carn_texts_print(struct carn_texts *texts, struct carn_error *err, const char *format,
                             va_list args)
{
    va_list again;
    va_copy(again, args);
    int size = vsnprintf(NULL, 0, format, again);
    va_end(again);
    char **grown = carn_grow(texts->texts, texts->count + 1, sizeof *grown, err);
    if (grown == NULL)
        return "";
    texts->texts = grown;
    char *text = carn_alloc((size_t)size + 1, 1, err);
    if (text == NULL)
        return "";
    vsnprintf(text, (size_t)size + 1, format, args);
    return texts->texts[texts->count++] = text;
}

void carn_texts_clear(struct carn_texts *texts)
{
    for (size_t i = 0; i < texts->count; i++)
        free(texts->texts[i]);
    free(texts->texts);
    *texts = (struct carn_texts){0};
}
