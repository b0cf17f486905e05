/* Which TIFF pictures are handled, and how their samples lie. */
#include "codec/tiff.h"

#include <stdio.h>
#include <string.h>

struct name {
    unsigned value;
    const char *text;
};

static const char *name_of(const struct name *names, size_t count, unsigned value)
{
    for (size_t i = 0; i < count; i++)
        if (names[i].value == value)
            return names[i].text;
    return NULL;
}

static const struct name handled[] = {
    {COMPRESSION_NONE, "none"},
    {COMPRESSION_LZW, "lzw"},
    {COMPRESSION_ADOBE_DEFLATE, "deflate"},
    {COMPRESSION_DEFLATE, "deflate"},
    {COMPRESSION_PACKBITS, "packbits"},
    {COMPRESSION_JPEG, "jpeg"},
    {COMPRESSION_ZSTD, "zstd"},
    {COMPRESSION_CCITTRLE, "ccitt-rle"},
    {COMPRESSION_CCITTFAX3, "ccitt-g3"},
    {COMPRESSION_CCITTFAX4, "ccitt-g4"},
};
enum { HANDLED = sizeof handled / sizeof handled[0] };

const char *carn_tiff_compression_name(unsigned compression)
{
    return name_of(handled, HANDLED, compression);
}

unsigned carn_tiff_compression(const char *name)
{
    for (size_t i = 0; i < HANDLED; i++)
        if (strcmp(handled[i].text, name) == 0)
            return handled[i].value;
    return 0;
}

static int check_compression(const struct carn_source *source, unsigned compression,
                             struct carn_error *err)
{
    static const struct name others[] = {
        {COMPRESSION_OJPEG, "old-style JPEG"},
        {COMPRESSION_LZMA, "LZMA"},
        {COMPRESSION_WEBP, "WebP"},
        {COMPRESSION_JP2000, "JPEG 2000"},
        {COMPRESSION_SGILOG, "SGI Log"},
        {COMPRESSION_PIXARLOG, "Pixar log"},
        {COMPRESSION_JBIG, "JBIG"},
    };
    if (carn_tiff_compression_name(compression) != NULL) {
        if (TIFFIsCODECConfigured((uint16_t)compression))
            return 0;
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "TIFF in %s, which this libtiff was built without",
                            carn_tiff_compression_name(compression));
    }
    const char *text = name_of(others, sizeof others / sizeof others[0], compression);
    if (text != NULL)
        return carn_fail_at(err, CARN_INPUT, source->label, "TIFF in %s compression is not handled",
                            text);
    return carn_fail_at(err, CARN_INPUT, source->label, "TIFF in compression %u is not handled",
                        compression);
}

static int check_photometric(const struct carn_source *source, unsigned photometric,
                             unsigned compression, struct carn_error *err)
{
    static const struct name others[] = {
        {PHOTOMETRIC_MASK, "that is a mask"},
        {PHOTOMETRIC_SEPARATED, "in CMYK or other inks"},
        {PHOTOMETRIC_YCBCR, "in YCbCr without JPEG"},
        {PHOTOMETRIC_CIELAB, "in CIELAB"},
        {PHOTOMETRIC_ICCLAB, "in ICC Lab"},
        {PHOTOMETRIC_ITULAB, "in ITU Lab"},
        {PHOTOMETRIC_CFA, "of a raw sensor (colour filter array)"},
        {34892, "of a raw sensor (linear raw)"},
        {PHOTOMETRIC_LOGL, "in LogL"},
        {PHOTOMETRIC_LOGLUV, "in LogLuv"},
    };
    if (photometric <= PHOTOMETRIC_PALETTE ||
        (photometric == PHOTOMETRIC_YCBCR && compression == COMPRESSION_JPEG))
        return 0;
    const char *text = name_of(others, sizeof others / sizeof others[0], photometric);
    if (text != NULL)
        return carn_fail_at(err, CARN_INPUT, source->label, "TIFF %s is not handled", text);
    return carn_fail_at(err, CARN_INPUT, source->label,
                        "TIFF of photometric interpretation %u is not handled", photometric);
}

/* Packed samples, and those that stand for a palette's colours, come alone. */
static bool is_alone(unsigned bits, unsigned samples, unsigned photometric)
{
    bool palette = photometric == PHOTOMETRIC_PALETTE;
    return samples == 1 && photometric != PHOTOMETRIC_RGB &&
           (bits == 1 || bits == 2 || bits == 4 || (palette && bits == 8));
}

static int check_samples(const struct carn_source *source, unsigned bits, unsigned samples,
                         unsigned photometric, unsigned format, unsigned compression,
                         struct carn_error *err)
{
    static const struct name kinds[] = {
        {SAMPLEFORMAT_INT, "signed"},
        {SAMPLEFORMAT_IEEEFP, "floating-point"},
        {SAMPLEFORMAT_COMPLEXINT, "complex"},
        {SAMPLEFORMAT_COMPLEXIEEEFP, "complex floating-point"},
    };
    const char *kind = name_of(kinds, sizeof kinds / sizeof kinds[0], format);
    if (kind != NULL)
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "TIFF of %s samples (%u bits) is not handled", kind, bits);
    bool palette = photometric == PHOTOMETRIC_PALETTE;
    if (compression != COMPRESSION_JPEG && is_alone(bits, samples, photometric))
        return 0;
    if (palette || (bits != 8 && bits != 16) || (compression == COMPRESSION_JPEG && bits != 8))
        return carn_fail_at(
            err, CARN_INPUT, source->label, "TIFF of %u bits a sample%s%s is not handled", bits,
            palette ? " with a palette" : "", compression == COMPRESSION_JPEG ? " in JPEG" : "");
    return 0;
}

/* The colours, then the first further sample that says it is alpha. */
static int pick_samples(TIFF *tiff, const struct carn_source *source,
                        struct carn_tiff_layout *layout, struct carn_error *err)
{
    uint16_t count = 0;
    uint16_t *kinds = NULL;
    (void)TIFFGetFieldDefaulted(tiff, TIFFTAG_EXTRASAMPLES, &count, &kinds);
    if (layout->samples < layout->colours)
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "TIFF of %zu samples a pixel where its colours need %zu",
                            layout->samples, layout->colours);
    for (size_t c = 0; c < layout->colours; c++)
        layout->pick[c] = c;
    for (size_t i = 0; i < count && layout->colours + i < layout->samples; i++) {
        if (layout->alpha ||
            (kinds[i] != EXTRASAMPLE_ASSOCALPHA && kinds[i] != EXTRASAMPLE_UNASSALPHA))
            continue;
        layout->alpha = true;
        layout->associated = kinds[i] == EXTRASAMPLE_ASSOCALPHA;
        layout->pick[layout->colours] = layout->colours + i;
    }
    layout->out = layout->colours + layout->alpha;
    return 0;
}

/* Values of the palette are of 16 bit; where all of them are under 256 a writer took them for 8. */
static int find_palette(TIFF *tiff, const struct carn_source *source,
                        struct carn_tiff_layout *layout, struct carn_error *err)
{
    uint16_t *map[3] = {NULL, NULL, NULL};
    if (TIFFGetField(tiff, TIFFTAG_COLORMAP, &map[0], &map[1], &map[2]) != 1 || map[0] == NULL ||
        map[1] == NULL || map[2] == NULL)
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "TIFF with a palette that is not there");
    unsigned highest = 0;
    for (size_t c = 0; c < 3; c++) {
        layout->palette[c] = map[c];
        for (size_t i = 0; i < (size_t)1 << layout->bits; i++)
            highest = map[c][i] > highest ? map[c][i] : highest;
    }
    layout->palette_unit = highest < 256 ? 257 : 1;
    layout->out = 3;
    return 0;
}

int carn_tiff_layout(TIFF *tiff, const struct carn_source *source, struct carn_tiff_layout *layout,
                     struct carn_error *err)
{
    uint32_t width = 0;
    uint32_t height = 0;
    uint16_t bits = 1;
    uint16_t samples = 1;
    uint16_t format = SAMPLEFORMAT_UINT;
    uint16_t photometric = 0;
    uint16_t planar = PLANARCONFIG_CONTIG;
    *layout = (struct carn_tiff_layout){0};
    (void)TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
    (void)TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
    (void)TIFFGetFieldDefaulted(tiff, TIFFTAG_COMPRESSION, &layout->compression);
    (void)TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &bits);
    (void)TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &samples);
    (void)TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLEFORMAT, &format);
    (void)TIFFGetFieldDefaulted(tiff, TIFFTAG_PLANARCONFIG, &planar);
    if (TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &photometric) != 1)
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "TIFF does not say what its samples are");
    if (check_compression(source, layout->compression, err) != 0 ||
        check_photometric(source, photometric, layout->compression, err) != 0 ||
        check_samples(source, bits, samples, photometric, format, layout->compression, err) != 0 ||
        carn_source_pixels(source, width, height, err) != 0)
        return -1;
    layout->width = width;
    layout->height = height;
    layout->samples = samples;
    layout->bits = bits;
    layout->bytes = bits == 16 ? 2 : 1;
    layout->planar = planar == PLANARCONFIG_SEPARATE && samples > 1;
    layout->inverted = photometric == PHOTOMETRIC_MINISWHITE;
    layout->colours = photometric >= PHOTOMETRIC_RGB ? 3 : 1;
    if (photometric == PHOTOMETRIC_PALETTE)
        return find_palette(tiff, source, layout, err);
    return pick_samples(tiff, source, layout, err);
}
