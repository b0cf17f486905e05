/*
 * TIFF out, through libtiff: strips of about 256 KiB, whole at a time (five times as fast as rows),
 * differenced before they are packed. No time and no program name is written.
 */
#include "codec/tiff.h"

#include "codec/deflate.h"
#include "codec/exif.h"
#include "frame/keys.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { STRIP_SIZE = 256 * 1024 };

/* A strip that carn_deflate packs into less than this share of its bytes has repeats, which
 * libtiff's own deflate finds better: smooth pictures grew by 2 %, flat ones seven times. Such
 * strips come together: the next RESTED are not tried. (Chosen on scenes of seven grains, scenes
 * blurred by six sigmas, and photographs of 8 bits, curved or not: with 0.7 files grow by 0.4 % at
 * most, but for one photograph in 16; with 0.65 by 0.6 %; with 0.75 half of a scene with grain is
 * packed twice.) */
static const double REPEATING = 0.7;
enum { RESTED = 7 };

/* With more bytes of pixels and metadata the 32-bit offsets of plain TIFF may overflow. */
static const uint64_t PLAIN_MOST = UINT64_C(4000000000);

struct writer {
    struct carn_sink *sink;
    TIFF *tiff;
    struct carn_tiff_words words;
    /* libtiff had no memory for a blob: libtiff 4.5 would end the process in freeing what it has.
     */
    bool torn;
    unsigned char *strip;
    size_t row_size, strip_rows, rows; /* rows in strip */
    uint32_t strips;
    struct carn_deflate *deflate; /* NULL: libtiff packs */
    uint16_t *differences;        /* a strip of them */
    unsigned char *packed;
    unsigned resting; /* strips that are not tried */
    unsigned char *exif;
    size_t exif_size;
    void *iptc;
    size_t iptc_size;
};

static int failed(const struct writer *writer, struct carn_error *err)
{
    if (carn_tiff_check(&writer->words, err) != 0)
        return -1;
    return carn_fail_at(err, CARN_SYSTEM, writer->sink->label, "TIFF cannot be written: %s",
                        writer->words.text[0] != '\0' ? writer->words.text : strerror(errno));
}

void carn_tiff_write_close(void *state)
{
    struct writer *writer = state;
    /* Closed as if opened for reading: else TIFFClose would write what it holds, whole or not. */
    if (writer->tiff != NULL && writer->torn) {
        close(writer->words.fd);
    } else if (writer->tiff != NULL) {
        (void)TIFFSetMode(writer->tiff, O_RDONLY);
        TIFFClose(writer->tiff);
    }
    carn_deflate_close(writer->deflate);
    free(writer->differences);
    free(writer->packed);
    free(writer->strip);
    free(writer->exif);
    free(writer->iptc);
    free(writer);
}

static bool set_layout(const struct writer *writer)
{
    const struct carn_sink *sink = writer->sink;
    TIFF *tiff = writer->tiff;
    uint16_t extra = sink->associated ? EXTRASAMPLE_ASSOCALPHA : EXTRASAMPLE_UNASSALPHA;
    bool good = TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, (uint32_t)sink->frame->width) &&
                TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, (uint32_t)sink->frame->height) &&
                TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, sink->depth) &&
                TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, (int)(sink->colours + sink->alpha)) &&
                TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC,
                             sink->colours == 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK) &&
                TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG) &&
                TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, (uint32_t)writer->strip_rows) &&
                TIFFSetField(tiff, TIFFTAG_ORIENTATION, (int)carn_frame_orientation(sink->frame));
    return good && (!sink->alpha || TIFFSetField(tiff, TIFFTAG_EXTRASAMPLES, 1, &extra));
}

static bool set_resolution(const struct writer *writer)
{
    static const int units[] = {RESUNIT_NONE, RESUNIT_INCH, RESUNIT_CENTIMETER};
    struct carn_resolution resolution;
    if (!carn_frame_resolution(writer->sink->frame, &resolution))
        return true;
    return TIFFSetField(writer->tiff, TIFFTAG_XRESOLUTION, resolution.x) &&
           TIFFSetField(writer->tiff, TIFFTAG_YRESOLUTION, resolution.y) &&
           TIFFSetField(writer->tiff, TIFFTAG_RESOLUTIONUNIT, units[resolution.unit]);
}

/* By the source's compression; JPEG would lose more each time, CCITT holds one bit, and an unknown
 * name is no reason to fail: these become deflate. */
static bool set_compression(const struct writer *writer)
{
    const char *name = writer->sink->compression;
    unsigned compression = name == NULL ? 0 : carn_tiff_compression(name);
    bool own = compression == COMPRESSION_CCITTRLE || compression == COMPRESSION_CCITTFAX3 ||
               compression == COMPRESSION_CCITTFAX4 || compression == COMPRESSION_JPEG;
    if (compression == 0 || own)
        compression = COMPRESSION_ADOBE_DEFLATE;
    TIFF *tiff = writer->tiff;
    if (!TIFFSetField(tiff, TIFFTAG_COMPRESSION, (int)compression))
        return false;
    bool predicts = compression == COMPRESSION_ADOBE_DEFLATE || compression == COMPRESSION_LZW ||
                    compression == COMPRESSION_ZSTD;
    if (predicts && !TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL))
        return false;
    if (compression == COMPRESSION_ADOBE_DEFLATE)
        return TIFFSetField(tiff, TIFFTAG_ZIPQUALITY, 1);
    return compression != COMPRESSION_ZSTD || TIFFSetField(tiff, TIFFTAG_ZSTD_LEVEL, 1);
}

static int set_blob(struct writer *writer, const char *key, uint32_t tag, struct carn_error *err)
{
    size_t size;
    void *bytes = carn_sink_blob(writer->sink, key, &size, err);
    if (bytes == NULL)
        return err->kind == CARN_NONE ? 0 : -1;
    int set = size > UINT32_MAX ? 0 : TIFFSetField(writer->tiff, tag, (uint32_t)size, bytes);
    free(bytes);
    writer->torn = !set;
    return set ? 0 : failed(writer, err);
}

/* The mode letters: `b` and `l` the byte order, `8` BigTIFF. The order is that of the Exif block,
 * so that its values can be written as they are. */
static void choose_mode(const struct writer *writer, char mode[4])
{
    const struct carn_frame *frame = writer->sink->frame;
    uint64_t size = (uint64_t)writer->row_size * frame->height + writer->exif_size;
    const char *icc = carn_frame_get(frame, "icc");
    size += icc == NULL ? 0 : strlen(icc);
    bool big = writer->exif != NULL && carn_exif_big_endian(writer->exif);
    size_t used = 0;
    mode[used++] = 'w';
    mode[used++] = big ? 'b' : 'l';
    if (size + size / 256 > PLAIN_MOST) /* packed noise grows by less than that */
        mode[used++] = '8';
    mode[used] = '\0';
}

/* The Exif block, if all of its directories can be taken apart. */
static int take_exif(struct writer *writer, struct carn_error *err)
{
    struct carn_sink *sink = writer->sink;
    size_t damaged = 0;
    writer->exif = carn_exif_of_sink(sink, &writer->exif_size, err);
    if (writer->exif == NULL)
        return err->kind == CARN_NONE ? 0 : -1;
    int whole = carn_exif_whole(writer->exif, writer->exif_size, &damaged, err);
    if (whole == 0) {
        carn_note(&sink->notes, "exif", "%s: the frame's Exif is damaged, it is left out",
                  sink->label);
        free(writer->exif);
        writer->exif = NULL;
        writer->exif_size = 0;
    } else if (damaged > 0) {
        carn_note(&sink->notes, "exif parts",
                  "%s: %zu damaged entries of the frame's Exif are left out", sink->label, damaged);
    }
    return whole < 0 ? -1 : 0;
}

/* Room for a strip that does not pack at all. */
static size_t packed_room(const struct writer *writer)
{
    size_t size = writer->strip_rows * writer->row_size;
    return size + size / 64 + 64;
}

/* Of 8 bits libtiff's deflate makes less, and of few bytes it is as fast. */
static int choose_deflate(struct writer *writer, struct carn_error *err)
{
    uint16_t compression = COMPRESSION_NONE;
    TIFFGetField(writer->tiff, TIFFTAG_COMPRESSION, &compression);
    if (compression != COMPRESSION_ADOBE_DEFLATE || writer->sink->depth != 16)
        return 0;
    writer->deflate = carn_deflate_open(err);
    if (writer->deflate == NULL)
        return err->kind == CARN_NONE ? 0 : -1;
    writer->differences = carn_alloc(writer->strip_rows, writer->row_size, err);
    writer->packed = carn_alloc(packed_room(writer), 1, err);
    return writer->differences == NULL || writer->packed == NULL ? -1 : 0;
}

static int begin(struct writer *writer, struct carn_error *err)
{
    struct carn_sink *sink = writer->sink;
    const struct carn_frame *frame = sink->frame;
    if (frame->width > UINT32_MAX || frame->height > UINT32_MAX)
        return carn_fail_at(err, CARN_LIMIT, sink->label, "too many pixels a side for TIFF");
    writer->row_size = carn_sink_row_size(sink);
    writer->strip_rows = writer->row_size < STRIP_SIZE ? STRIP_SIZE / writer->row_size : 1;
    if (writer->strip_rows > frame->height)
        writer->strip_rows = frame->height;
    writer->strip = carn_alloc(writer->strip_rows, writer->row_size, err);
    if (take_exif(writer, err) != 0)
        return -1;
    writer->iptc = carn_sink_blob(sink, "iptc", &writer->iptc_size, err);
    if (err->kind != CARN_NONE)
        return -1;
    char mode[4];
    choose_mode(writer, mode);
    int fd = fcntl(sink->fd, F_DUPFD_CLOEXEC, 3);
    if (fd < 0)
        return failed(writer, err);
    writer->tiff = carn_tiff_open(fd, sink->label, mode, 0, &writer->words, err);
    if (writer->tiff == NULL) {
        close(fd);
        return -1;
    }
    if (!set_layout(writer) || !set_compression(writer) || !set_resolution(writer))
        return failed(writer, err);
    if (choose_deflate(writer, err) != 0)
        return -1;
    if (set_blob(writer, "icc", TIFFTAG_ICCPROFILE, err) != 0)
        return -1;
    return set_blob(writer, "xmp", TIFFTAG_XMLPACKET, err);
}

void *carn_tiff_write_open(struct carn_sink *sink, struct carn_error *err)
{
    struct writer *writer = carn_alloc(1, sizeof *writer, err);
    if (writer == NULL)
        return NULL;
    writer->sink = sink;
    if (begin(writer, err) != 0) {
        carn_tiff_write_close(writer);
        return NULL;
    }
    return writer;
}

/* TIFF 6.0, section 14: each sample less the same one of the pixel to its left, then in the file's
 * order. */
static void difference(const struct writer *writer)
{
    size_t samples = writer->sink->colours + writer->sink->alpha;
    size_t count = writer->row_size / 2;
    bool swapped = TIFFIsByteSwapped(writer->tiff);
    for (size_t y = 0; y < writer->rows; y++) {
        const uint16_t *row = (const uint16_t *)(const void *)writer->strip + y * count;
        uint16_t *to = writer->differences + y * count;
        memcpy(to, row, samples * 2);
        for (size_t i = samples; i < count; i++)
            to[i] = (uint16_t)(row[i] - row[i - samples]);
        for (size_t i = 0; swapped && i < count; i++)
            to[i] = (uint16_t)(to[i] << 8 | to[i] >> 8);
    }
}

/* The bytes of the strip in packed; 0: it is for libtiff. */
static size_t pack(struct writer *writer, size_t size)
{
    if (writer->deflate == NULL)
        return 0;
    if (writer->resting > 0) {
        writer->resting--;
        return 0;
    }
    difference(writer);
    size_t packed = carn_deflate_whole(writer->deflate, writer->differences, size, writer->packed,
                                       packed_room(writer));
    if ((double)packed >= REPEATING * (double)size)
        return packed;
    writer->resting = RESTED;
    return 0;
}

static int write_strip(struct writer *writer, struct carn_error *err)
{
    tmsize_t size = (tmsize_t)(writer->rows * writer->row_size);
    if (size == 0)
        return 0;
    tmsize_t packed = (tmsize_t)pack(writer, (size_t)size);
    writer->rows = 0;
    if (packed > 0)
        return TIFFWriteRawStrip(writer->tiff, writer->strips++, writer->packed, packed) == packed
                   ? 0
                   : failed(writer, err);
    if (TIFFWriteEncodedStrip(writer->tiff, writer->strips++, writer->strip, size) != size)
        return failed(writer, err);
    return 0;
}

int carn_tiff_write_row(void *state, const void *row, struct carn_error *err)
{
    struct writer *writer = state;
    memcpy(writer->strip + writer->rows * writer->row_size, row, writer->row_size);
    writer->rows++;
    return writer->rows == writer->strip_rows ? write_strip(writer, err) : 0;
}

int carn_tiff_write_end(void *state, struct carn_error *err)
{
    struct writer *writer = state;
    const struct carn_sink *sink = writer->sink;
    if (write_strip(writer, err) != 0)
        return -1;
    /* TIFFClose says nothing of a failed write, so the directory is written before it. */
    if (TIFFFlush(writer->tiff) != 1 || writer->words.text[0] != '\0')
        return failed(writer, err);
    TIFFClose(writer->tiff);
    writer->tiff = NULL;
    if (writer->words.text[0] != '\0' || writer->words.cause != 0)
        return failed(writer, err);
    if (writer->exif == NULL && writer->iptc == NULL)
        return 0;
    return carn_exif_into_tiff(sink->fd, sink->label, writer->exif, writer->exif_size, writer->iptc,
                               writer->iptc_size, err);
}
