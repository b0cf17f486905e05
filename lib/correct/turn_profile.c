/* Through any profile, by lcms2: exact and slow. */
#include "correct/turn_way.h"

#include "colour/lab.h"

#include <math.h>
#include <string.h>

/* CIE76. A colour that no RGB comes nearer to is out of gamut; one nearer than the second is there
 * already. */
static const double NEAR = 0.01, THERE = 0.002;

/* Between the nodes of a table slopes are even; its curves are known to 16 bits. */
static const double STEP = 1.0 / 1024;

/* RGB of the colour, from what rgb holds, else from the profile's own way back; false and rgb as it
 * was when there is none. */
static bool meet(struct carn_profile *profile, struct carn_lab aim, double rgb[3])
{
    struct carn_error ignored = {0}; /* a profile may lack the way back */
    double found[3] = {rgb[0], rgb[1], rgb[2]};
    bool met = carn_profile_approach(profile, aim, STEP, found) < NEAR;
    if (!met && carn_profile_from_lab(profile, aim, found, &ignored) == 0) {
        for (size_t c = 0; c < 3; c++)
            found[c] = fmin(fmax(found[c], 0), 1);
        met = carn_profile_approach(profile, aim, STEP, found) < NEAR;
    }
    if (met)
        memcpy(rgb, found, sizeof found);
    return met;
}

static void turn_pixel(struct carn_profile *profile, struct carn_lab from, double re, double im,
                       double rgb[3])
{
    enum { HALVINGS = 12 };
    struct carn_lab to = {from.L, re * from.a - im * from.b, im * from.a + re * from.b};
    if (carn_cie76(from, to) < THERE || meet(profile, to, rgb))
        return;
    double share = 0;
    for (int n = 1; n <= HALVINGS; n++) {
        double more = share + ldexp(1, -n);
        if (meet(profile, (struct carn_lab){to.L, more * to.a, more * to.b}, rgb))
            share = more;
    }
}

void carn_turn_by_profile(struct carn_profile *profile, const struct carn_turn_runs *runs,
                          uint16_t (*rgb)[3], const float *weight, size_t count)
{
    if (count == 0)
        return;
    double samples[CARN_TURN_CHUNK][3];
    struct carn_lab lab[CARN_TURN_CHUNK];
    float f[CARN_TURN_CHUNK], re[CARN_TURN_CHUNK], im[CARN_TURN_CHUNK];
    for (size_t i = 0; i < count; i++)
        for (size_t c = 0; c < 3; c++)
            samples[i][c] = rgb[i][c] / 65535.0;
    carn_profile_to_lab(profile, samples[0], lab, count);
    for (size_t i = 0; i < count; i++)
        f[i] = (float)((lab[i].L + 16) / 116);
    carn_turn_ratios(runs, f, weight, re, im, count);
    for (size_t i = 0; i < count; i++) {
        turn_pixel(profile, lab[i], (double)re[i], (double)im[i], samples[i]);
        for (size_t c = 0; c < 3; c++)
            rgb[i][c] = (uint16_t)(samples[i][c] * 65535 + 0.5);
    }
}
