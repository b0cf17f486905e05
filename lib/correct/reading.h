/*
 * reading: what was measured on one patch of one frame, and the table of such rows
 * (carn-tables(5)). Figures describe a picture, not a person.
 */
#ifndef CARN_READING_H
#define CARN_READING_H

#include "base/error.h"
#include "base/table.h"
#include "colour/lab.h"
#include "colour/separation.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* What makes a reading doubtful; carn_flags in this order. */
enum carn_flag {
    CARN_CLIPPED = 1,    /* over 0.5 % of samples at an end of the scale */
    CARN_MIXED = 2,      /* hue or chroma varies over the patch: hair, lips, cloth */
    CARN_SMALL = 4,      /* under 100 full-size pixels */
    CARN_DARK = 8,       /* L* under 15: ratios of noise */
    CARN_LOW_CYAN = 16,  /* the aim has under 12 % of cyan: judged by colour difference alone */
    CARN_UNEVEN = 32,    /* a card whose luminance varies by over 3 % across */
    CARN_COLOURED = 64,  /* a card with a chroma over 20: is it a card? */
    CARN_NOT_SKIN = 128, /* a reading of skin whose colour no skin has */
};

/* Those that make a verdict unsure. */
enum { CARN_DOUBTS = CARN_CLIPPED | CARN_MIXED | CARN_SMALL | CARN_DARK | CARN_NOT_SKIN };

struct carn_reading {
    const char *frame, *subject, *camera, *patch, *tone; /* owned by others; "-" for none */
    size_t pixels;                                       /* measured, of the frame at hand */
    double rgb[3];                                       /* encoded, 0..1 */
    struct carn_xyz xyz;                                 /* D50 */
    struct carn_lab lab;                                 /* D50 */
    struct carn_inks inks;                               /* per cent */
    const char *separation;
    double spread;  /* root mean square CIE76 difference to the mean; NAN unknown */
    double clipped; /* per cent of samples at an end of the scale; NAN unknown */
    unsigned flags; /* enum carn_flag */
    /* Of the whole face, for rows of its tones; else NAN. */
    double hue_spread; /* circular standard deviation of hue, degrees */
    double greened;    /* per cent with a* under 0 */
};

void carn_reading_print_header(FILE *to);
void carn_reading_print(FILE *to, const struct carn_reading *reading);

/* The flags as words joined by commas, "-" for none. */
void carn_flags_print(FILE *to, unsigned flags);

/* Whether a cell of flags has this one. */
bool carn_flags_have(const char *cell, enum carn_flag flag);

/* A reading table: the rows as readings. Columns that a caller needs are asked for by need; the
 * rest may be missing and read as NAN, 0 or "-". */
struct carn_readings {
    struct carn_table *table;
    size_t count;
    struct carn_reading *rows;
};

enum carn_need { CARN_NEED_LAB = 1, CARN_NEED_LIGHTNESS = 2, CARN_NEED_INKS = 4 };

/* 0, or -1 with a message that says file, line and column. A table without rows is a failure. */
int carn_readings_read(const char *path, unsigned need, struct carn_readings *readings,
                       struct carn_error *err);
void carn_readings_clear(struct carn_readings *readings);

/* Those rows of `from` that want says, which may be none; they share its table. The caller frees
 * picked->rows. -1 with a message when memory is out. */
int carn_readings_pick(const struct carn_readings *from,
                       bool (*want)(const struct carn_reading *reading, const void *with),
                       const void *with, struct carn_readings *picked, struct carn_error *err);

/* Fails when a row was measured through another separation than this one ("-" fits all). */
int carn_readings_fit(const struct carn_readings *readings, const char *separation,
                      struct carn_error *err);

/* Whether the row is of skin: any tone but card and backdrop. */
bool carn_reading_is_skin(const struct carn_reading *reading);

#endif
