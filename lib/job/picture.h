/*
 * picture: stages that steps and carn-correct(1) share, and whether a picture is of one colour.
 */
#ifndef CARN_PICTURE_H
#define CARN_PICTURE_H

#include "base/error.h"
#include "job/run.h"

/* Adds the stages that leave out a frame's weight, which would limit the next one; gives the last.
 * original: the file that the frame came from, whose keys it gets back. */
int carn_picture_drop_weight(struct carn_run *run, int from, const char *encode, const char *decode,
                             const char *original);

/* Adds the stages that make an sRGB JPEG of 8 bit of a stage's output, or of the file in, to look
 * at. Their notes are set aside. */
void carn_picture_stages(struct carn_run *run, int from, const char *in, const char *to_profile,
                         const char *encode, const char *out);

/*
 * Is the picture in a PAM file of one colour, as a toned black and white: light and shade of one
 * hue? 1 when a* and b* depend on L* alone (root mean square about their mean at each L* under
 * 2.3) while L* varies; 0 when not, also where L* does not vary; -1 with a message.
 */
int carn_picture_one_colour(const char *path, struct carn_error *err);

#endif
