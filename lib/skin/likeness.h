/*
 * likeness: how far a colour is skin, 0 to 1, from its CIELAB alone.
 *
 * Skin is held against references: one for skin as such, a reading of this very subject, or the
 * tones of its face. A reference knows the own colour of the skin at every L*: between the tones of
 * a face their own colours, beyond them what light and shade make of it. Two ways of photographs
 * bound the chroma there: a* and b* in proportion to L* + 16 (shading alone changes neither
 * a* / (L* + 16) nor b* / (L* + 16)), and chroma the same at every L* (the contrast of a camera's
 * tone curve). Toward the white of a lamp chroma falls as the highlight mixes with it, and that is
 * skin still: what turns around a highlight turns in it. Under the own chroma at its own L* and
 * below is hair, wood and stone.
 *
 * Hue decides: likeness is whole near the own hue and nothing beyond; for a face by its own spread
 * of hue. Deep, medium and light skin are alike to it from L* 14 to 100; below it fades out until
 * L* 4, and what is much darker than a face's shade is its hair.
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
#include "base/tone.h"
#include "colour/lab.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CARN_LIKE_STEPS = 401 };

/* One thing to be like. By L* in steps of a quarter: the unit vector of the own hue in a* and b*;
 * chroma under which there is none, from which to which it is whole, from which there is none
 * again; and how far this L* is skin at all. */
struct carn_like {
    float hue[2], none, whole, rich, garish, light;
};

struct carn_reference {
    struct carn_like at[CARN_LIKE_STEPS];
    /* Tangents of the angle off the hue where likeness begins to fall and ends, to the yellow side
     * and to the red; and the same as differences across the hue, whatever the chroma. */
    float inner[2], outer[2], grain, across;
    float L, a, b, radius; /* wholly skin within this CIE76 difference; radius under 0: none */
};

void carn_reference_of_skin(struct carn_reference *reference);

/* Whole within three times spread (CIE76, 2 at least), but never nearer to neutral than 0.4 of the
 * reading's chroma. lab is not neutral. */
void carn_reference_of_reading(struct carn_reference *reference, struct carn_lab lab,
                               double spread);

/* tones: of one face by enum carn_tone, none neutral; hue_spread: degrees. inside: for the face
 * itself, where redder, paler and more coloured is skin too: noses, cheeks, ears, stubble. */
void carn_reference_of_face(struct carn_reference *reference, const struct carn_lab tones[3],
                            double hue_spread, bool inside);

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
