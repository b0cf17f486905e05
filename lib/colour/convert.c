#include "colour/convert.h"

#include "colour/encoding.h"
#include "frame/alpha.h"
#include "frame/keys.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CHUNK = 1024 };

/* Farther outside 0..1 is clipped, not rounded. */
static const float EDGE = 0x1p-14F;

/* Falls of less are the float arithmetic of lcms2 and no fall of a curve. */
static const float ROUNDING = 1e-7F;

struct carn_convert {
    bool quick;
    struct carn_link *link; /* NULL when quick and for grey */
    float matrix[3][3];
    /* Of the source's encoded values, and of the target's linear light. Channels of one curve share
     * a table: three of each would not stay in the caches. */
    const float *linear[3];
    const struct carn_encoding *encoding[3];
    float linear_made[3][65536];
    struct carn_encoding encoding_made[3];
    uint16_t (*grey)[3]; /* of 65536 values; NULL unless the source is grey */
    bool *grey_clipped;
    float in[3 * CHUNK], out[3 * CHUNK];
};

/* ---- opening ---- */

/* Linear light of all encoded values; false when it ever falls, by more than rounding: there is no
 * way back then. BT.709's rounded constants leave such a step. */
static bool tabulate(const struct carn_profile *profile, int channel, float *linear)
{
    for (int v = 0; v < 65536; v++) {
        linear[v] = (float)carn_profile_linear(profile, channel, v / 65535.0);
        if (v > 0 && !(linear[v] >= linear[v - 1] - ROUNDING))
            return false;
        if (v > 0)
            linear[v] = fmaxf(linear[v], linear[v - 1]);
    }
    return linear[65535] > 0;
}

/* Channels that share a curve share what is made of it; often all six do. */
static int open_quick(struct carn_convert *convert, const struct carn_profile *from,
                      const struct carn_profile *to, double m[3][3], struct carn_error *err)
{
    float *target = carn_alloc(65536, sizeof *target, err);
    if (target == NULL)
        return -1;
    convert->quick = true;
    for (int c = 0; c < 3 && convert->quick; c++) {
        int like = carn_profile_like(to, c), source = carn_profile_like(from, c);
        convert->encoding[c] = &convert->encoding_made[like];
        convert->linear[c] = convert->linear_made[source];
        if (like == c && (convert->quick = tabulate(to, c, target)))
            carn_encoding_build(&convert->encoding_made[c], target);
        if (source == c && convert->quick && carn_profile_same_curve(from, c, to, like) &&
            like == c)
            memcpy(convert->linear_made[c], target, sizeof convert->linear_made[c]);
        else if (source == c)
            convert->quick = convert->quick && tabulate(from, c, convert->linear_made[c]);
        for (int k = 0; k < 3; k++)
            convert->matrix[c][k] = (float)m[c][k];
    }
    free(target);
    return 0;
}

/* A code of what the profile gives, clipped. */
static uint16_t code(float v, bool *clipped)
{
    *clipped = *clipped || !(v >= -EDGE && v <= 1 + EDGE);
    return (uint16_t)(v > 0 ? (v < 1 ? v * 65535 + 0.5F : 65535) : 0);
}

static int open_grey(struct carn_convert *convert, struct carn_error *err)
{
    convert->grey = carn_alloc(65536, sizeof *convert->grey, err);
    convert->grey_clipped = carn_alloc(65536, sizeof *convert->grey_clipped, err);
    if (convert->grey == NULL || convert->grey_clipped == NULL)
        return -1;
    for (size_t v = 0; v < 65536; v += CHUNK) {
        for (size_t i = 0; i < CHUNK; i++)
            convert->in[i] = (float)(v + i) / 65535;
        carn_link_apply(convert->link, convert->in, convert->out, CHUNK);
        for (size_t i = 0; i < CHUNK; i++)
            for (size_t c = 0; c < 3; c++)
                convert->grey[v + i][c] =
                    code(convert->out[3 * i + c], &convert->grey_clipped[v + i]);
    }
    return 0;
}

struct carn_convert *carn_convert_open(const struct carn_profile *from,
                                       const struct carn_profile *to, enum carn_intent intent,
                                       bool bpc, struct carn_error *err)
{
    struct carn_convert *convert = carn_alloc(1, sizeof *convert, err);
    double m[3][3];
    if (convert == NULL)
        return NULL;
    int rc = 0;
    if (carn_profile_matrix(from, to, intent, m))
        rc = open_quick(convert, from, to, m, err);
    if (rc == 0 && !convert->quick)
        convert->link = carn_link_open(from, to, intent, bpc, err);
    if (rc == 0 && convert->link != NULL && carn_profile_colours(from) == 1)
        rc = open_grey(convert, err);
    if (rc == 0 && (convert->quick || convert->link != NULL))
        return convert;
    carn_convert_close(convert);
    return NULL;
}

static struct {
    struct carn_convert *convert;
    void *from, *to; /* ICC profiles */
    size_t from_size, to_size;
} kept;

void carn_convert_close(struct carn_convert *convert)
{
    if (convert == NULL || convert == kept.convert)
        return;
    carn_link_close(convert->link);
    free(convert->grey);
    free(convert->grey_clipped);
    free(convert);
}

void carn_convert_keep(const void *from, size_t from_size, const void *to, size_t to_size)
{
    struct carn_error ignored = {0};
    if (kept.convert != NULL || from_size == 0 || to_size == 0)
        return;
    struct carn_profile *source = carn_profile_open(from, from_size, 3, &ignored);
    struct carn_profile *target = carn_profile_open(to, to_size, 3, &ignored);
    kept.from = carn_alloc(from_size, 1, &ignored);
    kept.to = carn_alloc(to_size, 1, &ignored);
    if (source != NULL && target != NULL && kept.from != NULL && kept.to != NULL) {
        memcpy(kept.from, from, kept.from_size = from_size);
        memcpy(kept.to, to, kept.to_size = to_size);
        kept.convert = carn_convert_open(source, target, CARN_RELATIVE, true, &ignored);
    }
    carn_profile_close(source);
    carn_profile_close(target);
    if (kept.convert != NULL)
        return;
    free(kept.from);
    free(kept.to);
}

struct carn_convert *carn_convert_kept(const void *from, size_t from_size, const void *to,
                                       size_t to_size)
{
    bool is = kept.convert != NULL && from != NULL && from_size == kept.from_size &&
              to_size == kept.to_size && memcmp(from, kept.from, from_size) == 0 &&
              memcmp(to, kept.to, to_size) == 0;
    return is ? kept.convert : NULL;
}

bool carn_convert_is_quick(const struct carn_convert *convert)
{
    return convert->quick;
}

/* ---- rows ---- */

static uint16_t encode(const struct carn_encoding *encoding, float x)
{
    return (uint16_t)(carn_encoding_at(encoding, x) + 0.5F);
}

/* Linear light of the source becomes that of the target, clipped; how many pixels were. An array a
 * channel: the compiler makes vectors of this. */
static size_t multiply_clipped(const float m[3][3], float light[3][CHUNK], size_t count)
{
    uint32_t clipped = 0;
    for (size_t i = 0; i < count; i++) {
        float r = light[0][i], g = light[1][i], b = light[2][i], v[3];
        uint32_t outside = 0;
        for (size_t c = 0; c < 3; c++) {
            v[c] = m[c][0] * r + m[c][1] * g + m[c][2] * b;
            outside |= (uint32_t)(v[c] < -EDGE) | (uint32_t)(v[c] > 1 + EDGE);
            v[c] = v[c] > 0 ? v[c] : 0;
            light[c][i] = v[c] < 1 ? v[c] : 1;
        }
        clipped += outside;
    }
    return clipped;
}

static size_t quick_row(const struct carn_convert *k, const uint16_t *in, uint16_t *out,
                        size_t width, size_t step)
{
    float light[3][CHUNK];
    size_t clipped = 0;
    for (size_t done = 0; done < width; done += CHUNK) {
        size_t part = width - done < CHUNK ? width - done : CHUNK;
        for (size_t x = 0; x < part; x++, in += step)
            for (size_t c = 0; c < 3; c++)
                light[c][x] = k->linear[c][in[c]];
        clipped += multiply_clipped(k->matrix, light, part);
        for (size_t x = 0; x < part; x++, out += step)
            for (size_t c = 0; c < 3; c++)
                out[c] = encode(k->encoding[c], light[c][x]);
    }
    return clipped;
}

static size_t link_row(struct carn_convert *convert, const uint16_t *in, uint16_t *out,
                       size_t width, size_t step)
{
    size_t clipped = 0;
    for (size_t done = 0; done < width;) {
        size_t part = width - done < CHUNK ? width - done : CHUNK;
        for (size_t x = 0; x < part; x++, in += step)
            for (size_t c = 0; c < 3; c++)
                convert->in[3 * x + c] = (float)in[c] / 65535;
        carn_link_apply(convert->link, convert->in, convert->out, part);
        for (size_t x = 0; x < part; x++, out += step) {
            bool any = false;
            for (size_t c = 0; c < 3; c++)
                out[c] = code(convert->out[3 * x + c], &any);
            clipped += any;
        }
        done += part;
    }
    return clipped;
}

/* step: samples a pixel of in; out has two more. in may be the last width * step samples of out. */
static size_t grey_row(const struct carn_convert *convert, const uint16_t *in, uint16_t *out,
                       size_t width, size_t step)
{
    size_t clipped = 0;
    for (size_t x = 0; x < width; x++, in += step, out += step + 2) {
        uint16_t v = in[0];
        memcpy(out, convert->grey[v], sizeof *convert->grey);
        clipped += convert->grey_clipped[v];
    }
    return clipped;
}

/* Divides by alpha into out; step samples a pixel in both. */
static void divide(const uint16_t *in, uint16_t *out, size_t width, size_t step, size_t colours)
{
    for (size_t x = 0; x < width; x++, in += step, out += step) {
        uint32_t alpha = in[colours];
        for (size_t c = 0; c < colours; c++)
            out[c] = carn_alpha_divide(in[c], alpha);
    }
}

static void multiply(const uint16_t *in, size_t in_step, size_t colours, uint16_t *out,
                     size_t width)
{
    for (size_t x = 0; x < width; x++, in += in_step, out += in_step + 3 - colours) {
        uint32_t alpha = in[colours];
        for (size_t c = 0; c < 3; c++)
            out[c] = alpha == 0 ? in[colours == 3 ? c : 0] : carn_alpha_multiply(out[c], alpha);
    }
}

size_t carn_convert_row(struct carn_convert *convert, const struct carn_frame *frame,
                        const uint16_t *row, uint16_t *out)
{
    bool multiplied = carn_frame_associated(frame);
    size_t step = carn_frame_channels(frame), extra = step - frame->colours, clipped;
    const uint16_t *in = row;
    if (multiplied) {
        uint16_t *plain = out + (3 - frame->colours) * frame->width;
        divide(row, plain, frame->width, step, frame->colours);
        in = plain;
    }
    clipped = convert->grey != NULL ? grey_row(convert, in, out, frame->width, step)
              : convert->quick      ? quick_row(convert, in, out, frame->width, step)
                                    : link_row(convert, in, out, frame->width, step);
    if (multiplied)
        multiply(row, step, frame->colours, out, frame->width);
    for (size_t x = 0; extra > 0 && x < frame->width; x++)
        memcpy(out + x * (3 + extra) + 3, row + x * step + frame->colours, extra * sizeof *row);
    return clipped;
}
