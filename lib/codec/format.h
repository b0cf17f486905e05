/*
 * format: what the files of the single formats share, and what codec.c asks of each.
 */
#ifndef CARN_FORMAT_H
#define CARN_FORMAT_H

#include "base/error.h"
#include "base/io.h"
#include "frame/frame.h"
#include "frame/said_colour.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Limits: a file that needs more is refused. */
struct carn_limits {
    uint64_t pixels;   /* width times height */
    uint64_t memory;   /* bytes held where a format cannot be read row by row, and for one row */
    uint64_t metadata; /* bytes of profile, Exif, XMP and IPTC together */
};

/* What the user should know though nothing failed. kind is a constant: one note a run and kind. */
struct carn_notes {
    size_t count;
    struct {
        const char *kind;
        char text[256]; /* begins with the file */
    } note[12];
};

/* A file to read. All but the last two fields are for the formats to read only. */
struct carn_source {
    const char *label;  /* the file, for messages */
    int fd;             /* can seek; -1 for PNM */
    uint64_t size;      /* bytes */
    struct carn_in *in; /* PNM: the stream */
    struct carn_limits limits;
    uint64_t metadata; /* bytes of it so far */
    struct carn_notes notes;
    struct carn_colour colour;
};

/* A file to write. The frame's rows reach the format as the sink has them: colours and alpha only,
 * depth bits a sample in the machine's byte order, side by side. */
struct carn_sink {
    const char *label;
    int fd; /* empty, can seek; the format may not close it */
    const struct carn_frame *frame;
    const char *suffix; /* of the target, as "ppm" */
    size_t colours;
    bool alpha, associated;
    int depth;
    const char *compression; /* as asked or as the source's, or NULL */
    int quality;
    struct carn_notes notes;
};

/* Transfer characteristics of ITU-T H.273 that make light, not a picture's tones. */
enum { CARN_TRANSFER_PQ = 16, CARN_TRANSFER_HLG = 18 };

enum carn_alpha_use { CARN_ALPHA_NONE, CARN_ALPHA_STRAIGHT, CARN_ALPHA_ANY };

/* One format. open gives the state that the other functions take, NULL with a message. */
struct carn_format {
    const char *name;     /* "PNG" */
    const char *suffixes; /* separated by a space, the first is the name for -t */
    const char *magic[4]; /* what a file begins with, four bytes or fewer, NULL for no more */
    size_t magic_size;
    enum carn_alpha_use alpha;
    int depths;                 /* the greatest depth */
    bool compressions, quality; /* has a choice of them */

    /* Fills frame's size and sets its keys; more gives the next picture (NULL: there is only one):
     * 1, 0 at the end, -1. */
    void *(*read_open)(struct carn_source *source, struct carn_frame *frame,
                       struct carn_error *err);
    int (*read_more)(void *state, struct carn_frame *frame, struct carn_error *err);
    int (*read_row)(void *state, uint16_t *row, struct carn_error *err);
    void (*read_close)(void *state);

    void *(*write_open)(struct carn_sink *sink, struct carn_error *err);
    int (*write_row)(void *state, const void *row, struct carn_error *err);
    int (*write_end)(void *state, struct carn_error *err);
    void (*write_close)(void *state);
};

__attribute__((format(printf, 3, 4))) void carn_note(struct carn_notes *notes, const char *kind,
                                                     const char *format, ...);

/* Refusals by the limits, each naming the option that lifts it. A frame of no pixels is refused. */
int carn_source_pixels(const struct carn_source *source, uint64_t width, uint64_t height,
                       struct carn_error *err);
int carn_source_hold(const struct carn_source *source, uint64_t bytes, const char *what,
                     struct carn_error *err);
int carn_source_metadata(struct carn_source *source, uint64_t bytes, struct carn_error *err);

/* Sets a key to bytes after counting them as metadata; of no bytes, nothing is set. */
int carn_source_blob(struct carn_source *source, struct carn_frame *frame, const char *key,
                     const void *bytes, size_t size, struct carn_error *err);

/* size bytes from offset: 0, or -1 with a message that says what was cut short. */
int carn_source_at(const struct carn_source *source, uint64_t offset, void *to, size_t size,
                   const char *what, struct carn_error *err);

/* The bytes of the frame's key icc, exif, xmp or iptc, which the caller frees; NULL when it has
 * none or, with a message, a broken one. */
void *carn_sink_blob(const struct carn_sink *sink, const char *key, size_t *size,
                     struct carn_error *err);

/* Widens a row of 8 bit to 16; and the bytes of one row of the sink. */
void carn_widen_row(const unsigned char *from, uint16_t *to, size_t count);
size_t carn_sink_row_size(const struct carn_sink *sink);

/* The number in four bytes, the highest first: as PNG, JPEG and ICC profiles write it. */
static inline uint32_t carn_big_endian(const unsigned char *p)
{
    return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3];
}

/* Writes all size bytes at the descriptor's position; -1 with a message that names label. */
int carn_write_all(int fd, const void *from, size_t size, const char *label,
                   struct carn_error *err);

#endif
