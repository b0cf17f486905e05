#include "skin/weight.h"

#include "base/clones.h"
#include "base/maths.h"
#include "frame/keys.h"
#include "frame/upright.h"
#include "frame/window.h"
#include "skin/person.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Sigma of the neighbourhood: a share of the shorter side, since skin and pores grow with the
 * frame; and its least, in pixels. */
static const double SHARE = 0.004, LEAST = 1.5;

/* Means are of blocks: at most this many pixels a side, and few enough that sigma is LEAST blocks
 * or more. */
enum { BLOCK = 4 };

/* Variance of the likeness (0..1) that is taken for noise. The numbers of this file are chosen;
 * tests/weight.c and tests/skin-weight.sh hold them. */
static const float NOISE = 0.06F;

/* The stretch: up to NOTHING becomes 0, from WHOLE on becomes 1. */
static const float NOTHING = 0.04F, WHOLE = 0.94F;

/* From OFF times the distance at which a person's area ends (person.h) on, likeness counts
 * ELSEWHERE.
 */
static const double OFF = 1.8, ELSEWHERE = 0.4;

/* Between persons: the difference of distances, in the unit of a person's own reach, over which a
 * share falls by a factor of e. */
static const double SOFT = 0.12;

struct span {
    size_t first, last; /* last is behind it */
};

struct carn_weight {
    const struct carn_frame *from;
    const struct carn_lab_lookup *quick;
    const struct carn_person *persons;
    size_t count, only;
    bool placed;
    struct carn_upright upright; /* of stored pixels */
    struct carn_window *window;
    size_t block, across, down; /* pixels a side; blocks a row and a column */
    float by_block;             /* 1 / block */
    size_t pushed, pulled, taken;
    size_t lines;               /* of the rings */
    uint16_t *rows, *likes;     /* rings of rows that wait, and of their likeness */
    uint16_t *one;              /* a row of likeness to one person; of weights */
    float *inside;              /* a row a person of how far inside of the face, 0..1 */
    struct span *spans;         /* the part of it that is over 0 */
    float *lab, *gains, *knots; /* a row of L*, of a*, of b*; of each person's gain; at blocks */
    uint32_t *sums;          /* of likeness in the columns of the blocks at work, of its square */
    uint16_t *pairs, *means; /* means of blocks; two rows of those of the window, upper and lower */
    float *around;           /* a row of blocks between the two */
    uint32_t *blocks;        /* of each column the block before it, */
    float *shares;           /* and how far it is to the next */
    float *near;             /* a row of both means at each pixel */
    uint16_t *done;
};

/* Half the window's reach in blocks: two boxes of n have the variance (n^2 - 1) / 6. */
static size_t reach_of(double sigma)
{
    double n = sqrt(6 * sigma * sigma + 1);
    return n > 3 ? (size_t)((n - 1) / 2 + 0.5) : 1;
}

static int make_buffers(struct carn_weight *w, struct carn_error *err)
{
    size_t width = w->from->width, samples = width * carn_frame_channels(w->from);
    w->rows = carn_alloc(w->lines, samples * sizeof *w->rows, err);
    w->likes = carn_alloc(w->lines, width * sizeof *w->likes, err);
    w->one = carn_alloc(width, sizeof *w->one, err);
    w->lab = carn_alloc(width, 3 * sizeof *w->lab, err);
    w->gains = carn_alloc(w->count * width, sizeof *w->gains, err);
    w->inside = carn_alloc(w->count * width, sizeof *w->inside, err);
    w->spans = carn_alloc(w->count, sizeof *w->spans, err);
    w->knots = carn_alloc(w->count, sizeof *w->knots, err);
    w->sums = carn_alloc(width, 2 * sizeof *w->sums, err);
    w->pairs = carn_alloc(w->across, 2 * sizeof *w->pairs, err);
    w->means = carn_alloc(w->across, 4 * sizeof *w->means, err);
    w->around = carn_alloc(w->across + 1, 2 * sizeof *w->around, err);
    w->blocks = carn_alloc(width, sizeof *w->blocks, err);
    w->shares = carn_alloc(width, sizeof *w->shares, err);
    w->near = carn_alloc(width, 2 * sizeof *w->near, err);
    w->done = carn_alloc(samples + width, sizeof *w->done, err);
    return w->rows == NULL || w->likes == NULL || w->one == NULL || w->lab == NULL ||
                   w->gains == NULL || w->inside == NULL || w->spans == NULL || w->knots == NULL ||
                   w->sums == NULL || w->pairs == NULL || w->means == NULL || w->around == NULL ||
                   w->blocks == NULL || w->shares == NULL || w->near == NULL || w->done == NULL
               ? -1
               : 0;
}

/* The block whose middle lies before pixel i of a side, and how far i is to the next one's. */
static size_t block_of(const struct carn_weight *w, size_t i, float *share)
{
    float at = ((float)i + 0.5F) * w->by_block - 0.5F;
    size_t block = at > 0 ? (size_t)at : 0;
    *share = at > 0 ? at - (float)block : 0;
    return block;
}

struct carn_weight *carn_weight_open(const struct carn_frame *from,
                                     const struct carn_lab_lookup *quick,
                                     const struct carn_person *persons, size_t count, size_t only,
                                     struct carn_error *err)
{
    struct carn_weight *w = carn_alloc(1, sizeof *w, err);
    if (w == NULL)
        return NULL;
    w->from = from;
    w->quick = quick;
    w->persons = persons;
    w->count = count;
    w->only = only;
    for (size_t i = 0; i < count; i++)
        w->placed = w->placed || persons[i].placed;
    w->upright = carn_upright(carn_frame_orientation(w->from), (double)w->from->width,
                              (double)w->from->height);
    double side = (double)(from->width < from->height ? from->width : from->height);
    double sigma = fmax(SHARE * side, LEAST);
    w->block = (size_t)fmin(floor(sigma / LEAST), BLOCK);
    w->by_block = 1 / (float)w->block;
    w->across = (from->width + w->block - 1) / w->block;
    w->down = (from->height + w->block - 1) / w->block;
    size_t reach = reach_of(sigma / (double)w->block);
    w->lines = (2 * reach + 3) * w->block;
    if (w->lines > from->height)
        w->lines = from->height;
    if (make_buffers(w, err) == 0) {
        for (size_t x = 0; x < from->width; x++)
            w->blocks[x] = (uint32_t)block_of(w, x, &w->shares[x]);
        w->window = carn_window_open(reach, w->across, w->down, 2, err);
    }
    if (w->window == NULL) {
        carn_weight_close(w);
        return NULL;
    }
    return w;
}

void carn_weight_close(struct carn_weight *w)
{
    if (w == NULL)
        return;
    carn_window_close(w->window);
    free(w->rows);
    free(w->likes);
    free(w->one);
    free(w->lab);
    free(w->gains);
    free(w->inside);
    free(w->spans);
    free(w->knots);
    free(w->sums);
    free(w->pairs);
    free(w->means);
    free(w->around);
    free(w->blocks);
    free(w->shares);
    free(w->near);
    free(w->done);
    free(w);
}

/* ---- where persons are ---- */

/* Each person's gain at a place of the frame as it is stored. */
static void find_gains(struct carn_weight *w, double x, double y)
{
    double ux, uy;
    carn_upright_place(&w->upright, x, y, &ux, &uy);
    for (size_t i = 0; i < w->count; i++) {
        if (!w->persons[i].placed) {
            w->knots[i] = 1;
            continue;
        }
        double own = carn_person_distance(&w->persons[i].face, ux, uy), others = 0;
        for (size_t k = 0; w->only < w->count && k < w->count; k++)
            if (k != i && w->persons[k].placed)
                others += exp((own - carn_person_distance(&w->persons[k].face, ux, uy)) / SOFT);
        double near = 1 - (1 - ELSEWHERE) * carn_rise(own, 1, OFF);
        w->knots[i] = (float)(near / (1 + others));
    }
}

/* The gains of a row: computed at every fourth block, straight between. */
static void fill_gains(struct carn_weight *w, size_t y)
{
    size_t width = w->from->width, step = 4 * w->block;
    for (size_t x = 0; x < width; x += step) {
        size_t next = x + step < width ? x + step : width - 1;
        if (x == 0) {
            find_gains(w, 0.5, (double)y + 0.5);
            for (size_t i = 0; i < w->count; i++)
                w->gains[i * width] = w->knots[i];
        }
        find_gains(w, (double)next + 0.5, (double)y + 0.5);
        for (size_t i = 0; i < w->count; i++) {
            float *gains = w->gains + i * width, from = gains[x];
            float slope = next > x ? (w->knots[i] - from) / (float)(next - x) : 0;
            for (size_t k = x + 1; k <= next; k++)
                gains[k] = from + slope * (float)(k - x);
        }
    }
}

/* A row of how far each pixel is inside of the person's face, the same for the pixels of a block.
 */
static void fill_inside(struct carn_weight *w, size_t i, size_t y)
{
    const struct carn_outline *face = &w->persons[i].face;
    struct span *span = &w->spans[i];
    float *row = w->inside + i * w->from->width;
    double reach = carn_person_reach(face), step = (double)w->block;
    *span = (struct span){w->from->width, 0};
    for (size_t x = 0; x < w->from->width; x += w->block) {
        double sx = (double)x + step / 2, sy = (double)y + step / 2;
        double ux, uy;
        carn_upright_place(&w->upright, sx, sy, &ux, &uy);
        if (fabs(ux - face->x) > reach || fabs(uy - face->y) > reach)
            continue;
        float inside = (float)carn_person_inside(face, ux, uy);
        size_t end = x + w->block < w->from->width ? x + w->block : w->from->width;
        span->first = x < span->first ? x : span->first;
        span->last = end;
        for (size_t k = x; k < end; k++)
            row[k] = inside;
    }
}

/* ---- rows ---- */

/* Raises likeness inside of the person's face. */
static void like_inside(struct carn_weight *w, size_t i, uint16_t *likes)
{
    size_t width = w->from->width;
    if (w->pushed % w->block == 0)
        fill_inside(w, i, w->pushed);
    struct span span = w->spans[i];
    if (span.last <= span.first)
        return;
    const float *L = w->lab + span.first, *gains = w->gains + i * width;
    const float *inside = w->inside + i * width;
    memset(w->one, 0, width * sizeof *w->one);
    carn_likeness_row(&w->persons[i].inside, L, L + width, L + 2 * width, w->one + span.first,
                      span.last - span.first);
    for (size_t x = span.first; x < span.last; x++) {
        uint16_t like = (uint16_t)((float)w->one[x] * inside[x] * gains[x]);
        likes[x] = like > likes[x] ? like : likes[x];
    }
}

static void like_row(struct carn_weight *w, uint16_t *likes)
{
    size_t width = w->from->width;
    const float *L = w->lab, *a = L + width, *b = a + width;
    memset(likes, 0, width * sizeof *likes);
    if (w->placed && w->pushed % (2 * w->block) == 0)
        fill_gains(w, w->pushed);
    for (size_t i = 0; i < w->count; i++) {
        if (w->only < w->count && w->only != i)
            continue;
        if (!w->placed) {
            carn_likeness_row(&w->persons[i].like, L, a, b, likes, width);
            continue;
        }
        const float *gains = w->gains + i * width;
        memset(w->one, 0, width * sizeof *w->one);
        carn_likeness_row(&w->persons[i].like, L, a, b, w->one, width);
        for (size_t x = 0; x < width; x++) {
            uint16_t like = (uint16_t)((float)w->one[x] * gains[x]);
            likes[x] = like > likes[x] ? like : likes[x];
        }
        if (w->persons[i].placed && w->persons[i].has_inside)
            like_inside(w, i, likes);
    }
}

/* Adds a row to its blocks; with their last row, pushes their means into the window. */
static void sum_row(struct carn_weight *w, const uint16_t *likes)
{
    size_t width = w->from->width, y = w->pushed, block = w->block;
    uint32_t *sums = w->sums, *squares = sums + width;
    for (size_t x = 0; x < width; x++) {
        sums[x] += likes[x];
        squares[x] += (uint32_t)likes[x] * likes[x] / 65535;
    }
    /* NOLINTNEXTLINE(clang-analyzer-core.DivideZero): a block is 1 pixel or more */
    size_t tall = y % block + 1;
    if (tall < block && y + 1 < w->from->height)
        return;
    for (size_t i = 0; i < w->across; i++) {
        size_t wide = (i + 1) * block <= width ? block : width - i * block;
        uint32_t count = (uint32_t)(wide * tall), sum = 0, square = 0;
        for (size_t x = i * block; x < i * block + wide; x++) {
            sum += sums[x];
            square += squares[x];
        }
        /* NOLINTNEXTLINE(clang-analyzer-core.DivideZero): and so are its parts */
        w->pairs[2 * i] = (uint16_t)(sum / count);
        w->pairs[2 * i + 1] = (uint16_t)(square / count);
    }
    memset(sums, 0, width * 2 * sizeof *sums);
    carn_window_push(w->window, w->pairs);
}

void carn_weight_push(struct carn_weight *w, const uint16_t *row)
{
    size_t width = w->from->width, samples = width * carn_frame_channels(w->from);
    size_t line = w->pushed % w->lines;
    uint16_t *likes = w->likes + line * width;
    memcpy(w->rows + line * samples, row, samples * sizeof *row);
    carn_lab_lookup_row(w->quick, w->from, row, w->lab, w->lab + width, w->lab + 2 * width);
    like_row(w, likes);
    sum_row(w, likes);
    w->pushed++;
}

/* A row of weights. means: of the likeness around and of its square, 0..65535. */
CARN_CLONES static void weigh_row(const uint16_t *likes, const float *first, const float *second,
                                  uint16_t *weights, size_t count)
{
    for (size_t x = 0; x < count; x++) {
        float like = (float)likes[x] / 65535, mean = first[x] / 65535;
        float variance = second[x] / 65535 - mean * mean;
        variance = variance < 0 ? 0 : variance;
        float w = mean + variance / (variance + NOISE) * (like - mean);
        w = (w - NOTHING) / (WHOLE - NOTHING);
        w = w < 3 * like ? w : 3 * like;
        w = w > 0 ? w : 0;
        w = w < 1 ? w : 1;
        w = likes[x] < 65535 ? w : 1;
        weights[x] = (uint16_t)(int32_t)(w * 65535 + 0.5F);
    }
}

/* Takes means from the window until row `upper` of blocks and the one under it are there; then
 * those at share between them. false when rows have to be pushed first. */
static bool take_means(struct carn_weight *w, size_t upper, float share)
{
    size_t lower = upper + 1 < w->down ? upper + 1 : upper, samples = 2 * w->across;
    while (w->taken <= lower) {
        const uint16_t *row = carn_window_pull(w->window);
        if (row == NULL)
            return false;
        memcpy(w->means + w->taken++ % 2 * samples, row, samples * sizeof *row);
    }
    const uint16_t *u = w->means + upper % 2 * samples, *l = w->means + lower % 2 * samples;
    for (size_t i = 0; i < samples; i++)
        w->around[i] = (float)u[i] + share * ((float)l[i] - (float)u[i]);
    w->around[samples] = w->around[samples - 2];
    w->around[samples + 1] = w->around[samples - 1];
    return true;
}

/* The means around each pixel of a row, straight between the middles of blocks. */
static void fill_means(struct carn_weight *w)
{
    float *first = w->near, *second = first + w->from->width;
    for (size_t x = 0; x < w->from->width; x++) {
        const float *near = w->around + 2 * w->blocks[x];
        first[x] = near[0] + w->shares[x] * (near[2] - near[0]);
        second[x] = near[1] + w->shares[x] * (near[3] - near[1]);
    }
}

/* Writes a row with its weights. A weight that the frame has already is multiplied in. */
static inline void join(const uint16_t *row, size_t channels, size_t kept, const uint16_t *weights,
                        uint16_t *to, size_t count)
{
    for (size_t x = 0; x < count; x++, row += channels, to += kept + 1) {
        for (size_t c = 0; c < kept; c++)
            to[c] = row[c];
        uint32_t own = weights[x];
        to[kept] = (uint16_t)(channels > kept ? own * row[kept] / 65535 : own);
    }
}

const uint16_t *carn_weight_pull(struct carn_weight *w)
{
    const struct carn_frame *from = w->from;
    size_t width = from->width, y = w->pulled;
    size_t channels = carn_frame_channels(from), kept = channels - from->weight;
    float share;
    if (y == from->height || y >= w->pushed)
        return NULL;
    size_t upper = block_of(w, y, &share);
    if (!take_means(w, upper, share))
        return NULL;
    fill_means(w);
    size_t line = w->pulled++ % w->lines;
    const uint16_t *row = w->rows + line * width * channels;
    weigh_row(w->likes + line * width, w->near, w->near + width, w->one, width);
    if (channels == 3)
        join(row, 3, 3, w->one, w->done, width);
    else
        join(row, channels, kept, w->one, w->done, width);
    return w->done;
}
