/* Through curves and a matrix, in loops over chunks that compilers turn into vector code. */
#include "correct/turn_way.h"

#include "base/clones.h"
#include "colour/encoding.h"
#include "colour/lab.h"
#include "colour/matrix.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A channel of linear light this far outside 0..1, under 0 by this part of the largest channel, is
 * the arithmetic's; farther is out of gamut. */
static const float EDGE = 2e-6F;

/* A profile's numbers have 16 bits of fraction: white this close to D50 is meant to be D50. */
static const double ROUNDED = 2e-4;

struct channel {
    float linear[65536];
    struct carn_encoding encoding;
    bool exact; /* the way there and back ends within half a code everywhere */
};

/* The chunk's colours, each value of all pixels together. */
struct chunk {
    float rgb[3][CARN_TURN_CHUNK]; /* linear light */
    float x[CARN_TURN_CHUNK], z[CARN_TURN_CHUNK];
    float f[CARN_TURN_CHUNK];                     /* of Y */
    float a[CARN_TURN_CHUNK], b[CARN_TURN_CHUNK]; /* a* / 500, b* / 200 */
    float re[CARN_TURN_CHUNK], im[CARN_TURN_CHUNK];
    float out[3][CARN_TURN_CHUNK];
    float far[CARN_TURN_CHUNK]; /* out of gamut by so much, over 0 */
};

struct carn_turn_matrix {
    float to[3][3];         /* linear light to X, Y, Z, each of white 1 */
    float of_x[3], of_z[3]; /* and back: what more X and Z do to red, green, blue */
    const struct channel *channel[3];
    struct channel *own[3]; /* those not shared, to free */
    struct chunk chunk;     /* being worked on */
};

/* ---- opening ---- */

static struct channel *make_channel(const struct carn_profile *profile, int c, int *state,
                                    struct carn_error *err)
{
    struct channel *channel = carn_alloc(1, sizeof *channel, err);
    *state = channel == NULL ? -1 : 0;
    if (channel == NULL)
        return NULL;
    if (!carn_profile_tabulate(profile, c, channel->linear)) {
        *state = 1;
        return channel;
    }
    carn_encoding_build(&channel->encoding, channel->linear);
    channel->exact = true;
    for (size_t v = 0; v < 65536; v++) {
        float back = carn_encoding_at(&channel->encoding, channel->linear[v]);
        channel->exact = channel->exact && fabsf(back - (float)v) < 0.5F;
    }
    return channel;
}

/* The first and third columns of the inverse of m. */
static bool invert(double m[3][3], float of_x[3], float of_z[3])
{
    double adjugate[3][3], det = carn_matrix_adjugate(m, adjugate);
    for (int i = 0; i < 3; i++) {
        of_x[i] = (float)(adjugate[i][0] / det);
        of_z[i] = (float)(adjugate[i][2] / det);
    }
    return fabs(det) >= CARN_MATRIX_LEAST;
}

int carn_turn_matrix_open(const struct carn_profile *profile, struct carn_turn_matrix **matrix,
                          struct carn_error *err)
{
    const double d50[3] = {carn_d50.X, carn_d50.Y, carn_d50.Z};
    double m[3][3];
    *matrix = NULL;
    if (!carn_profile_primaries(profile, m))
        return 1;
    struct carn_turn_matrix *made = carn_alloc(1, sizeof *made, err);
    if (made == NULL)
        return -1;
    for (int i = 0; i < 3; i++) {
        double white = m[i][0] + m[i][1] + m[i][2]; /* so that its greys have no chroma */
        white = fabs(white - d50[i]) < ROUNDED ? white : d50[i];
        for (int j = 0; j < 3; j++) {
            m[i][j] /= white;
            made->to[i][j] = (float)m[i][j];
        }
    }
    int state = invert(m, made->of_x, made->of_z) ? 0 : 1;
    for (int c = 0; state == 0 && c < 3; c++) {
        int like = carn_profile_like(profile, c);
        if (like == c)
            made->own[c] = make_channel(profile, c, &state, err);
        made->channel[c] = made->own[like];
    }
    if (state == 0)
        *matrix = made;
    else
        carn_turn_matrix_close(made);
    return state;
}

void carn_turn_matrix_close(struct carn_turn_matrix *matrix)
{
    if (matrix == NULL)
        return;
    for (int c = 0; c < 3; c++)
        free(matrix->own[c]);
    free(matrix);
}

/* ---- arithmetic ---- */

static inline float as_float(uint32_t bits)
{
    float v;
    memcpy(&v, &bits, sizeof v);
    return v;
}

static inline uint32_t as_bits(float v)
{
    uint32_t bits;
    memcpy(&bits, &v, sizeof bits);
    return bits;
}

/*
 * The cube root of x > 0, within 3e-7 of itself; of other x some number or none. The bits of a
 * float are near its logarithm, so a third of them taken from a constant is near the root's
 * inverse, by 3.4 %; a step of the fourth order and one of the second follow.
 */
static inline float cube_root(float x)
{
    float z = as_float(
        (uint32_t)(int32_t)(0x54a232a3 - (int32_t)((float)(int32_t)as_bits(x) * (1.0F / 3))));
    float e = 1 - x * z * z * z;
    z += z * e * (1.0F / 3 + e * (2.0F / 9 + e * (14.0F / 81)));
    e = 1 - x * z * z * z;
    z += z * e * (1.0F / 3);
    return x * z * z;
}

/* CIELAB's f and its inverse (CIE 15); t and f of any sign. */
static inline float to_f(float t)
{
    const float edge = 216.0F / 24389, slope = 24389.0F / 27 / 116;
    return t > edge ? cube_root(t) : slope * t + 16.0F / 116;
}

static inline float of_f(float f)
{
    const float edge = 6.0F / 29, slope = 116.0F * 27 / 24389;
    return f > edge ? f * f * f : (f - 16.0F / 116) * slope;
}

CARN_CLONES static void to_lab(const struct carn_turn_matrix *m, struct chunk *k, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        float r = k->rgb[0][i], g = k->rgb[1][i], b = k->rgb[2][i];
        float x = m->to[0][0] * r + m->to[0][1] * g + m->to[0][2] * b;
        float y = m->to[1][0] * r + m->to[1][1] * g + m->to[1][2] * b;
        float z = m->to[2][0] * r + m->to[2][1] * g + m->to[2][2] * b;
        float f = to_f(y);
        k->x[i] = x;
        k->z[i] = z;
        k->f[i] = f;
        k->a[i] = to_f(x) - f;
        k->b[i] = f - to_f(z);
    }
}

/* a and b turned by the ratio. In units of a* / 500 and b* / 200 the one is 2.5 times the other. */
CARN_CLONES static void turn_colours(struct chunk *k, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        float a = k->a[i], b = k->b[i];
        k->a[i] = k->re[i] * a - 0.4F * k->im[i] * b;
        k->b[i] = 2.5F * k->im[i] * a + k->re[i] * b;
    }
}

/* Linear light of f, a, b: what differs from the pixel's X and Z is added to its own values, so
 * that what hardly turns hardly changes. share: of a and b. */
CARN_CLONES static void to_linear(const struct carn_turn_matrix *m, struct chunk *k,
                                  const float *share, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        float x = of_f(k->f[i] + share[i] * k->a[i]) - k->x[i];
        float z = of_f(k->f[i] - share[i] * k->b[i]) - k->z[i];
        float low = 0, high = 0;
        for (size_t c = 0; c < 3; c++) {
            float v = k->rgb[c][i] + m->of_x[c] * x + m->of_z[c] * z;
            k->out[c][i] = v;
            low = v < low ? v : low;
            high = v > high ? v : high;
        }
        float under = -low - EDGE * high, over = high - 1 - EDGE;
        k->far[i] = under > over ? under : over;
    }
}

/*
 * Pixels out of gamut: of their chroma as much as is inside, found by halving. A grey of this L* is
 * inside, so the least share is 0. 16 halvings leave under 0.01 of the chroma that skin has.
 */
static void back_into_gamut(const struct carn_turn_matrix *m, struct chunk *k, const size_t *which,
                            size_t count)
{
    enum { HALVINGS = 16 };
    struct chunk part;
    float low[CARN_TURN_CHUNK], share[CARN_TURN_CHUNK];
    for (size_t i = 0; i < count; i++) {
        size_t j = which[i];
        for (size_t c = 0; c < 3; c++)
            part.rgb[c][i] = k->rgb[c][j];
        part.x[i] = k->x[j];
        part.z[i] = k->z[j];
        part.f[i] = k->f[j];
        part.a[i] = k->a[j];
        part.b[i] = k->b[j];
        low[i] = 0;
    }
    float step = 0.5F;
    for (int n = 0; n < HALVINGS; n++, step /= 2) {
        for (size_t i = 0; i < count; i++)
            share[i] = low[i] + step;
        to_linear(m, &part, share, count);
        for (size_t i = 0; i < count; i++)
            low[i] = part.far[i] > 0 ? low[i] : share[i];
    }
    to_linear(m, &part, low, count);
    for (size_t i = 0; i < count; i++)
        for (size_t c = 0; c < 3; c++)
            k->out[c][which[i]] = part.out[c][i];
}

static inline float between(float v, float high)
{
    v = v > 0 ? v : 0;
    return v < high ? v : high;
}

/* Where a curve repeats values, codes apart mean one colour: one that has not changed keeps its
 * own. */
static void encode(const struct channel *channel, const float *linear, uint16_t (*rgb)[3], size_t c,
                   size_t count)
{
    const struct carn_encoding *encoding = &channel->encoding;
    for (size_t i = 0; i < count; i++) {
        float code = carn_encoding_at(encoding, between(linear[i], 1));
        if (!channel->exact) {
            float was = carn_encoding_at(encoding, channel->linear[rgb[i][c]]);
            code = fabsf(code - was) < 1 ? (float)rgb[i][c] : code;
        }
        rgb[i][c] = (uint16_t)(int32_t)(code + 0.5F);
    }
}

void carn_turn_by_matrix(struct carn_turn_matrix *m, const struct carn_turn_runs *runs,
                         uint16_t (*rgb)[3], const float *weight, size_t count)
{
    if (count == 0)
        return;
    struct chunk *k = &m->chunk;
    float whole[CARN_TURN_CHUNK];
    size_t which[CARN_TURN_CHUNK], out = 0;
    for (size_t i = 0; i < count; i++) {
        whole[i] = 1;
        for (size_t c = 0; c < 3; c++)
            k->rgb[c][i] = m->channel[c]->linear[rgb[i][c]];
    }
    to_lab(m, k, count);
    carn_turn_ratios(runs, k->f, weight, k->re, k->im, count);
    turn_colours(k, count);
    to_linear(m, k, whole, count);
    for (size_t i = 0; i < count; i++)
        if (k->far[i] > 0)
            which[out++] = i;
    if (out > 0)
        back_into_gamut(m, k, which, out);
    for (size_t c = 0; c < 3; c++)
        encode(m->channel[c], k->out[c], rgb, c, count);
}
