/*
 * cover: which pixels a face's reading was made of, as a bitmap, so that another picture of the
 * same scene is read at the same pixels.
 *
 * One bitmap a face, one after another: PBM (netpbm's public specification, P4) of the size of the
 * small upright picture (thumbnail.h), 1, which is black, for own skin.
 */
#ifndef CARN_COVER_H
#define CARN_COVER_H

#include "base/error.h"
#include "base/io.h"
#include "skin/face_skin.h"

#include <stddef.h>

/* Streams of bitmaps, not owned. known: the skin to read; NULL: skin is found. found: where the
 * bitmaps of the skin that was read are written; NULL: nowhere. */
struct carn_covers {
    struct carn_in *known;
    struct carn_out *found;
};

/* The tones of a face (carn_face_tones), found or read again at the next known bitmap. -1 with a
 * message, also when there is no further bitmap, or it is of another size or form. */
int carn_cover_tones(struct carn_covers *covers, const struct carn_thumbnail *planes,
                     const struct carn_outline *outline, struct carn_face_tones *tones,
                     struct carn_error *err);

#endif
