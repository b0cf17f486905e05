/*
 * tiff: what the TIFF files share. Only they include it.
 */
#ifndef CARN_TIFF_H
#define CARN_TIFF_H

#include "codec/format.h"

#include <tiffio.h>

/* What libtiff said, kept until someone makes a message of it. */
struct carn_tiff_words {
    char text[256];
    bool jpeg_warned; /* libjpeg met damage inside and made something up */
    int cause;        /* errno of the first read, write, seek or close that failed, or 0 */
    bool wrote;
    int fd;
    const char *label;
};

/* Opens fd, which libtiff then owns, without printing and without mapping the file; words must live
 * until it is closed. NULL with a message. */
TIFF *carn_tiff_open(int fd, const char *label, const char *mode, uint64_t memory,
                     struct carn_tiff_words *words, struct carn_error *err);

/* -1 with a message when the system failed a call that libtiff made. The message replaces what err
 * has: libtiff ignores some failures and calls others damage. */
int carn_tiff_check(const struct carn_tiff_words *words, struct carn_error *err);

/* How the samples of the chosen picture lie in the file, all known to be handled. */
struct carn_tiff_layout {
    size_t width, height;
    size_t samples; /* a pixel in the file */
    size_t bits;    /* a sample: 8 or 16; of one sample a pixel also 1, 2 or 4, packed */
    size_t bytes;   /* a sample: 1 or 2, 1 for packed ones */
    size_t out;     /* samples a pixel of ours */
    size_t pick[4]; /* which sample of the file each of ours is */
    size_t colours;
    bool alpha, associated, inverted, planar;
    uint16_t compression;
    const uint16_t *palette[3]; /* libtiff's: red, green, blue by sample; NULL without */
    unsigned palette_unit;      /* what its values are multiplied with: 257 for 8 bit ones */
};

/* Fills layout from the current directory; -1 with a message that says what is not handled. */
int carn_tiff_layout(TIFF *tiff, const struct carn_source *source, struct carn_tiff_layout *layout,
                     struct carn_error *err);

/* The compression's name for the key and -z; NULL when it is not handled. */
const char *carn_tiff_compression_name(unsigned compression);
unsigned carn_tiff_compression(const char *name); /* 0 for none of these names */

/* The pixels, row by row. */
struct carn_tiff_rows;
struct carn_tiff_rows *carn_tiff_rows_open(TIFF *tiff, const struct carn_source *source,
                                           const struct carn_tiff_layout *layout,
                                           struct carn_tiff_words *words, struct carn_error *err);
int carn_tiff_rows_read(struct carn_tiff_rows *rows, uint16_t *row, struct carn_error *err);
void carn_tiff_rows_close(struct carn_tiff_rows *rows);

void *carn_tiff_write_open(struct carn_sink *sink, struct carn_error *err);
int carn_tiff_write_row(void *state, const void *row, struct carn_error *err);
int carn_tiff_write_end(void *state, struct carn_error *err);
void carn_tiff_write_close(void *state);

#endif
