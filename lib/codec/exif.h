/*
 * exif: what a camera noted about a picture, carried as one block (CIPA DC-008: a TIFF header and
 * its directories, without the "Exif" marker in front).
 *
 * JPEG and PNG hold the block as it is; TIFF holds the same directories among its own. Values move
 * as bytes, never through numbers, and in the byte order they came in. The thumbnail is dropped: it
 * shows the picture as it was before. A maker note is kept as bytes; within a block it also keeps
 * its place, which matters to those that count from the block's start.
 */
#ifndef CARN_EXIF_H
#define CARN_EXIF_H

#include "base/error.h"
#include "codec/format.h"
#include "frame/keys.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The tags that have a meaning here (TIFF 6.0, CIPA DC-008); all others are carried as they are. */
enum carn_tag {
    CARN_TAG_INTEROP_INDEX = 1, /* of the interoperability directory */
    CARN_TAG_ORIENTATION = 274,
    CARN_TAG_X_RESOLUTION = 282,
    CARN_TAG_Y_RESOLUTION = 283,
    CARN_TAG_RESOLUTION_UNIT = 296,
    CARN_TAG_THUMBNAIL = 513,
    CARN_TAG_THUMBNAIL_SIZE = 514,
    CARN_TAG_IPTC = 33723,
    CARN_TAG_RESOURCES = 34377, /* image resource blocks (resources.h) */
    CARN_TAG_EXIF = 34665,      /* exif, gps and interop point to a directory of their own */
    CARN_TAG_GPS = 34853,
    CARN_TAG_LAYERS = 37724, /* another program's layers; the picture beside them is taken */
    CARN_TAG_INTEROP = 40965
};

/* A place to read directories from: a block in memory, or a TIFF file (memory NULL). */
struct carn_exif_bytes {
    const unsigned char *memory;
    uint64_t size;
    const struct carn_source *file;
};

/* What a block says that the stream has keys for. */
struct carn_exif_says {
    unsigned orientation;              /* 1..8; 0: it does not say */
    struct carn_resolution resolution; /* x and y 0: it does not say */
    /* The colours are opRGB (IEC 61966-2-5): cameras that write no profile say so by the
     * interoperability index R03 (JEITA CP-3461, DCF 2.0). */
    bool oprgb;
};

/* Reads a block and removes its thumbnail in place, which may reduce size: 1;
 * 0 when its first directory cannot be read; -1 with a message when memory is out. */
int carn_exif_take(unsigned char *block, size_t *size, struct carn_exif_says *says,
                   struct carn_error *err);
bool carn_exif_big_endian(const unsigned char *block);

/* The exif block of the sink's frame with the orientation of the frame's key, or, when there is no
 * block and the orientation is not 1, a block of that alone. A damaged block is left out with a
 * note. The caller frees; NULL when there is nothing to carry, or with a message. */
unsigned char *carn_exif_of_sink(struct carn_sink *sink, size_t *size, struct carn_error *err);

/* A block of what the directory at offset of a TIFF file says beyond the layout of its own pixels.
 * NULL: nothing, or with a message (it is damaged). damaged counts the entries that had to be left
 * out. The caller frees. */
unsigned char *carn_exif_from_tiff(const struct carn_source *file, uint64_t offset, size_t *size,
                                   size_t *damaged, struct carn_error *err);

/* One value of a TIFF file's directory as bytes; NULL when it is not there or, with a message, not
 * whole in the file. The caller frees. */
unsigned char *carn_exif_tiff_value(const struct carn_source *file, uint64_t offset, unsigned tag,
                                    size_t *size, struct carn_error *err);

/* The resolution of a TIFF file's directory, but for its unit; zeroes when it has none. -1 with a
 * message when memory is out. */
int carn_exif_tiff_resolution(const struct carn_source *file, uint64_t offset,
                              struct carn_resolution *resolution, struct carn_error *err);

/* Can every directory of a block be read, as a TIFF file needs it? 1 or 0, damaged counts the
 * entries that cannot; -1 with a message when memory is out. */
int carn_exif_whole(const unsigned char *block, size_t size, size_t *damaged,
                    struct carn_error *err);

/* Sets oprgb as carn_exif_take does. -1 with a message when memory is out. */
int carn_exif_oprgb(const unsigned char *block, size_t size, bool *oprgb, struct carn_error *err);

/* Puts a block (or none) and IPTC bytes (or none) into the finished one-picture TIFF file of the
 * same byte order as the block: a new first directory at its end. */
int carn_exif_into_tiff(int fd, const char *label, const unsigned char *block, size_t size,
                        const void *iptc, size_t iptc_size, struct carn_error *err);

#endif
