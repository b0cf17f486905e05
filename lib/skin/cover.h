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

#include <stddef.h>

/* cover: width * height of enum carn_cover (face_skin.h). */
int carn_cover_write(struct carn_out *out, size_t width, size_t height, const unsigned char *cover,
                     struct carn_error *err);

/* The next bitmap, own skin or no skin. -1 with a message: there is none, it is of another size, or
 * none at all. */
int carn_cover_read(struct carn_in *in, size_t width, size_t height, unsigned char *cover,
                    struct carn_error *err);

#endif
