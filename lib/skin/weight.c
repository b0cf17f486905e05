#include "skin/weight.h"

#include "frame/blur.h"

#include <stdlib.h>
#include <string.h>

/* Sigma of the neighbourhood: a share of the shorter side, as skin and its pores are larger on a
 * larger frame; and at least a pixel. */
static const double SHARE = 0.004, LEAST = 1.5;

/* Variance of the likeness, 0..1, that counts as grain. */
static const float NOISE = 0.06F;

/* The weight is stretched so that this much of it counts as nothing and as whole. */
static const float NOTHING = 0.04F, WHOLE = 0.94F;

struct carn_weight {
    const struct carn_frame *from;
    const struct carn_lab_lookup *quick;
    const struct carn_reference *references;
    size_t count;
    struct carn_blur *blur;
    size_t pushed, pulled;
    size_t lines;           /* of the rings */
    uint16_t *rows, *likes; /* rings of rows that wait, and of their likeness */
    float *lab;             /* a row of L*, of a*, of b* */
    uint16_t *pairs;        /* a row of likeness and its square */
    uint16_t *done;
};

/* Rows that may wait: those under the Gaussian ahead of a row, and a batch of the blur's. */
static size_t waiting(double sigma, size_t height)
{
    size_t lines = (size_t)(4.4 * sigma) + 5 + 2 * 16 + 1;
    return lines < height ? lines : height;
}

static int make_buffers(struct carn_weight *weight, double sigma, struct carn_error *err)
{
    const struct carn_frame *from = weight->from;
    size_t samples = from->width * carn_frame_channels(from);
    weight->lines = waiting(sigma, from->height);
    weight->rows = carn_alloc(weight->lines, samples * sizeof *weight->rows, err);
    weight->likes = carn_alloc(weight->lines, from->width * sizeof *weight->likes, err);
    weight->lab = carn_alloc(from->width, 3 * sizeof *weight->lab, err);
    weight->pairs = carn_alloc(from->width, 2 * sizeof *weight->pairs, err);
    weight->done = carn_alloc(samples + from->width, sizeof *weight->done, err);
    return weight->rows == NULL || weight->likes == NULL || weight->lab == NULL ||
                   weight->pairs == NULL || weight->done == NULL
               ? -1
               : 0;
}

struct carn_weight *carn_weight_open(const struct carn_frame *from,
                                     const struct carn_lab_lookup *quick,
                                     const struct carn_reference *references, size_t count,
                                     struct carn_error *err)
{
    struct carn_weight *weight = carn_alloc(1, sizeof *weight, err);
    if (weight == NULL)
        return NULL;
    weight->from = from;
    weight->quick = quick;
    weight->references = references;
    weight->count = count;
    double side = (double)(from->width < from->height ? from->width : from->height);
    double sigma = SHARE * side > LEAST ? SHARE * side : LEAST;
    if (sigma > CARN_BLUR_LIMIT)
        sigma = CARN_BLUR_LIMIT;
    if (make_buffers(weight, sigma, err) == 0)
        weight->blur = carn_blur_open(sigma, from->width, from->height, 2, err);
    if (weight->blur == NULL) {
        carn_weight_close(weight);
        return NULL;
    }
    return weight;
}

void carn_weight_close(struct carn_weight *weight)
{
    if (weight == NULL)
        return;
    carn_blur_close(weight->blur);
    free(weight->rows);
    free(weight->likes);
    free(weight->lab);
    free(weight->pairs);
    free(weight->done);
    free(weight);
}

void carn_weight_push(struct carn_weight *weight, const uint16_t *row)
{
    size_t width = weight->from->width, samples = width * carn_frame_channels(weight->from);
    size_t line = weight->pushed++ % weight->lines;
    uint16_t *likes = weight->likes + line * width;
    float *L = weight->lab, *a = L + width, *b = a + width;
    memcpy(weight->rows + line * samples, row, samples * sizeof *row);
    carn_lab_lookup_row(weight->quick, weight->from, row, L, a, b);
    memset(likes, 0, width * sizeof *likes);
    for (size_t i = 0; i < weight->count; i++)
        carn_likeness_row(&weight->references[i], L, a, b, likes, width);
    for (size_t x = 0; x < width; x++) {
        weight->pairs[2 * x] = likes[x];
        weight->pairs[2 * x + 1] = (uint16_t)((uint32_t)likes[x] * likes[x] / 65535);
    }
    carn_blur_push(weight->blur, weight->pairs);
}

/* around: the means of the likeness and of its square. */
static inline uint16_t weigh(uint16_t own, const uint16_t *around)
{
    float like = (float)own / 65535, mean = (float)around[0] / 65535;
    float variance = (float)around[1] / 65535 - mean * mean;
    variance = variance < 0 ? 0 : variance;
    float w = mean + variance / (variance + NOISE) * (like - mean);
    w = (w - NOTHING) / (WHOLE - NOTHING);
    w = w < 3 * like ? w : 3 * like;
    w = w > 0 ? w : 0;
    w = w < 1 && own < 65535 ? w : 1;
    return (uint16_t)(w * 65535 + 0.5F);
}

const uint16_t *carn_weight_pull(struct carn_weight *weight)
{
    const uint16_t *around = carn_blur_pull(weight->blur);
    if (around == NULL)
        return NULL;
    const struct carn_frame *from = weight->from;
    size_t channels = carn_frame_channels(from), kept = channels - from->weight;
    size_t line = weight->pulled++ % weight->lines;
    const uint16_t *row = weight->rows + line * from->width * channels;
    const uint16_t *likes = weight->likes + line * from->width;
    uint16_t *to = weight->done;
    for (size_t x = 0; x < from->width; x++, row += channels, to += kept + 1) {
        for (size_t c = 0; c < kept; c++)
            to[c] = row[c];
        uint32_t own = weigh(likes[x], &around[2 * x]);
        to[kept] = (uint16_t)(from->weight ? own * row[kept] / 65535 : own);
    }
    return weight->done;
}
