/*
 * likeness: how far a colour is skin, 0 to 1, from its CIELAB alone.
 *
 * Skin is held against references: one for skin as such, or the readings of this very subject. A
 * reference looks at a colour along its own hue and across it. Light and shade move a skin along a
 * fan between two ways of photographs: a* and b* in proportion to L* + 16 (shading alone changes
 * neither a* / (L* + 16) nor b* / (L* + 16)), and chroma the same at every L* (the contrast of a
 * camera's tone curve). So one reading serves light and shade of a face. Toward neutral the
 * likeness falls with the chroma, as a highlight is light of the lamp mixed with that of the skin.
 * Deep, medium and light skin are alike to it from L* 14 to 100; below it fades out until L* 4.
 *
 * Skin as such: hue 49 degrees, between the 51.6 of measured skin under D50 (median of 4,392
 * spectra, K. Xiao et al., Optics Express 24:14934, 2016; 38 to 63 hold nine tenths) and the 47 of
 * published photographs; half at 12 degrees off, nothing from 22. Chroma from 16 (C* of the same
 * spectra: 15 to 25) to 42 (photographs are more coloured than skin, and deep skin in them up to
 * 40).
 */
#ifndef CARN_LIKENESS_H
#define CARN_LIKENESS_H

#include "base/error.h"
#include "colour/lab.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* One thing to be like. */
struct carn_reference {
    float L, a, b;      /* the reading */
    float radius;       /* wholly skin within this CIE76 difference; under 0: no reading */
    float along[2];     /* unit vector of the hue, a* and b* */
    float low, high;    /* chroma that it may have whatever its L* */
    float grey, rich;   /* chroma by L* + 16 that it may have */
    float inner, outer; /* tangent of the angle off the hue where likeness begins to fall, ends */
};

struct carn_reference carn_reference_of_skin(void);

/* Whole within three times spread (CIE76, 2 at least), but never nearer to neutral than 0.4 of the
 * reading's chroma. lab is not neutral. */
struct carn_reference carn_reference_of_reading(struct carn_lab lab, double spread);

/* Raises likeness[i], 0 to 65535, where the colour is more like this reference than like those
 * before. 65535 is given for a colour within radius and for no other. */
void carn_likeness_row(const struct carn_reference *reference, const float *L, const float *a,
                       const float *b, uint16_t *likeness, size_t count);

/*
 * Whether a colour can be the mean of a person's skin in a photograph, of any depth and under
 * tinted light: hue 8 to 86 degrees, chroma at least 3 and at least 0.045, at most 1.2 of L* + 16.
 * Wide on purpose, so that no skin is refused: the ten tones of the Monk scale (2022; hue 47 to 84,
 * chroma from 4, and 0.053 of L* + 16) are all in it, 100 measured forearms (NIST, 2017) and
 * photographs (hue 22 to 65). What it tells is a blue shirt, grass, grey.
 */
bool carn_skin_can_be(struct carn_lab lab);

#endif
