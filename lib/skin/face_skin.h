/*
 * face_skin: which pixels of a face are its own skin, and the face's tones.
 *
 * Shading alone leaves a* / (L* + 16) and b* / (L* + 16) as they are, the contrast of a camera
 * changes them slowly with L*. So a face's skin is what lies near a line through its own colours
 * over L*: first those of the cheeks and the nose, which beards and fringes seldom cover, then of
 * the whole oval. Hair, brows, beard, glasses, paint and shine lie off it; eyes with their brows
 * and the mouth are left out by their place (outline.h); and so are pixels that have another thing
 * beside them.
 *
 * Ranked by luminance, light, middle and shade are the means of the 70 to 95, 37.5 to 62.5 and 5 to
 * 30 per cent parts, so that a reading does not hang on where a square fell. The means are taken in
 * encoded RGB, which one precise transform then makes a colour.
 */
#ifndef CARN_FACE_SKIN_H
#define CARN_FACE_SKIN_H

#include "base/error.h"
#include "base/tone.h"
#include "skin/outline.h"
#include "skin/thumbnail.h"

#include <stddef.h>

/* What a pixel of the oval is; 0 outside of it. */
enum carn_cover { CARN_NO_FACE, CARN_NO_SKIN, CARN_OWN_SKIN };

struct carn_face_tones {
    size_t pixels;     /* of own skin; 0: the oval holds none, and the tones are of all of it */
    double toning;     /* how far a* and b* stray, in the face and around it, from what they are at
                          the same L*, root mean square: little in grey, sepia, duotone */
    double share;      /* of the oval without eyes and mouth that is own skin, 0..1 */
    double hue_spread; /* circular standard deviation of hue over own skin, degrees */
    double greened;    /* per cent with a* under 0, of own skin and what would be it but for that */
    struct {
        size_t pixels;
        double rgb[3];  /* encoded, 0..1 */
        double spread;  /* root mean square of the CIE76 difference to the mean */
        double clipped; /* per cent of samples at an end of the scale */
    } tone[CARN_TONES]; /* by enum carn_tone */
};

/* cover: NULL, or width * height of enum carn_cover to fill. 0, or -1 with a message: no pixel of
 * the oval lies in the picture, or memory is out. */
int carn_face_tones(const struct carn_thumbnail *planes, const struct carn_outline *outline,
                    struct carn_face_tones *tones, unsigned char *cover, struct carn_error *err);

/* The same of pixels that were own skin in another picture of the same scene: own skin in cover. So
 * a picture and what became of it are compared at the same pixels, though skin has moved toward or
 * away from the colour of hair. Without any, as carn_face_tones. */
int carn_face_tones_again(const struct carn_thumbnail *planes, const struct carn_outline *outline,
                          const unsigned char *cover, struct carn_face_tones *tones,
                          struct carn_error *err);

#endif
