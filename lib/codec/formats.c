#include "codec/formats.h"

#include <string.h>
#include <strings.h>

static const struct carn_format *const formats[] = {&carn_format_png, &carn_format_tiff,
                                                    &carn_format_jpeg, &carn_format_pnm};
enum { FORMATS = sizeof formats / sizeof formats[0] };

const struct carn_format *carn_format_for(const char *suffix)
{
    size_t size = strlen(suffix);
    for (size_t f = 0; f < FORMATS && size > 0; f++)
        for (const char *at = formats[f]->suffixes; at != NULL; at = strchr(at, ' ')) {
            at += *at == ' ';
            if (strncasecmp(at, suffix, size) == 0 && (at[size] == ' ' || at[size] == '\0'))
                return formats[f];
        }
    return NULL;
}

const struct carn_format *carn_format_of(const unsigned char *head, size_t size)
{
    for (size_t f = 0; f < FORMATS; f++)
        for (size_t m = 0; m < 4 && formats[f]->magic[m] != NULL; m++)
            if (size >= formats[f]->magic_size &&
                memcmp(head, formats[f]->magic[m], formats[f]->magic_size) == 0)
                return formats[f];
    return NULL;
}
