/*
 * face_skin: which pixels of a face are its own skin, and the face's tones.
 *
 * Shading alone does not change a* / (L* + 16) or b* / (L* + 16); a camera's contrast changes them
 * slowly with L*. So the skin of a face lies near a line: its own colour as a function of L*. The
 * line is fitted first to cheeks and nose, which beards and fringes seldom cover, then to the whole
 * oval. Hair, brows, beard, glasses, paint and shine lie off the line. Eyes with their brows and
 * the mouth are left out by their place (outline.h). So are pixels with too little skin around
 * them.
 *
 * Own skin is ranked by luminance. Light is the mean of ranks 70 to 95 %, middle of 37.5 to 62.5 %,
 * shade of 5 to 30 %, so that no reading depends on where a square was put. The means are taken in
 * encoded RGB and transformed once to a colour.
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
    size_t pixels;     /* of own skin; 0: none was found, and the tones are of the whole oval */
    double toning;     /* deviation of a* and b*, in the face and around it, from their mean at the
                          same L*, root mean square: little in grey, sepia, duotone */
    double share;      /* of the oval without eyes and mouth that is own skin, 0..1 */
    double hue_spread; /* circular standard deviation of hue over own skin, degrees */
    double greened;    /* per cent that is green (a* under 0), of own skin and pixels that would be
                          own skin if they were not green */
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

/* The same for the pixels that are own skin in cover, which comes from another picture of the same
 * scene. So a picture is compared before and after a correction at the same pixels. Where cover has
 * none, as carn_face_tones. */
int carn_face_tones_again(const struct carn_thumbnail *planes, const struct carn_outline *outline,
                          const unsigned char *cover, struct carn_face_tones *tones,
                          struct carn_error *err);

#endif
