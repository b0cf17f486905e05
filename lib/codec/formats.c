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

/*
 * First bytes: RFC 9649 (WebP); ISO/IEC 14496-12 (`ftyp` and its brands), of ISO/IEC 23008-12
 * (HEIC) and AV1's AVIF; ISO/IEC 18181-2 (JPEG XL); GIF89a; ISO/IEC 15444-1 (JPEG 2000); the raw
 * sensor files' from memory, as file(1) has them too. Raw files that are TIFF are told by their
 * TIFF.
 */
#define THROUGH_GM "gm convert FILE FILE.png"
static const struct {
    size_t at, size;
    const char *bytes, *words, *way;
} foreign[] = {
    {8, 4, "WEBP", "a WebP picture", THROUGH_GM},
    {4, 8, "ftypavif", "an AVIF picture", THROUGH_GM},
    {4, 8, "ftypavis", "an AVIF sequence", THROUGH_GM},
    {4, 8, "ftypcrx ", "a raw sensor file", NULL},
    {4, 7, "ftyphei", "a HEIC picture", THROUGH_GM},
    {4, 7, "ftyphev", "a HEIC sequence", THROUGH_GM},
    {4, 8, "ftypmif1", "a HEIF picture", THROUGH_GM},
    {4, 8, "ftypmsf1", "a HEIF sequence", THROUGH_GM},
    {0, 2, "\xff\x0a", "a JPEG XL picture", THROUGH_GM},
    {0, 8, "\0\0\0\x0cJXL ", "a JPEG XL picture", THROUGH_GM},
    {0, 8, "\0\0\0\x0cjP  ", "a JPEG 2000 picture", NULL},
    {0, 4, "GIF8", "a GIF picture", THROUGH_GM},
    {0, 8, "FUJIFILM", "a raw sensor file", NULL},
    {0, 4, "IIU\0", "a raw sensor file", NULL},
    {0, 4, "IIRO", "a raw sensor file", NULL},
    {0, 4, "IIRS", "a raw sensor file", NULL},
    {0, 4, "MMOR", "a raw sensor file", NULL},
    {0, 4, "FOVb", "a raw sensor file", NULL},
    {0, 4, "\0MRM", "a raw sensor file", NULL},
    {6, 8, "HEAPCCDR", "a raw sensor file", NULL},
    {0, 4, "8BPS", "a layered picture (8BPS)", NULL},
    {0, 4, "%PDF", "a PDF document", NULL},
    {0, 2, "BM", "a BMP picture", THROUGH_GM},
};

const char *carn_format_foreign(const unsigned char *head, size_t size, const char **way)
{
    for (size_t i = 0; i < sizeof foreign / sizeof *foreign; i++)
        if (size >= foreign[i].at + foreign[i].size &&
            memcmp(head + foreign[i].at, foreign[i].bytes, foreign[i].size) == 0) {
            *way = foreign[i].way;
            return foreign[i].words;
        }
    return NULL;
}
