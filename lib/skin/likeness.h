/*
 * likeness: how far a colour is skin, 0 to 1, from its CIELAB alone.
 *
 * A colour is compared with a reference: skin in general, a reading of this person, or the tones of
 * this person's face. A reference gives the expected hue and range of chroma at every L*. Between
 * the tones of a face they are interpolated. Beyond the tones, chroma lies between two models: in
 * proportion to L* + 16 (shading alone), and the same at every L* (the contrast of a camera's tone
 * curve). In highlights chroma falls towards the white of the lamp; that still counts as skin, so
 * that a highlight is corrected with the skin around it. A lower chroma than expected, at the
 * skin's own L* or darker, is hair, wood or stone.
 *
 * Likeness is 1 near the expected hue and falls to 0 away from it; how far from it, for a face, is
 * set by the spread of hue in that face. From L* 14 to 100 it does not depend on depth; from L* 14
 * down to 4 it fades out. What is much darker than a face's shade is taken for hair.
 *
 * Skin as such: hue 49 degrees, between the 51.6 of measured skin under D50 (median of 4,392
 * spectra, K. Xiao et al., Optics Express 24:14934, 2016; nine tenths lie from 38 to 63) and the 47
 * of published photographs. Likeness is 0.5 at 12 degrees from it and 0 from 22. Chroma from 16 (C*
 * of the same spectra: 15 to 25) to 42 (photographs are more coloured than skin, and deep skin in
 * them up to 40).
 */
#ifndef CARN_LIKENESS_H
#define CARN_LIKENESS_H

#include "base/error.h"
#include "base/tone.h"
#include "colour/lab.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CARN_LIKE_STEPS = 401 };

/* The reference at one L*, in steps of 0.25. hue: unit vector in a* and b*. Likeness by chroma: 0
 * below none, 1 from whole to rich, 0 from garish. light: a factor 0..1 for this L*. */
struct carn_like {
    float hue[2], none, whole, rich, garish, light;
};

struct carn_reference {
    struct carn_like at[CARN_LIKE_STEPS];
    /* Tangents of the angle from the hue at which likeness begins to fall (inner) and reaches 0
     * (outer): yellow side, red side. grain, across: the same as distances in the a*b* plane at a
     * right angle to the hue, whatever the chroma. */
    float inner[2], outer[2], grain, across;
    float L, a, b, radius; /* 1 within this CIE76 difference; under 0: no such radius */
};

void carn_reference_of_skin(struct carn_reference *reference);

/* Likeness is 1 within three times spread (CIE76, at least 2) of lab, but that radius ends at 0.4
 * of lab's chroma from neutral. lab is not neutral. */
void carn_reference_of_reading(struct carn_reference *reference, struct carn_lab lab,
                               double spread);

/* tones: of one face by enum carn_tone, none neutral; hue_spread: degrees. inside: for pixels
 * inside the face, where redder, paler, darker and more chromatic ones count too: nose, cheeks,
 * ears, stubble, the side away from the light. */
void carn_reference_of_face(struct carn_reference *reference, const struct carn_lab tones[3],
                            double hue_spread, bool inside);

/* likeness[i], 0 to 65535, becomes the greater of itself and the likeness to this reference. Only a
 * colour within radius gets 65535. */
void carn_likeness_row(const struct carn_reference *reference, const float *L, const float *a,
                       const float *b, uint16_t *likeness, size_t count);

/*
 * Whether a colour can be the mean of a person's skin in a photograph, of any depth and under
 * tinted light: hue 8 to 86 degrees, chroma at least 3 and at least 0.045, at most 1.2 of L* + 16.
 * The limits are wide, so that no skin is refused. They hold the ten tones of the Monk scale (2022;
 * hue 47 to 84, chroma from 4, and 0.053 of L* + 16), 100 measured forearms (NIST, 2017) and faces
 * in photographs (hue 22 to 65). They exclude a blue shirt, grass, grey. face: the colour lies in a
 * face whose eyes, nose and mouth are known, so what it is need not be told from its colour; then
 * hue may be -30 degrees, as in the blue light of open shade (four of 263 portraits: -23 to 6).
 */
bool carn_skin_can_be(struct carn_lab lab, bool face);

#endif
