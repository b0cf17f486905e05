/*
 * The Gaussian as a short cosine series over a window of 2 radius + 1 samples:
 *
 *     g(n) = sum over k of a_k cos(p_k n),  p_k = 2 pi k / (2 radius + 1),  |n| <= radius
 *
 * so that a blurred line is the sum of the waves W_k(x) = a_k sum over n of f(x + n) cos(p_k n),
 * and each wave follows from its own last two values and four samples at the ends of the window:
 *
 *     W_k(x+1) = 2 cos(p_k) W_k(x) - W_k(x-1) + a_k cos(p_k radius) edge(x+1)
 *     edge(x+1) = f(x+radius+1) - f(x+radius) - f(x-radius) + f(x-radius-1)
 *
 * k = 0 is a running sum. With this choice of p_k a whole window of equal samples cancels in every
 * wave but k = 0, which is what keeps flat areas exact. The edge term is a whole number, so that
 * only the recursion rounds, and its roundings add up without being amplified: within 60,000
 * samples of noise the waves are off by 2e-8 codes at sigma 60 and 1e-4 at sigma 10,000 (against
 * 113-bit arithmetic).
 *
 * Written from memory of the literature on sliding transforms (E. Elboher and M. Werman, "Cosine
 * integral images for fast spatial and range filtering", 2011; K. Sugimoto and S. Kamata,
 * "Efficient constant-time Gaussian filtering with sliding DCT/DST-5 and dual-domain error
 * minimization", 2015); the recursion, the coefficients and the radius were worked out here.
 *
 * Both directions run through the same code. It filters a sequence of lines, every sample of a line
 * (a lane) by itself: for the columns a line is a row of the picture; for the rows, BATCH rows are
 * turned so that a line is one pixel of each.
 */
#include "frame/blur.h"

#include "base/clones.h"
#include "base/maths.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    WAVES = 5,  /* k = 1..5, beside the running sum */
    LANES = 16, /* lanes of a tile */
    BATCH = 16, /* rows worked on at once, so that a tile's state stays in the first cache */
    GROUP = 32 / LANES, /* tiles that share a cache line of samples */
    AHEAD = 64,         /* samples from those worked on to those called for from memory */
    MAX_CHANNELS = 5
};

struct series {
    long radius;
    double mean;        /* a_0 */
    double turn[WAVES]; /* 2 cos(p_k) */
    double edge[WAVES]; /* a_k cos(p_k radius) */
};

/* The state of LANES lanes: the waves at x and x-1 (which is which changes with every line) and the
 * sum over the window. */
struct tile {
    double wave[2][WAVES][LANES];
    double sum[LANES];
};

/* Lines 0 to length - 1 in a ring of that many lines. */
struct ring {
    uint16_t *samples;
    size_t stride; /* samples from line to line, a multiple of LANES */
    long lines;
    long length;
};

struct carn_blur {
    struct series series;
    size_t width, height, channels;
    struct ring turned;   /* BATCH rows on their sides: line x, lane row * channels + channel */
    struct ring rows;     /* rows blurred along themselves */
    uint16_t *turned_out; /* one line of turned */
    struct tile *across;  /* state for turned, one a LANES lanes */
    struct tile *down;    /* state for rows */
    uint16_t *done;       /* BATCH finished rows, stride as rows */
    size_t pushed;        /* rows taken so far */
    long step;            /* lines of rows that have gone into down */
    size_t ready, given;  /* rows in done, and the next one to give */
};

/* The radius with the smallest error at a full step; found by trying them all. 5 is the least that
 * five waves allow, and there the series is exact. */
static long best_radius(double sigma)
{
    double radius = floor(4.4 * sigma - 0.1);
    return radius > WAVES ? (long)radius : WAVES;
}

/* Of the sampled Gaussian at p radians a sample, 1 at p = 0. Beyond 9 sigma it is below what a
 * double adds to 1. */
static double transform(double sigma, double p)
{
    long reach = (long)(9 * sigma) + 1;
    double total = 1, sum = 1;
    for (long n = 1; n <= reach; n++) {
        double away = (double)n / sigma;
        double weight = 2 * exp(-0.5 * away * away);
        total += weight;
        sum += weight * cos(p * (double)n);
    }
    return sum / total;
}

/* The coefficients come from the whole Gaussian, not from its part in the window: its tails then
 * fold into the window, which errs less at a step than cutting them off. */
static void make_series(struct series *series, double sigma)
{
    series->radius = best_radius(sigma);
    double radius = (double)series->radius, size = 2 * radius + 1;
    series->mean = 1 / size;
    for (int k = 0; k < WAVES; k++) {
        double p = 2 * CARN_PI * (k + 1) / size;
        series->turn[k] = 2 * cos(p);
        series->edge[k] = 2 / size * transform(sigma, p) * cos(p * radius);
    }
}

/* ---- one line into the filter ---- */

/* The lines whose samples enter and leave the window at one step. */
struct ends {
    const uint16_t *in, *in_before, *out, *out_before;
};

/* Line y, the outermost one beyond an edge. */
static const uint16_t *line_at(const struct ring *ring, long y)
{
    if (y >= ring->length)
        y = ring->length - 1;
    if (y < 0)
        y = 0;
    if (y >= ring->lines)
        y %= ring->lines;
    return ring->samples + (size_t)y * ring->stride;
}

static struct ends ends_at(const struct ring *ring, long y, long radius)
{
    long out = y - 2 * radius - 1;
    return (struct ends){line_at(ring, y), line_at(ring, y - 1), line_at(ring, out),
                         line_at(ring, out - 1)};
}

/* The series may leave the range by a few codes. Whole numbers before the limits, and not a branch,
 * for the sake of vector code. */
static inline uint16_t to_sample(double v)
{
    int code = (int)(v + 0.5);
    code = code < 0 ? 0 : code;
    code = code > 65535 ? 65535 : code;
    return (uint16_t)code;
}

/* Plain loops of a known length over arrays that do not overlap, the waves innermost and unrolled:
 * gcc and clang make vector code of it. */
static inline void slide_tile(const struct series *series, double (*restrict now)[LANES],
                              double (*restrict before)[LANES], double *restrict sum,
                              struct ends ends, uint16_t *restrict result)
{
    double edge[LANES], value[LANES];
    for (int i = 0; i < LANES; i++) {
        int in = ends.in[i], out = ends.out[i];
        edge[i] = in - ends.in_before[i] - (out - ends.out_before[i]);
        sum[i] += in - out;
    }
    for (int i = 0; i < LANES; i++) {
        double v = sum[i] * series->mean;
        for (int k = 0; k < WAVES; k++) {
            double next = series->turn[k] * now[k][i] - before[k][i] + series->edge[k] * edge[i];
            before[k][i] = next;
            v += next;
        }
        value[i] = v;
    }
    for (int i = 0; i < LANES; i++)
        result[i] = to_sample(value[i]);
}

/* Line y of count tiles; ends and result point at their first lane. */
static inline void slide(const struct series *series, struct tile *tiles, size_t count,
                         struct ends ends, long y, uint16_t *result)
{
    int turn = (int)(y & 1);
    for (size_t t = 0; t < count; t++) {
        slide_tile(series, tiles[t].wave[turn], tiles[t].wave[1 - turn], tiles[t].sum, ends,
                   result);
        ends.in += LANES;
        ends.in_before += LANES;
        ends.out += LANES;
        ends.out_before += LANES;
        result += LANES;
    }
}

/* The window lies before line 0, where every line is as line 0: no wave, and a sum that is known.
 */
static void start(const struct series *series, struct tile *tiles, const struct ring *ring)
{
    memset(tiles, 0, ring->stride / LANES * sizeof *tiles);
    for (size_t i = 0; i < ring->stride; i++)
        tiles[i / LANES].sum[i % LANES] =
            (double)ring->samples[i] * (2.0 * (double)series->radius + 1);
}

/* ---- along the rows ---- */

static void turn_row(struct carn_blur *blur, const uint16_t *row, size_t place)
{
    uint16_t *to = blur->turned.samples + place * blur->channels;
    for (size_t x = 0; x < blur->width; x++) {
        for (size_t c = 0; c < blur->channels; c++)
            to[c] = *row++;
        to += blur->turned.stride;
    }
}

/* One line of the turned rows back into pixel x of each row. */
static void turn_back(struct carn_blur *blur, uint16_t *const *rows, size_t count, size_t x)
{
    const uint16_t *from = blur->turned_out;
    for (size_t r = 0; r < count; r++)
        for (size_t c = 0; c < blur->channels; c++)
            rows[r][x * blur->channels + c] = *from++;
}

/* Blurs the count turned rows, the first of them row y of the picture, into blur->rows. */
CARN_CLONES static void blur_along(struct carn_blur *blur, size_t y, size_t count)
{
    const struct ring *turned = &blur->turned;
    long radius = blur->series.radius;
    uint16_t *rows[BATCH] = {NULL};
    for (size_t r = 0; r < count; r++)
        rows[r] = blur->rows.samples + (y + r) % (size_t)blur->rows.lines * blur->rows.stride;
    start(&blur->series, blur->across, turned);
    for (long x = 0; x < turned->length + radius; x++) {
        slide(&blur->series, blur->across, turned->stride / LANES, ends_at(turned, x, radius), x,
              blur->turned_out);
        if (x >= radius)
            turn_back(blur, rows, count, (size_t)(x - radius));
    }
}

/* ---- down the columns ---- */

/* The next count lines, at most BATCH, through blur->down; leaves finished rows in done. */
CARN_CLONES static void blur_down(struct carn_blur *blur, size_t count)
{
    const struct ring *rows = &blur->rows;
    struct ends ends[BATCH] = {{NULL, NULL, NULL, NULL}};
    if (blur->step == 0)
        start(&blur->series, blur->down, rows);
    for (size_t i = 0; i < count; i++)
        ends[i] = ends_at(rows, blur->step + (long)i, blur->series.radius);
    for (size_t lane = 0; lane < rows->stride; lane += (size_t)LANES * GROUP) {
        for (size_t i = 0; i < count; i++) {
            struct ends at = {ends[i].in + lane, ends[i].in_before + lane, ends[i].out + lane,
                              ends[i].out_before + lane};
            if (lane + AHEAD < rows->stride) { /* lines apart, no processor guesses what is next */
                __builtin_prefetch(at.in + AHEAD);
                __builtin_prefetch(at.out + AHEAD);
            }
            slide(&blur->series, blur->down + lane / LANES, GROUP, at, blur->step + (long)i,
                  blur->done + i * rows->stride + lane);
        }
    }
    /* What came out while the window's centre was still above the picture is no row of it. */
    long above = blur->series.radius - blur->step;
    blur->given = above <= 0 ? 0 : above < (long)count ? (size_t)above : count;
    blur->ready = count;
    blur->step += (long)count;
}

/* ---- the interface ---- */

void carn_blur_push(struct carn_blur *blur, const uint16_t *row)
{
    size_t place = blur->pushed % BATCH;
    turn_row(blur, row, place);
    blur->pushed++;
    if (place + 1 < BATCH && blur->pushed < blur->height)
        return;
    blur_along(blur, blur->pushed - place - 1, place + 1);
    blur_down(blur, place + 1);
}

const uint16_t *carn_blur_pull(struct carn_blur *blur)
{
    long end = (long)blur->height + blur->series.radius;
    while (blur->given == blur->ready && blur->pushed == blur->height && blur->step < end) {
        long left = end - blur->step;
        blur_down(blur, left < BATCH ? (size_t)left : BATCH);
    }
    if (blur->given == blur->ready)
        return NULL;
    return blur->done + blur->given++ * blur->rows.stride;
}

static int make_ring(struct ring *ring, size_t stride, long lines, long length,
                     struct carn_error *err)
{
    ring->stride = stride;
    ring->lines = lines < length ? lines : length;
    ring->length = length;
    ring->samples = carn_alloc((size_t)ring->lines, ring->stride * sizeof *ring->samples, err);
    return ring->samples == NULL ? -1 : 0;
}

static int make_buffers(struct carn_blur *blur, struct carn_error *err)
{
    const size_t group = (size_t)LANES * GROUP;
    long width = (long)blur->width, height = (long)blur->height;
    size_t padded = (blur->width * blur->channels + group - 1) / group * group;
    if (make_ring(&blur->turned, BATCH * blur->channels, width, width, err) != 0 ||
        make_ring(&blur->rows, padded, 2 * blur->series.radius + 2 + BATCH, height, err) != 0)
        return -1;
    size_t across = blur->turned.stride, down = blur->rows.stride;
    blur->turned_out = carn_alloc(across, sizeof *blur->turned_out, err);
    blur->across = carn_alloc(across / LANES, sizeof *blur->across, err);
    blur->down = carn_alloc(down / LANES, sizeof *blur->down, err);
    blur->done = carn_alloc(BATCH, down * sizeof *blur->done, err);
    return blur->turned_out == NULL || blur->across == NULL || blur->down == NULL ||
                   blur->done == NULL
               ? -1
               : 0;
}

struct carn_blur *carn_blur_open(double sigma, size_t width, size_t height, size_t channels,
                                 struct carn_error *err)
{
    const size_t limit = (size_t)1 << 40; /* far beyond memory; keeps sums of lengths in range */
    if (!(sigma > 0 && sigma <= CARN_BLUR_LIMIT)) {
        carn_fail(err, CARN_USAGE, "sigma is %g pixels, not above 0 and at most %g", sigma,
                  CARN_BLUR_LIMIT);
        return NULL;
    }
    if (width == 0 || height == 0 || channels == 0 || width > limit || height > limit ||
        channels > MAX_CHANNELS) {
        carn_fail(err, CARN_USAGE, "cannot blur %zu x %zu pixels of %zu channels", width, height,
                  channels);
        return NULL;
    }
    struct carn_blur *blur = carn_alloc(1, sizeof *blur, err);
    if (blur == NULL)
        return NULL;
    blur->width = width;
    blur->height = height;
    blur->channels = channels;
    make_series(&blur->series, sigma);
    if (make_buffers(blur, err) != 0) {
        carn_blur_close(blur);
        return NULL;
    }
    return blur;
}

void carn_blur_close(struct carn_blur *blur)
{
    if (blur == NULL)
        return;
    free(blur->turned.samples);
    free(blur->rows.samples);
    free(blur->turned_out);
    free(blur->across);
    free(blur->down);
    free(blur->done);
    free(blur);
}
