/* TIFF in, through libtiff: which picture of the file, and what it says beside its pixels. */
#include "codec/tiff.h"

#include "codec/exif.h"
#include "codec/resources.h"
#include "frame/keys.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum {
    PICTURES_MOST = 256, /* of a file that are looked at */
    SUBS_MOST = 16
};

struct reader {
    TIFF *tiff;
    struct carn_source *source;
    struct carn_tiff_words words;
    struct carn_tiff_rows *rows;
};

/* What the file holds beside the picture that is taken. */
struct left_out {
    size_t pages, reduced, subs;
    bool layers;
};

static bool is_full_size(TIFF *tiff)
{
    uint32_t type = 0;
    uint16_t old = 0;
    if (TIFFGetField(tiff, TIFFTAG_SUBFILETYPE, &type) == 1)
        return (type & (FILETYPE_REDUCEDIMAGE | FILETYPE_MASK)) == 0;
    return TIFFGetField(tiff, TIFFTAG_OSUBFILETYPE, &old) != 1 || old != OFILETYPE_REDUCEDIMAGE;
}

/* Where the first picture is reduced and the full one below it, as digital negatives have it. */
static bool choose_below(TIFF *tiff, uint64_t first)
{
    uint16_t count = 0;
    const uint64_t *offsets = NULL;
    uint64_t copy[SUBS_MOST];
    if (TIFFSetSubDirectory(tiff, first) != 1 ||
        TIFFGetField(tiff, TIFFTAG_SUBIFD, &count, &offsets) != 1 || offsets == NULL)
        return false;
    size_t n = count < SUBS_MOST ? count : SUBS_MOST;
    memcpy(copy, offsets, n * sizeof copy[0]);
    for (size_t i = 0; i < n; i++)
        if (TIFFSetSubDirectory(tiff, copy[i]) == 1 && is_full_size(tiff))
            return true;
    return false;
}

/* Makes the first full-size picture the current one. */
static int choose(struct reader *reader, struct left_out *left, struct carn_error *err)
{
    TIFF *tiff = reader->tiff;
    uint64_t first = TIFFCurrentDirOffset(tiff);
    uint64_t chosen = 0;
    uint64_t last = first;
    for (size_t i = 0; i < PICTURES_MOST; i++) {
        bool full = is_full_size(tiff);
        last = TIFFCurrentDirOffset(tiff);
        if (full && chosen == 0)
            chosen = last;
        else if (full)
            left->pages++;
        else
            left->reduced++;
        if (TIFFLastDirectory(tiff) || TIFFReadDirectory(tiff) != 1)
            break;
    }
    bool found = chosen == 0 ? choose_below(tiff, first)
                             : (chosen == last && TIFFLastDirectory(tiff)) ||
                                   TIFFSetSubDirectory(tiff, chosen) == 1;
    reader->words.text[0] = '\0'; /* of the pictures that are not taken */
    if (!found)
        return carn_fail_at(err, CARN_INPUT, reader->source->label,
                            "TIFF holds no full-size picture");
    uint16_t subs = 0;
    const uint64_t *offsets = NULL;
    if (TIFFGetField(tiff, TIFFTAG_SUBIFD, &subs, &offsets) == 1)
        left->subs = subs;
    uint32_t size = 0;
    const void *data = NULL;
    left->layers = TIFFGetField(tiff, CARN_TAG_LAYERS, &size, &data) == 1 && size > 0;
    return 0;
}

static void note_left_out(struct carn_source *source, const struct left_out *left,
                          const struct carn_tiff_layout *layout)
{
    size_t samples = layout->palette[0] != NULL ? 0 : layout->samples - layout->out;
    struct {
        size_t count;
        const char *one, *many;
    } parts[] = {
        {left->pages, "page", "pages"},
        {left->reduced, "reduced picture", "reduced pictures"},
        {left->subs, "sub-image", "sub-images"},
        {samples, "extra channel", "extra channels"},
    };
    char text[200] = "";
    size_t used = 0;
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (parts[i].count > 0)
            used += (size_t)snprintf(text + used, sizeof text - used, "%s%zu %s",
                                     used > 0 ? ", " : "", parts[i].count,
                                     parts[i].count == 1 ? parts[i].one : parts[i].many);
    if (left->layers)
        snprintf(text + used, sizeof text - used, "%slayers", used > 0 ? ", " : "");
    if (text[0] != '\0')
        carn_note(&source->notes, "left out", "%s: left out of this TIFF: %s", source->label, text);
}

static int take_resolution(TIFF *tiff, struct carn_source *source, uint64_t offset,
                           struct carn_frame *frame, struct carn_error *err)
{
    struct carn_resolution resolution;
    uint16_t unit = RESUNIT_INCH;
    (void)TIFFGetFieldDefaulted(tiff, TIFFTAG_RESOLUTIONUNIT, &unit);
    if (carn_exif_tiff_resolution(source, offset, &resolution, err) != 0)
        return -1;
    resolution.unit = unit == RESUNIT_CENTIMETER ? CARN_UNIT_CM
                      : unit == RESUNIT_INCH     ? CARN_UNIT_INCH
                                                 : CARN_UNIT_NONE;
    return carn_frame_set_resolution(frame, &resolution, err);
}

/* Values of the file's own directory, by which libtiff would lose something. */
static int take_exif(struct carn_source *source, uint64_t offset, struct carn_frame *frame,
                     struct carn_error *err)
{
    struct carn_error broken = {0};
    size_t size = 0;
    size_t damaged = 0;
    unsigned char *block = carn_exif_from_tiff(source, offset, &size, &damaged, &broken);
    if (damaged > 0)
        carn_note(&source->notes, "exif parts", "%s: %zu damaged entries of its Exif are left out",
                  source->label, damaged);
    if (block == NULL && carn_is_machine(&broken))
        return carn_fail_from(err, &broken, NULL);
    if (block == NULL && broken.kind != CARN_NONE)
        carn_note(&source->notes, "exif", "%s: its Exif is damaged, it is left out", source->label);
    if (block == NULL)
        return 0;
    int result = carn_source_blob(source, frame, "exif", block, size, err);
    free(block);
    return result;
}

static int take_iptc(struct carn_source *source, uint64_t offset, struct carn_frame *frame,
                     struct carn_error *err)
{
    size_t size = 0;
    unsigned char *value = carn_exif_tiff_value(source, offset, CARN_TAG_IPTC, &size, err);
    const unsigned char *iptc = value;
    if (value == NULL && err->kind == CARN_NONE) {
        value = carn_exif_tiff_value(source, offset, CARN_TAG_RESOURCES, &size, err);
        iptc = value == NULL ? NULL : carn_resources_iptc(value, size, &size);
    }
    if (err->kind != CARN_NONE)
        return -1;
    if (iptc != NULL)
        size = carn_iptc_length(iptc, size);
    int result = iptc == NULL ? 0 : carn_source_blob(source, frame, "iptc", iptc, size, err);
    free(value);
    return result;
}

/* Not by libtiff, which passes over a value that is cut short. */
static int take_value(const struct reader *reader, unsigned tag, const char *key,
                      struct carn_frame *frame, struct carn_error *err)
{
    size_t size = 0;
    unsigned char *value =
        carn_exif_tiff_value(reader->source, TIFFCurrentDirOffset(reader->tiff), tag, &size, err);
    if (value == NULL)
        return err->kind == CARN_NONE ? 0 : -1;
    int result = carn_source_blob(reader->source, frame, key, value, size, err);
    free(value);
    return result;
}

static int take_keys(struct reader *reader, struct carn_frame *frame, struct carn_error *err)
{
    TIFF *tiff = reader->tiff;
    struct carn_source *source = reader->source;
    uint64_t offset = TIFFCurrentDirOffset(tiff);
    uint16_t orientation = ORIENTATION_TOPLEFT;
    if (take_resolution(tiff, source, offset, frame, err) != 0)
        return -1;
    (void)TIFFGetFieldDefaulted(tiff, TIFFTAG_ORIENTATION, &orientation);
    if (carn_frame_set_orientation(frame, orientation, err) != 0)
        return -1;
    if (take_value(reader, TIFFTAG_ICCPROFILE, "icc", frame, err) != 0 ||
        take_exif(source, offset, frame, err) != 0 ||
        take_value(reader, TIFFTAG_XMLPACKET, "xmp", frame, err) != 0)
        return -1;
    return take_iptc(source, offset, frame, err);
}

static void read_close(void *state)
{
    struct reader *reader = state;
    carn_tiff_rows_close(reader->rows);
    if (reader->tiff != NULL)
        TIFFClose(reader->tiff);
    free(reader);
}

static int begin(struct reader *reader, struct carn_frame *frame, struct carn_error *err)
{
    struct carn_source *source = reader->source;
    struct carn_tiff_layout layout;
    struct left_out left = {0};
    int fd = fcntl(source->fd, F_DUPFD_CLOEXEC, 3);
    if (fd < 0 || lseek(fd, 0, SEEK_SET) < 0) {
        carn_fail_at(err, CARN_SYSTEM, source->label, "cannot be opened: %s", strerror(errno));
        if (fd >= 0)
            close(fd);
        return -1;
    }
    reader->tiff =
        carn_tiff_open(fd, source->label, "rm", source->limits.memory, &reader->words, err);
    if (reader->tiff == NULL)
        close(fd);
    if (reader->tiff == NULL || choose(reader, &left, err) != 0 ||
        carn_tiff_layout(reader->tiff, source, &layout, err) != 0)
        return -1;
    /* JPEG inside keeps its own colours; libjpeg makes RGB of them. */
    if (layout.compression == COMPRESSION_JPEG && layout.colours == 3)
        (void)TIFFSetField(reader->tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
    frame->width = layout.width;
    frame->height = layout.height;
    frame->colours = layout.colours;
    frame->alpha = layout.alpha;
    if (carn_frame_set_depth(frame, (int)layout.bytes * 8, err) != 0 ||
        (layout.alpha && carn_frame_set_alpha(frame, layout.associated, err) != 0) ||
        carn_frame_set(frame, "compression", carn_tiff_compression_name(layout.compression), err) !=
            0 ||
        take_keys(reader, frame, err) != 0)
        return -1;
    note_left_out(source, &left, &layout);
    reader->rows = carn_tiff_rows_open(reader->tiff, source, &layout, &reader->words, err);
    return reader->rows == NULL ? -1 : 0;
}

static void *read_open(struct carn_source *source, struct carn_frame *frame, struct carn_error *err)
{
    struct reader *reader = carn_alloc(1, sizeof *reader, err);
    if (reader == NULL)
        return NULL;
    reader->source = source;
    if (begin(reader, frame, err) != 0 || carn_tiff_check(&reader->words, err) != 0) {
        (void)carn_tiff_check(&reader->words, err);
        read_close(reader);
        return NULL;
    }
    return reader;
}

static int read_row(void *state, uint16_t *row, struct carn_error *err)
{
    struct reader *reader = state;
    int result = carn_tiff_rows_read(reader->rows, row, err);
    return carn_tiff_check(&reader->words, err) != 0 ? -1 : result;
}

const struct carn_format carn_format_tiff = {
    .name = "TIFF",
    .suffixes = "tif tiff",
    .magic = {"II*\0", "MM\0*", "II+\0", "MM\0+"},
    .magic_size = 4,
    .alpha = CARN_ALPHA_ANY,
    .depths = 16,
    .compressions = true,
    .read_open = read_open,
    .read_row = read_row,
    .read_close = read_close,
    .write_open = carn_tiff_write_open,
    .write_row = carn_tiff_write_row,
    .write_end = carn_tiff_write_end,
    .write_close = carn_tiff_write_close,
};
