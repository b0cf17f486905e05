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
        {COMPRESSION_CCITTRLE, "CCITT run-length"},
        {COMPRESSION_CCITTFAX3, "CCITT group 3"},
        {COMPRESSION_CCITTFAX4, "CCITT group 4"},
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
        {PHOTOMETRIC_PALETTE, "with a palette"},
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
    if (photometric <= PHOTOMETRIC_RGB ||
        (photometric == PHOTOMETRIC_YCBCR && compression == COMPRESSION_JPEG))
        return 0;
    const char *text = name_of(others, sizeof others / sizeof others[0], photometric);
    if (text != NULL)
        return carn_fail_at(err, CARN_INPUT, source->label, "TIFF %s is not handled", text);
    return carn_fail_at(err, CARN_INPUT, source->label,
                        "TIFF of photometric interpretation %u is not handled", photometric);
}

static int check_samples(const struct carn_source *source, unsigned bits, unsigned format,
                         unsigned compression, struct carn_error *err)
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
    if ((bits != 8 && bits != 16) || (compression == COMPRESSION_JPEG && bits != 8))
        return carn_fail_at(err, CARN_INPUT, source->label,
                            "TIFF of %u bits a sample%s is not handled", bits,
                            compression == COMPRESSION_JPEG ? " in JPEG" : "");
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
        check_samples(source, bits, format, layout->compression, err) != 0 ||
        carn_source_pixels(source, width, height, err) != 0)
        return -1;
    layout->width = width;
    layout->height = height;
    layout->samples = samples;
    layout->bytes = bits / 8;
    layout->planar = planar == PLANARCONFIG_SEPARATE && samples > 1;
    layout->inverted = photometric == PHOTOMETRIC_MINISWHITE;
    layout->colours = photometric >= PHOTOMETRIC_RGB ? 3 : 1;
    return pick_samples(tiff, source, layout, err);
}
