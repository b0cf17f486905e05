/*
 * png_chunks: what a PNG file says beside its pixels, chunk by chunk (PNG specification, third
 * edition), before any row is decoded. Chunks after the pixels count too. Only the png files
 * need it.
 */
#ifndef CARN_PNG_CHUNKS_H
#define CARN_PNG_CHUNKS_H

#include "codec/format.h"

/* Sets icc, exif, xmp, iptc, resolution and orientation, and the source's colour. Checks that every
 * chunk is whole, up to IEND, and the sums of those that make the pixels. -1 with a message. */
int carn_png_chunks(struct carn_source *source, struct carn_frame *frame, struct carn_error *err);

/* The profile of a raw text block as other programs put IPTC into PNG: `\niptc\n SIZE\nHEX`. The
 * caller frees. */
unsigned char *carn_png_raw_profile(const char *text, size_t length, size_t *size,
                                    struct carn_error *err);

#endif
