/*
 * jpeg: what the JPEG files share. Only they include it.
 */
#ifndef CARN_JPEG_H
#define CARN_JPEG_H

#include "codec/format.h"

#include <setjmp.h>
#include <stdio.h>

#include <jpeglib.h>

/* What an APP segment begins with (CIPA DC-008; ISO 16684 for XMP; ICC.1), with the closing zero
 * that the specifications count in. */
#define CARN_JPEG_EXIF "Exif\0"
#define CARN_JPEG_XMP "http://ns.adobe.com/xap/1.0/"
#define CARN_JPEG_MORE_XMP "http://ns.adobe.com/xmp/extension/"
#define CARN_JPEG_ICC "ICC_PROFILE"
#define CARN_JPEG_PICTURES "MPF"

/* The same of APP13, which holds image resources and in them IPTC (XMP Specification, part 3,
 * Storage in Files, 1.1.3): 13 bytes of ASCII, a name and a version, and a zero. */
static const unsigned char carn_jpeg_resources[14] = {0x50, 0x68, 0x6f, 0x74, 0x6f, 0x73, 0x68,
                                                      0x6f, 0x70, 0x20, 0x33, 0x2e, 0x30, 0x00};

/* Bytes of a segment after its length; of those, before a piece of extended XMP: its name, the size
 * of all, and where the piece begins. */
enum {
    CARN_JPEG_SEGMENT = 65533,
    CARN_JPEG_MORE_XMP_HEAD = sizeof CARN_JPEG_MORE_XMP + 32 + 4 + 4
};

/* libjpeg's error manager with a place to jump back to. manager is first, since libjpeg's pointer
 * is to it. */
struct carn_jpeg_errors {
    struct jpeg_error_mgr manager;
    jmp_buf back;
    const char *label;
    struct carn_error *err;
    bool reading;
    JDIMENSION *row; /* for messages while reading */
};

void carn_jpeg_errors_set(struct carn_jpeg_errors *errors, const char *label, bool reading);

/* Takes what stands before the pixels of a file: icc, exif, xmp, iptc, resolution, orientation. */
int carn_jpeg_segments(struct carn_source *source, struct carn_frame *frame,
                       struct carn_error *err);

void *carn_jpeg_write_open(struct carn_sink *sink, struct carn_error *err);
int carn_jpeg_write_row(void *state, const void *row, struct carn_error *err);
int carn_jpeg_write_end(void *state, struct carn_error *err);
void carn_jpeg_write_close(void *state);

#endif
