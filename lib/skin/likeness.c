#include "skin/likeness.h"

#include <math.h>

/* Shares of the chroma to be expected: nothing below the first, whole from the second to the third,
 * nothing from the fourth. */
static const float GREY = 0.15F, COLOURED = 0.75F, RICH = 1.2F, GARISH = 1.7F;

/* Across the hue, a difference too small to be told from grain, and one too large at any chroma
 * that could be in doubt. */
static const float GRAIN = 1.5F, ACROSS = 5;

static const float DARK = 4, SEEN = 14; /* L* between which colour fades in */
static const float FALL = 6;            /* CIE76 from whole to nothing around a reading */

static const double PI = 3.14159265358979323846;

static float tangent(double degrees)
{
    return (float)tan(degrees * PI / 180);
}

struct carn_reference carn_reference_of_skin(void)
{
    const double hue = 49 * PI / 180;
    return (struct carn_reference){.radius = -1e6F,
                                   .along = {(float)cos(hue), (float)sin(hue)},
                                   .low = 16,
                                   .high = 42,
                                   .grey = 0.22F,
                                   .rich = 0.45F,
                                   .inner = tangent(2),
                                   .outer = tangent(22)};
}

struct carn_reference carn_reference_of_reading(struct carn_lab lab, double spread)
{
    double chroma = carn_chroma(lab), radius = spread > 2.0 / 3 ? 3 * spread : 2;
    float by_light = (float)(chroma / (lab.L + 16));
    return (struct carn_reference){.L = (float)lab.L,
                                   .a = (float)lab.a,
                                   .b = (float)lab.b,
                                   .radius = (float)fmin(radius, 0.6 * chroma),
                                   .along = {(float)(lab.a / chroma), (float)(lab.b / chroma)},
                                   .low = (float)chroma,
                                   .high = (float)chroma,
                                   .grey = by_light,
                                   .rich = by_light,
                                   .inner = tangent(2),
                                   .outer = tangent(16)};
}

/* 0 up to from, 1 from to on, smooth between. */
static inline float rise(float v, float from, float to)
{
    float t = (v - from) / (to - from);
    t = t < 0 ? 0 : t;
    t = t > 1 ? 1 : t;
    return t * t * (3 - 2 * t);
}

static inline float least(float x, float y)
{
    return x < y ? x : y;
}

static inline float most(float x, float y)
{
    return x > y ? x : y;
}

/* Plain arithmetic without a branch, so that compilers make vector code of it. */
void carn_likeness_row(const struct carn_reference *reference, const float *L, const float *a,
                       const float *b, uint16_t *likeness, size_t count)
{
    const struct carn_reference r = *reference;
    for (size_t i = 0; i < count; i++) {
        float along = a[i] * r.along[0] + b[i] * r.along[1];
        float across = fabsf(b[i] * r.along[0] - a[i] * r.along[1]);
        float light = L[i] + 16;
        float low = least(r.low, r.grey * light), high = most(r.high, r.rich * light);
        float like =
            rise(along, GREY * low, COLOURED * low) *
            (1 - rise(along, RICH * high, GARISH * high)) *
            (1 - rise(across, most(r.inner * along, GRAIN), most(r.outer * along, ACROSS))) *
            rise(L[i], DARK, SEEN);
        float dL = L[i] - r.L, da = a[i] - r.a, db = b[i] - r.b;
        float away = sqrtf(dL * dL + da * da + db * db);
        like = most(like, 1 - rise(away, r.radius, r.radius + FALL));
        int code = (int)(like * 65534 + 0.5F);
        code = away <= r.radius ? 65535 : code;
        likeness[i] = (uint16_t)(code > likeness[i] ? code : likeness[i]);
    }
}

bool carn_skin_can_be(struct carn_lab lab)
{
    double hue = carn_hue(lab), chroma = carn_chroma(lab), by_light = chroma / (lab.L + 16);
    return hue >= 8 && hue <= 86 && chroma >= 3 && by_light >= 0.045 && by_light <= 1.2;
}
