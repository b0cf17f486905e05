/*
 * lab: CIELAB figures. D50, 2 degree observer throughout (the ICC profile connection space).
 * Sources: CIE 15 / ISO 11664-4 (CIELAB), CIE 142 and G. Sharma, W. Wu, E. N. Dalal, Color
 * Research & Application 30(1):21-30, 2005 (CIEDE2000).
 */
#ifndef CARN_LAB_H
#define CARN_LAB_H

#include <stddef.h>

struct carn_lab {
    double L, a, b;
};

/* Y of the white is 1. */
struct carn_xyz {
    double X, Y, Z;
};

/* The white of the connection space: ICC.1, X 0.9642 Y 1 Z 0.8249. */
extern const struct carn_xyz carn_d50;

struct carn_lab carn_xyz_to_lab(struct carn_xyz xyz, struct carn_xyz white);
struct carn_xyz carn_lab_to_xyz(struct carn_lab lab, struct carn_xyz white);

double carn_chroma(struct carn_lab lab);
double carn_hue(struct carn_lab lab);               /* degrees, 0 up to under 360; 0 for a grey */
double carn_hue_difference(double from, double to); /* degrees, above -180 up to 180 */

/* The median of count hues, over 0, 0 up to under 360: as they lie to either side of the first, so
 * that those of 359 and 1 degrees have 0. It moves the numbers about. */
double carn_hue_median(double *hues, size_t count);

/* Individual typology angle, degrees: atan2(L* - 50, b*) (A. Chardon et al. 1991). It describes a
 * picture, not a person. */
double carn_ita(struct carn_lab lab);

/* CIE 1976 colour difference. */
double carn_cie76(struct carn_lab x, struct carn_lab y);

/* The terms of CIEDE2000; lightness + chroma + hue + cross is the square of the total. */
struct carn_ciede2000 {
    double total, lightness, chroma, hue, cross;
};

struct carn_ciede2000 carn_ciede2000(struct carn_lab x, struct carn_lab y);

/* How to differs from from, in words by the sign where the root of a term d has of it exceeds
 * least: yellower, bluer, more magenta, greener; more coloured, greyer; lighter, deeper. Joined by
 * commas; "" for none. */
void carn_difference_words(struct carn_lab from, struct carn_lab to, const struct carn_ciede2000 *d,
                           double least, char *words, size_t size);

#endif
