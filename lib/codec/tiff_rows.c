/*
 * TIFF pixels row by row. What is held at a time is a band: a strip, a row of tiles, or one of
 * these for each plane. Strips over STRIP_MOST are not held: without compression their rows are
 * read from the file, with it libtiff unpacks row by row (and holds the packed strip).
 */
#include "codec/tiff.h"

#include <stdlib.h>
#include <string.h>

enum { STRIP_MOST = 4 * 1024 * 1024 };

enum way { BAND_STRIPS, BAND_TILES, ROWS_DIRECT, ROWS_UNPACKED };

struct carn_tiff_rows {
    TIFF *tiff;
    const struct carn_source *source;
    struct carn_tiff_layout layout;
    struct carn_tiff_words *words;
    enum way way;
    size_t y;
    size_t band_rows; /* rows of a strip or tile */
    size_t planes;    /* 1, or one a sample */
    size_t stride;    /* bytes of a row of one plane */
    size_t bits;      /* of a pixel of one plane */
    size_t plane;     /* bytes of a band of one plane */
    bool differences; /* the band has each pixel less the one before it in its row */
    unsigned char *band;
    unsigned char *tile;
    size_t tile_size, tile_width;
};

static int damaged(const struct carn_tiff_rows *rows, struct carn_error *err)
{
    const char *text = rows->words->text[0] != '\0' ? rows->words->text : "data are missing";
    return carn_fail_at(err, CARN_INPUT, rows->source->label,
                        "TIFF damaged or cut short at row %zu of %zu: %s", rows->y,
                        rows->layout.height, text);
}

static int allocate(struct carn_tiff_rows *rows, size_t held_rows, struct carn_error *err)
{
    const struct carn_source *source = rows->source;
    uint64_t plane = (uint64_t)rows->stride * held_rows; /* below pixels times 65535 samples */
    if (carn_source_hold(source, plane > source->limits.memory ? plane : plane * rows->planes,
                         "a band of strips or tiles", err) != 0)
        return -1;
    rows->plane = (size_t)plane;
    rows->band = carn_alloc(rows->planes, rows->plane, err);
    return rows->band == NULL ? -1 : 0;
}

/* The samples of a row are ours as they lie in the file. */
static bool copied_whole(const struct carn_tiff_rows *rows)
{
    const struct carn_tiff_layout *layout = &rows->layout;
    return rows->planes == 1 && layout->out == layout->samples && !layout->inverted;
}

static int set_up_tiles(struct carn_tiff_rows *rows, struct carn_error *err)
{
    uint32_t width = 0;
    uint32_t height = 0;
    (void)TIFFGetField(rows->tiff, TIFFTAG_TILEWIDTH, &width);
    (void)TIFFGetField(rows->tiff, TIFFTAG_TILELENGTH, &height);
    tmsize_t size = TIFFTileSize(rows->tiff);
    if (width == 0 || height == 0 || size <= 0)
        return damaged(rows, err);
    if (carn_source_hold(rows->source, (uint64_t)size, "a tile", err) != 0)
        return -1;
    rows->way = BAND_TILES;
    rows->tile_size = (size_t)size;
    rows->tile_width = width;
    rows->band_rows = height < rows->layout.height ? height : rows->layout.height;
    /* The width of a tile is a multiple of 16: its rows end at a byte. */
    if ((size_t)size != (size_t)width * rows->bits / 8 * height)
        return carn_fail_at(err, CARN_INPUT, rows->source->label,
                            "TIFF tiles of an unexpected size");
    rows->tile = carn_alloc(1, rows->tile_size, err);
    /* A tile may be higher than the picture; the rows below it have to be stepped over. */
    return rows->tile == NULL ? -1 : allocate(rows, rows->band_rows, err);
}

static int set_up_strips(struct carn_tiff_rows *rows, struct carn_error *err)
{
    const struct carn_tiff_layout *layout = &rows->layout;
    uint32_t strip_rows = 0;
    uint16_t fill = FILLORDER_MSB2LSB;
    (void)TIFFGetFieldDefaulted(rows->tiff, TIFFTAG_ROWSPERSTRIP, &strip_rows);
    (void)TIFFGetFieldDefaulted(rows->tiff, TIFFTAG_FILLORDER, &fill);
    if (strip_rows == 0)
        return damaged(rows, err);
    rows->band_rows = strip_rows < layout->height ? strip_rows : layout->height;
    if ((size_t)TIFFScanlineSize(rows->tiff) != rows->stride)
        return carn_fail_at(err, CARN_INPUT, rows->source->label,
                            "TIFF rows of an unexpected size");
    rows->way = BAND_STRIPS;
    if (rows->planes == 1 && rows->band_rows > STRIP_MOST / rows->stride) {
        bool plain = layout->compression == COMPRESSION_NONE && fill == FILLORDER_MSB2LSB;
        rows->way = plain ? ROWS_DIRECT : ROWS_UNPACKED;
        return allocate(rows, 1, err);
    }
    return allocate(rows, rows->band_rows, err);
}

/* Differences of 16 bits are added up where a row is copied anyway: libtiff takes a pass over the
 * strip for it, 11 % of the processor time of decoding. */
static void take_over_differences(struct carn_tiff_rows *rows)
{
    uint16_t predictor = PREDICTOR_NONE; /* the field of some compressions */
    if (rows->way == BAND_STRIPS && rows->layout.bytes == 2 && copied_whole(rows) &&
        TIFFGetField(rows->tiff, TIFFTAG_PREDICTOR, &predictor) == 1 &&
        predictor == PREDICTOR_HORIZONTAL)
        rows->differences = TIFFSetField(rows->tiff, TIFFTAG_PREDICTOR, PREDICTOR_NONE) == 1;
}

struct carn_tiff_rows *carn_tiff_rows_open(TIFF *tiff, const struct carn_source *source,
                                           const struct carn_tiff_layout *layout,
                                           struct carn_tiff_words *words, struct carn_error *err)
{
    struct carn_tiff_rows *rows = carn_alloc(1, sizeof *rows, err);
    if (rows == NULL)
        return NULL;
    rows->tiff = tiff;
    rows->source = source;
    rows->layout = *layout;
    rows->words = words;
    rows->planes = layout->planar ? layout->samples : 1;
    rows->bits = layout->bits * (layout->planar ? 1 : layout->samples);
    rows->stride = (layout->width * rows->bits + 7) / 8;
    int result = TIFFIsTiled(tiff) ? set_up_tiles(rows, err) : set_up_strips(rows, err);
    if (result != 0) {
        carn_tiff_rows_close(rows);
        return NULL;
    }
    take_over_differences(rows);
    return rows;
}

void carn_tiff_rows_close(struct carn_tiff_rows *rows)
{
    if (rows == NULL)
        return;
    free(rows->band);
    free(rows->tile);
    free(rows);
}

static int load_strips(struct carn_tiff_rows *rows, size_t count, struct carn_error *err)
{
    for (size_t p = 0; p < rows->planes; p++) {
        uint32_t strip = TIFFComputeStrip(rows->tiff, (uint32_t)rows->y, (uint16_t)p);
        tmsize_t size = (tmsize_t)(count * rows->stride);
        if (TIFFReadEncodedStrip(rows->tiff, strip, rows->band + p * rows->plane, size) != size)
            return damaged(rows, err);
    }
    return 0;
}

static int load_tile(struct carn_tiff_rows *rows, size_t x, size_t plane, size_t count,
                     struct carn_error *err)
{
    size_t left = rows->layout.width - x;
    size_t part = ((left < rows->tile_width ? left : rows->tile_width) * rows->bits + 7) / 8;
    uint32_t tile = TIFFComputeTile(rows->tiff, (uint32_t)x, (uint32_t)rows->y, 0, (uint16_t)plane);
    if (TIFFReadEncodedTile(rows->tiff, tile, rows->tile, (tmsize_t)rows->tile_size) !=
        (tmsize_t)rows->tile_size)
        return damaged(rows, err);
    unsigned char *to = rows->band + plane * rows->plane + x * rows->bits / 8;
    for (size_t r = 0; r < count; r++)
        memcpy(to + r * rows->stride, rows->tile + r * (rows->tile_width * rows->bits / 8), part);
    return 0;
}

static int load_tiles(struct carn_tiff_rows *rows, size_t count, struct carn_error *err)
{
    for (size_t p = 0; p < rows->planes; p++)
        for (size_t x = 0; x < rows->layout.width; x += rows->tile_width)
            if (load_tile(rows, x, p, count, err) != 0)
                return -1;
    return 0;
}

/* A row of an uncompressed strip from where it stands in the file. */
static int load_direct(struct carn_tiff_rows *rows, struct carn_error *err)
{
    uint32_t strip = (uint32_t)(rows->y / rows->band_rows);
    uint64_t inside = (uint64_t)(rows->y % rows->band_rows) * rows->stride;
    uint64_t offset = TIFFGetStrileOffset(rows->tiff, strip);
    uint64_t size = TIFFGetStrileByteCount(rows->tiff, strip);
    if (offset == 0 || inside + rows->stride > size || offset > UINT64_MAX - inside)
        return damaged(rows, err);
    struct carn_error cause = {0};
    if (carn_source_at(rows->source, offset + inside, rows->band, rows->stride, "a strip",
                       &cause) != 0)
        return damaged(rows, err);
    if (rows->layout.bytes == 2 && TIFFIsByteSwapped(rows->tiff))
        TIFFSwabArrayOfShort((void *)rows->band, (tmsize_t)(rows->stride / 2));
    return 0;
}

/* The samples picked out of a row of the band, widened. from is the first sample of one channel. */
static void spread(const struct carn_tiff_rows *rows, const unsigned char *from, size_t step,
                   uint16_t *to, uint16_t flip)
{
    size_t width = rows->layout.width;
    size_t out = rows->layout.out;
    if (rows->layout.bytes == 1) {
        for (size_t x = 0; x < width; x++)
            to[x * out] = (uint16_t)((from[x * step] * 257) ^ flip);
        return;
    }
    for (size_t x = 0; x < width; x++) {
        uint16_t v;
        memcpy(&v, from + x * step * 2, 2);
        to[x * out] = v ^ flip;
    }
}

/* One sample a pixel, the first in the highest bits, as a grey or as a palette's colour. */
static void deliver_alone(const struct carn_tiff_layout *layout, const unsigned char *from,
                          uint16_t *row)
{
    unsigned most = (1u << layout->bits) - 1;
    for (size_t x = 0; x < layout->width; x++) {
        size_t bit = x * layout->bits;
        unsigned v = (unsigned)from[bit / 8] >> (8 - layout->bits - bit % 8) & most;
        if (layout->palette[0] != NULL) {
            for (size_t c = 0; c < 3; c++)
                row[x * 3 + c] = (uint16_t)(layout->palette[c][v] * layout->palette_unit);
        } else {
            row[x] = (uint16_t)((layout->inverted ? most - v : v) * 65535 / most);
        }
    }
}

/* With samples known to the compiler the sums stay in registers. */
static inline void add_up(const uint16_t *from, size_t width, size_t samples, uint16_t *to)
{
    uint16_t sum[4] = {0};
    for (size_t x = 0; x < width; x++)
        for (size_t c = 0; c < samples; c++)
            *to++ = sum[c] = (uint16_t)(sum[c] + *from++);
}

static void add_up_row(const uint16_t *from, const struct carn_tiff_layout *layout, uint16_t *row)
{
    if (layout->samples == 3)
        add_up(from, layout->width, 3, row);
    else
        add_up(from, layout->width, layout->samples, row);
}

static void deliver(const struct carn_tiff_rows *rows, size_t band_row, uint16_t *row)
{
    const struct carn_tiff_layout *layout = &rows->layout;
    const unsigned char *from = rows->band + band_row * rows->stride;
    if (layout->bits < 8 || layout->palette[0] != NULL) {
        deliver_alone(layout, from, row);
        return;
    }
    if (copied_whole(rows)) {
        if (rows->differences)
            add_up_row((const void *)from, layout, row);
        else if (layout->bytes == 2)
            memcpy(row, from, rows->stride);
        else
            carn_widen_row(from, row, rows->stride);
        return;
    }
    for (size_t c = 0; c < layout->out; c++) {
        size_t sample = layout->pick[c];
        const unsigned char *first =
            from + (rows->planes > 1 ? sample * rows->plane : sample * layout->bytes);
        /* White is zero: turning every bit over subtracts from the greatest value. */
        uint16_t flip = layout->inverted && c < layout->colours ? 65535 : 0;
        spread(rows, first, rows->planes > 1 ? 1 : layout->samples, row + c, flip);
    }
}

static int load(struct carn_tiff_rows *rows, struct carn_error *err)
{
    size_t left = rows->layout.height - rows->y;
    size_t count = left < rows->band_rows ? left : rows->band_rows;
    switch (rows->way) {
    case ROWS_DIRECT:
        return load_direct(rows, err);
    case ROWS_UNPACKED:
        if (TIFFReadScanline(rows->tiff, rows->band, (uint32_t)rows->y, 0) != 1)
            return damaged(rows, err);
        return 0;
    case BAND_STRIPS:
        return rows->y % rows->band_rows == 0 ? load_strips(rows, count, err) : 0;
    case BAND_TILES:
        return rows->y % rows->band_rows == 0 ? load_tiles(rows, count, err) : 0;
    }
    return -1;
}

int carn_tiff_rows_read(struct carn_tiff_rows *rows, uint16_t *row, struct carn_error *err)
{
    if (load(rows, err) != 0)
        return -1;
    if (rows->words->jpeg_warned)
        return damaged(rows, err);
    bool banded = rows->way == BAND_STRIPS || rows->way == BAND_TILES;
    deliver(rows, banded ? rows->y % rows->band_rows : 0, row);
    rows->y++;
    return 0;
}
