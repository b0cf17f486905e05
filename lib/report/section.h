/*
 * section: the parts of index.html, one file each.
 */
#ifndef CARN_SECTION_H
#define CARN_SECTION_H

#include "base/error.h"
#include "colour/profile.h"
#include "report/locus.h"
#include "report/shown.h"

#include <stdio.h>

struct carn_section {
    FILE *to;
    const struct carn_shown *shown;
    const struct carn_locus *locus;
    struct carn_profile *srgb; /* of swatches and thumbnails */
    const char *skin;          /* the table of published skin (docs/skin.tsv); NULL: not there */
    struct carn_error *err;
};

void carn_section_first(const struct carn_section *s);  /* counts, what needs a person, evenness */
void carn_section_people(const struct carn_section *s); /* a strip a person */
void carn_section_plots(const struct carn_section *s);  /* the set in figures */
void carn_section_moves(const struct carn_section *s);  /* of the plots: what the curves do */
void carn_section_frames(const struct carn_section *s); /* a row a frame, worst first */

/* Shows the face of a subject (NULL: of anybody) in a frame's picture; which: 0 before, 1 after.
 * Where no face is known it shows the whole picture, without a picture nothing. wide: width of the
 * crop on the page, pixels. */
void carn_section_crop(const struct carn_section *s, const struct carn_shown_frame *frame,
                       const char *subject, int which, int wide, const char *alt);

/* The attributes width and height of a thumbnail: the picture's shape, within this size. */
void carn_section_size(FILE *to, const struct carn_shown_frame *frame, double wide, double high);

/* A patch of a colour with its name; nothing for one that is unknown. */
void carn_section_swatch(const struct carn_section *s, const char *name, struct carn_lab lab);

#endif
