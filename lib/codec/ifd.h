/*
 * ifd: directories of tagged values, as TIFF and Exif lay them out (TIFF 6.0 section 2; BigTIFF).
 * Only exif.c and exif_tiff.c need it. Values are bytes in the order of their file.
 */
#ifndef CARN_IFD_H
#define CARN_IFD_H

#include "codec/exif.h"

/* Types of values (TIFF 6.0; the last one of BigTIFF). */
enum carn_field_type {
    CARN_FIELD_SHORT = 3,
    CARN_FIELD_LONG = 4,
    CARN_FIELD_RATIONAL = 5,
    CARN_FIELD_LONG8 = 16
};

struct carn_field {
    uint16_t tag, type;
    uint64_t count;
    size_t size;         /* bytes of data */
    unsigned char *data; /* NULL: the value stands in place, as it was in the directory */
    unsigned char place[8];
};

struct carn_ifd {
    size_t count;
    struct carn_field *fields; /* by rising tag when written */
    uint64_t next;             /* offset of the next directory, 0 for none */
    size_t damaged;            /* entries left out: their values lie outside or have no type */
};

/* What a TIFF header says. */
struct carn_ifd_form {
    bool big;  /* the high byte first */
    bool wide; /* BigTIFF */
    uint64_t first;
};

uint64_t carn_ifd_number(const unsigned char *p, size_t size, bool big);
void carn_ifd_put(unsigned char *p, uint64_t v, size_t size, bool big);

/* -1 with a message when it is no TIFF header. */
int carn_ifd_form(const struct carn_exif_bytes *from, struct carn_ifd_form *form,
                  struct carn_error *err);

/* Where directories are read from, and how. budget: how many bytes of values may still be read. */
struct carn_ifd_in {
    struct carn_exif_bytes from;
    struct carn_ifd_form form;
    uint64_t budget;
};

/* Which fields are wanted: those for which keep(tag, only) is true; NULL: all. in_place: the
 * entries as they stand, values that lie elsewhere unread. */
struct carn_ifd_want {
    bool (*keep)(unsigned tag, unsigned only);
    unsigned only;
    bool in_place;
};

/* The directory at offset. On failure ifd is empty. */
int carn_ifd_read(struct carn_ifd_in *in, uint64_t offset, const struct carn_ifd_want *want,
                  struct carn_ifd *ifd, struct carn_error *err);
void carn_ifd_clear(struct carn_ifd *ifd);

struct carn_field *carn_ifd_find(const struct carn_ifd *ifd, unsigned tag);

/* A field's first whole number, given the byte order it is in; 0 when it has none. */
uint64_t carn_field_number(const struct carn_field *field, bool big);

/* Adds a field, or replaces the one of that tag, with a copy of data. */
int carn_ifd_add(struct carn_ifd *ifd, unsigned tag, unsigned type, uint64_t count,
                 const void *data, size_t size, struct carn_error *err);

/* Bytes to be written from offset base of a file. */
struct carn_ifd_out {
    unsigned char *bytes;
    size_t size, room;
    uint64_t base;
    struct carn_ifd_form form;
};

/* Appends size bytes (NULL: zeroes). */
int carn_ifd_append(struct carn_ifd_out *out, const void *bytes, size_t size,
                    struct carn_error *err);

/* Sorts ifd and appends it with its values; at is its offset in the file. */
int carn_ifd_write(struct carn_ifd_out *out, struct carn_ifd *ifd, uint64_t *at,
                   struct carn_error *err);

/* Sets the offset that the field tag of the directory written at at holds (LONG, or LONG8 in a
 * BigTIFF). */
void carn_ifd_point(struct carn_ifd_out *out, uint64_t at, unsigned tag, uint64_t offset);

#endif
