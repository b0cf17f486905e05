#include "skin/likeness.h"

#include "base/clones.h"
#include "base/maths.h"

#include <math.h>

/* Shares of the expected chroma: likeness is 0 below the first, 1 from the second to the third, 0
 * from the fourth. GREY to GARISH are for skin in general; a reading and a face have PALE and OWN
 * for the first two. Inside a face the range is wider: ears with light behind them and red noses
 * belong to it. */
static const double GREY = 0.15, COLOURED = 0.75, RICH = 1.2, GARISH = 1.7;
static const double PALE = 0.55, OWN = 0.92;
static const double INSIDE_PALE = 0.2, INSIDE_OWN = 0.6, INSIDE_RICH = 1.8, INSIDE_GARISH = 2.6;

/* Distances in the a*b* plane at a right angle to the hue: up to GRAIN a difference is taken for
 * noise; likeness reaches 0 no nearer than ACROSS. A face has limits of its own. */
static const float GRAIN = 1.5F, ACROSS = 5, FACE_GRAIN = 1, FACE_ACROSS = 3;

/* Degrees from the hue at which likeness begins to fall and reaches 0, around a reading. A face's
 * spread of hue, which sets them for a face, is kept within LEAST_SPREAD and MOST_SPREAD. */
static const double INNER = 2, OUTER = 16, LEAST_SPREAD = 1, MOST_SPREAD = 8;

/* Inside a face both limits lie farther out by these degrees, to the red and to the yellow side:
 * chosen on 18 photographs of the set choose (docs/photographs.md), where ears, noses and cheeks
 * stayed as they were in a face that turned. */
static const double REDDER = 18, YELLOWER = 6;

static const double DARK = 4, SEEN = 14; /* L*: hue counts from DARK on, in full from SEEN on */
static const float FALL = 6; /* CIE76 over which likeness falls from 1 to 0 around a reading */

/* Shares of L* + 16, of the reading or of a face's shade: likeness is 0 at the first and 1 from the
 * second, so that dark hair fades out. */
static const double READ_NONE = 0.3, READ_WHOLE = 0.55, SHADE_NONE = 0.5, SHADE_WHOLE = 0.8;
static const double INSIDE_NONE = 0.4, INSIDE_WHOLE = 0.65;

/* Degrees of hue that skin can have: in any light, and where a face was found on it. */
static const double COLD = 8, COLDEST = -30, WARM = 86;

static float tangent(double degrees)
{
    return (float)tan(degrees * CARN_PI / 180);
}

static void set_step(struct carn_like *at, double L, struct carn_lab own, double low, double high)
{
    double chroma = carn_chroma(own);
    *at = (struct carn_like){.hue = {(float)(own.a / chroma), (float)(own.b / chroma)},
                             .none = (float)low,
                             .whole = (float)high,
                             .light = (float)carn_rise(L, DARK, SEEN)};
}

void carn_reference_of_skin(struct carn_reference *r)
{
    const double hue = 49 * CARN_PI / 180;
    *r = (struct carn_reference){.inner = {tangent(2), tangent(2)},
                                 .outer = {tangent(22), tangent(22)},
                                 .grain = GRAIN,
                                 .across = ACROSS,
                                 .radius = -1e6F};
    for (int i = 0; i < CARN_LIKE_STEPS; i++) {
        double L = i / 4.0, low = fmin(16, 0.22 * (L + 16)), high = fmax(42, 0.45 * (L + 16));
        set_step(&r->at[i], L, (struct carn_lab){L, cos(hue), sin(hue)}, GREY * low,
                 COLOURED * low);
        r->at[i].rich = (float)(RICH * high);
        r->at[i].garish = (float)(GARISH * high);
    }
}

/* The own colour between tones from light to shade; beyond them the nearest. */
static struct carn_lab between(const struct carn_lab *tones, int count, double L)
{
    int i = 0;
    while (i < count - 1 && L < tones[i + 1].L)
        i++;
    if (L >= tones[i].L || i == count - 1)
        return tones[i];
    double share = (L - tones[i + 1].L) / (tones[i].L - tones[i + 1].L);
    return (struct carn_lab){L, tones[i + 1].a + share * (tones[i].a - tones[i + 1].a),
                             tones[i + 1].b + share * (tones[i].b - tones[i + 1].b)};
}

/* tones from light to shade; dark and seen: L* between which the dark fades in. */
static void set_own(struct carn_reference *r, const struct carn_lab *tones, int count, double dark,
                    double seen, bool inside)
{
    /* The middle of a face is where highlights begin. */
    const struct carn_lab *lit = &tones[count / 2];
    double white = carn_chroma(*lit) / fmax(100 - lit->L, 1);
    for (int i = 0; i < CARN_LIKE_STEPS; i++) {
        double L = i / 4.0;
        struct carn_lab own = between(tones, count, L);
        double same = carn_chroma(own), shaded = same * (L + 16) / (own.L + 16);
        double low = fmin(same, shaded), high = fmax(same, shaded);
        if (L > lit->L)
            low = fmin(low, white * (100 - L));
        /* Near white the hue is noise, and a turn does nothing. */
        low = fmax(low, 4);
        set_step(&r->at[i], L, own, (inside ? INSIDE_PALE : PALE) * low,
                 (inside ? INSIDE_OWN : OWN) * low);
        r->at[i].rich = (float)((inside ? INSIDE_RICH : RICH) * high);
        r->at[i].garish = (float)((inside ? INSIDE_GARISH : GARISH) * high);
        r->at[i].light *= (float)carn_rise(L, dark, seen);
    }
}

void carn_reference_of_reading(struct carn_reference *r, struct carn_lab lab, double spread)
{
    double radius = spread > 2.0 / 3 ? 3 * spread : 2, light = lab.L + 16;
    *r = (struct carn_reference){.L = (float)lab.L,
                                 .a = (float)lab.a,
                                 .b = (float)lab.b,
                                 .radius = (float)fmin(radius, 0.6 * carn_chroma(lab)),
                                 .inner = {tangent(INNER), tangent(INNER)},
                                 .outer = {tangent(OUTER), tangent(OUTER)},
                                 .grain = GRAIN,
                                 .across = ACROSS};
    set_own(r, &lab, 1, READ_NONE * light - 16, READ_WHOLE * light - 16, false);
}

void carn_reference_of_face(struct carn_reference *r, const struct carn_lab tones[3],
                            double hue_spread, bool inside)
{
    double spread = fmin(fmax(hue_spread, LEAST_SPREAD), MOST_SPREAD);
    double light = tones[CARN_TONE_SHADE].L + 16, inner = spread + 1, outer = 3 * spread + 3;
    *r = (struct carn_reference){
        .radius = -1e6F,
        .inner = {tangent(inner + (inside ? YELLOWER : 0)), tangent(inner + (inside ? REDDER : 0))},
        .outer = {tangent(outer + (inside ? YELLOWER : 0)), tangent(outer + (inside ? REDDER : 0))},
        .grain = FACE_GRAIN,
        .across = FACE_ACROSS};
    set_own(r, tones, CARN_TONES, (inside ? INSIDE_NONE : SHADE_NONE) * light - 16,
            (inside ? INSIDE_WHOLE : SHADE_WHOLE) * light - 16, inside);
}

static inline float most(float x, float y)
{
    return x > y ? x : y;
}

enum { CHUNK = 256 };

/* Colours that may be like the reference, and the reference at their L*, in an array a number: the
 * compiler makes vectors of loops over them. along, off: along the hue and at a right angle to it;
 * away: CIE76 from the reading, squared. */
struct near {
    size_t count;
    int32_t at[CHUNK];
    float along[CHUNK], off[CHUNK], away[CHUNK];
    float none[CHUNK], whole[CHUNK], rich[CHUNK], garish[CHUNK], light[CHUNK];
};

/* Picks the colours that may be like the reference: most of a picture is not. */
static void pick_near(const struct carn_reference *r, const float *L, const float *a,
                      const float *b, size_t count, struct near *near)
{
    const float reach = most(r->radius + FALL, 0), beyond = reach * reach;
    const float L0 = r->L, a0 = r->a, b0 = r->b;
    int32_t step[CHUNK];
    float away[CHUNK];
    for (size_t i = 0; i < count; i++) {
        float dL = L[i] - L0, da = a[i] - a0, db = b[i] - b0;
        int32_t s = (int32_t)(L[i] * 4 + 0.5F);
        s = s > 0 ? s : 0;
        step[i] = s < CARN_LIKE_STEPS ? s : CARN_LIKE_STEPS - 1;
        away[i] = dL * dL + da * da + db * db;
    }
    size_t n = 0;
    for (size_t i = 0; i < count; i++) {
        const struct carn_like *at = &r->at[step[i]];
        float along = a[i] * at->hue[0] + b[i] * at->hue[1];
        near->at[n] = (int32_t)i;
        bool alike = ((along > at->none) & (along < at->garish)) | (away[i] < beyond);
        n += alike;
    }
    near->count = n;
    for (size_t k = 0; k < n; k++) {
        int32_t i = near->at[k]; /* below count, so both are set there */
        /* cppcheck-suppress uninitvar */
        const struct carn_like *at = &r->at[step[i]];
        near->along[k] = a[i] * at->hue[0] + b[i] * at->hue[1];
        near->off[k] = b[i] * at->hue[0] - a[i] * at->hue[1];
        /* cppcheck-suppress uninitvar */
        near->away[k] = away[i];
        near->none[k] = at->none;
        near->whole[k] = at->whole;
        near->rich[k] = at->rich;
        near->garish[k] = at->garish;
        near->light[k] = at->light;
    }
}

CARN_CLONES static void find_codes(const struct carn_reference *r, const struct near *near,
                                   int32_t *codes)
{
    const float inner0 = r->inner[0], inner1 = r->inner[1], outer0 = r->outer[0],
                outer1 = r->outer[1], grain = r->grain, across = r->across, radius = r->radius;
    for (size_t i = 0; i < near->count; i++) {
        float along = near->along[i], off = near->off[i], away = sqrtf(near->away[i]);
        float inner = off > 0 ? inner0 : inner1, outer = off > 0 ? outer0 : outer1;
        float like =
            carn_risef(along, near->none[i], near->whole[i]) *
            (1 - carn_risef(along, near->rich[i], near->garish[i])) *
            (1 - carn_risef(fabsf(off), most(inner * along, grain), most(outer * along, across))) *
            near->light[i];
        like = most(like, 1 - carn_risef(away, radius, radius + FALL));
        int32_t code = (int32_t)(like * 65534 + 0.5F);
        codes[i] = away <= radius ? 65535 : code;
    }
}

void carn_likeness_row(const struct carn_reference *reference, const float *L, const float *a,
                       const float *b, uint16_t *likeness, size_t count)
{
    struct near near;
    int32_t codes[CHUNK];
    for (size_t x = 0; x < count; x += CHUNK) {
        pick_near(reference, L + x, a + x, b + x, count - x < CHUNK ? count - x : CHUNK, &near);
        find_codes(reference, &near, codes);
        for (size_t i = 0; i < near.count; i++) {
            uint16_t *like = likeness + x + near.at[i];
            *like = (uint16_t)(codes[i] > *like ? codes[i] : *like);
        }
    }
}

bool carn_skin_can_be(struct carn_lab lab, bool face)
{
    double hue = carn_hue(lab), chroma = carn_chroma(lab), by_light = chroma / (lab.L + 16);
    double least = face ? COLDEST : COLD;
    if (hue > 180)
        hue -= 360;
    return hue >= least && hue <= WARM && chroma >= 3 && by_light >= 0.045 && by_light <= 1.2;
}
