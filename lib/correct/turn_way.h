/*
 * turn_way: the two ways of a turn through a profile, for turn.c alone.
 *
 * Both are given up to CARN_TURN_CHUNK pixels' encoded RGB and weights (0..1), and change the RGB
 * in place.
 */
#ifndef CARN_TURN_WAY_H
#define CARN_TURN_WAY_H

#include "correct/turn.h"

enum { CARN_TURN_CHUNK = 256 };

/* The ratio rises by re, im over every stretch of L*, whose length is over 0. Lengths in f of
 * CIELAB, (L* + 16) / 116. */
struct carn_turn_run {
    float re, im; /* at the lowest L* and below */
    size_t count;
    struct carn_turn_stretch {
        float from, length, re, im;
    } stretch[CARN_TURNS - 1];
};

struct carn_turn_runs {
    size_t count;
    struct carn_turn_run *run;
};

/* re[i] + i im[i] = 1 + weight[i] (ratio - 1) at f[i], (L* + 16) / 116. */
void carn_turn_ratios(const struct carn_turn_runs *runs, const float *f, const float *weight,
                      float *re, float *im, size_t count);

/* Curves and a matrix: 1 when the profile is not of that kind, or its curves fall. */
struct carn_turn_matrix;
int carn_turn_matrix_open(const struct carn_profile *profile, struct carn_turn_matrix **matrix,
                          struct carn_error *err);
void carn_turn_matrix_close(struct carn_turn_matrix *matrix);
void carn_turn_by_matrix(struct carn_turn_matrix *matrix, const struct carn_turn_runs *runs,
                         uint16_t (*rgb)[3], const float *weight, size_t count);

/* Any profile. */
void carn_turn_by_profile(struct carn_profile *profile, const struct carn_turn_runs *runs,
                          uint16_t (*rgb)[3], const float *weight, size_t count);

#endif
