#include "skin/network.h"

#include "base/clones.h"
#include "base/io.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Channels are padded with zeros to a multiple of LANES, and pixels are taken GROUP at a time:
 * loops over them become vector code without a remainder. */
enum { LANES = 8, GROUP = 8 };

/* LANES numbers as one value. Without it GCC and Clang spend more on shuffles than on sums. It is
 * aligned as a float is. */
typedef float lanes
    __attribute__((vector_size(LANES * sizeof(float)), aligned(sizeof(float)), may_alias));

static inline const lanes *lanes_at(const float *values)
{
    return (const lanes *)(const void *)values;
}

enum { BLOCKS = 16, HEADS = 4, STEM = 5, TAPS = 9, COLOURS = 3, MOST_CHANNELS = 96 };
enum { STEM_ROWS = STEM * STEM * COLOURS, WEIGHTS = 2 * (1 + 2 * BLOCKS + HEADS) };

/* Channels after each block, and by how much it makes the picture smaller. */
static const struct {
    size_t channels, stride;
} blocks[BLOCKS] = {{24, 1}, {28, 1}, {32, 2}, {36, 1}, {42, 1}, {48, 2}, {56, 1}, {64, 1},
                    {72, 1}, {80, 1}, {88, 1}, {96, 2}, {96, 1}, {96, 1}, {96, 1}, {96, 1}};
enum { FIRST_CHANNELS = 24, FIRST_SIDE = 64, FINE_BLOCK = 10 }; /* heads look after this block */

/* Anchors of the finer grid, 16 x 16 cells with 2, and of the coarser, 8 x 8 with 6. */
enum { FINE_SIDE = 16, FINE = 2, COARSE_SIDE = 8, COARSE = 6 };

/* rows inputs by columns outputs, the columns padded. */
struct matrix {
    size_t rows, columns, padded;
    float *at;
};

/* A layer and its bias. */
struct layer {
    struct matrix weight, bias;
};

/* Pixels by channels with a border of one pixel of zeros. */
struct plane {
    size_t side, padded;
    float *at;
};

struct carn_network {
    struct layer stem, depth[BLOCKS], point[BLOCKS];
    struct layer score[2], box[2]; /* of the finer and the coarser grid */
    float *weights, *work;
    struct plane now, next;
    float *row; /* a row of pixels before the pointwise step */
};

static size_t padded(size_t channels)
{
    return (channels + LANES - 1) / LANES * LANES;
}

/* ---- the file ---- */

static float from_half(uint16_t half)
{
    int exponent = half >> 10 & 31, part = half & 1023;
    double v = exponent == 0 ? ldexp(part, -24) : ldexp(part + 1024, exponent - 25);
    return (float)(half >> 15 ? -v : v);
}

/* A matrix that the file has to hold, and its name there. */
struct wanted {
    char name[24];
    struct matrix *matrix;
    size_t rows, columns;
};

static void want(struct wanted **list, const char *name, int number, struct layer *layer,
                 size_t rows, size_t columns)
{
    struct matrix *matrices[] = {&layer->weight, &layer->bias};
    static const char *const kinds[] = {"weight", "bias"};
    for (int i = 0; i < 2; i++, (*list)++) {
        snprintf((*list)->name, sizeof(*list)->name, "%s%d-%s", name, number, kinds[i]);
        (*list)->matrix = matrices[i];
        (*list)->rows = i == 0 ? rows : 1;
        (*list)->columns = columns;
    }
}

static void want_all(struct carn_network *n, struct wanted list[WEIGHTS])
{
    static const size_t anchors[] = {FINE, COARSE};
    want(&list, "stem", 0, &n->stem, STEM_ROWS, FIRST_CHANNELS);
    for (int i = 0; i < BLOCKS; i++) {
        size_t before = i == 0 ? FIRST_CHANNELS : blocks[i - 1].channels;
        want(&list, "depth", i, &n->depth[i], TAPS, before);
        want(&list, "point", i, &n->point[i], before, blocks[i].channels);
    }
    for (int i = 0; i < 2; i++) {
        size_t before = blocks[i == 0 ? FINE_BLOCK : BLOCKS - 1].channels;
        want(&list, "score", i, &n->score[i], before, anchors[i]);
        want(&list, "box", i, &n->box[i], before, anchors[i] * CARN_REGRESSORS);
    }
}

/* The header's line of this matrix. */
static size_t header_line(const struct wanted *w, char *line, size_t size)
{
    int n = snprintf(line, size, "%s %zu %zu\n", w->name, w->rows, w->columns);
    return (size_t)n;
}

static const char FIRST_LINE[] = "carnation network 1\n", LAST_LINE[] = "data\n";

/* Where the numbers begin, or NULL when the header is not the one of this network. */
static const uint8_t *skip_header(const uint8_t *file, size_t size,
                                  const struct wanted list[WEIGHTS])
{
    const uint8_t *at = file;
    for (int i = -1; i <= WEIGHTS; i++) {
        char line[64];
        const char *expected = i < 0 ? FIRST_LINE : LAST_LINE;
        size_t length = strlen(expected);
        if (i >= 0 && i < WEIGHTS) {
            length = header_line(&list[i], line, sizeof line);
            expected = line;
        }
        if ((size_t)(file + size - at) < length || memcmp(at, expected, length) != 0)
            return NULL;
        at += length;
    }
    return at;
}

static int take_weights(struct carn_network *n, const uint8_t *file, size_t size, const char *path,
                        struct carn_error *err)
{
    struct wanted list[WEIGHTS];
    size_t numbers = 0, room = 0;
    want_all(n, list);
    for (int i = 0; i < WEIGHTS; i++) {
        numbers += list[i].rows * list[i].columns;
        room += list[i].rows * padded(list[i].columns);
    }
    const uint8_t *at = skip_header(file, size, list);
    if (at == NULL || (size_t)(file + size - at) != 2 * numbers)
        return carn_fail_at(err, CARN_INPUT, path, "not the face detector's weights");
    float *to = n->weights = carn_alloc(room, sizeof *n->weights, err);
    if (to == NULL)
        return -1;
    for (int i = 0; i < WEIGHTS; i++) {
        struct matrix *m = list[i].matrix;
        *m = (struct matrix){list[i].rows, list[i].columns, padded(list[i].columns), to};
        for (size_t row = 0; row < m->rows; row++, to += m->padded)
            for (size_t column = 0; column < m->columns; column++, at += 2)
                to[column] = from_half((uint16_t)(at[0] | at[1] << 8));
    }
    return 0;
}

static int make_room(struct carn_network *n, struct carn_error *err)
{
    size_t plane = (FIRST_SIDE + 2) * (FIRST_SIDE + 2) * padded(blocks[1].channels);
    size_t row = FIRST_SIDE * padded(STEM_ROWS);
    n->work = carn_alloc(2 * plane + row, sizeof *n->work, err);
    if (n->work == NULL)
        return -1;
    n->now.at = n->work;
    n->next.at = n->work + plane;
    n->row = n->work + 2 * plane;
    return 0;
}

struct carn_network *carn_network_open(const char *path, struct carn_error *err)
{
    size_t size = 0;
    struct carn_network *n = carn_alloc(1, sizeof *n, err);
    uint8_t *file = n != NULL ? carn_read_file(path, 1 << 20, &size, err) : NULL;
    int rc = file != NULL ? take_weights(n, file, size, path, err) : -1;
    free(file);
    if (rc == 0 && make_room(n, err) == 0)
        return n;
    carn_network_close(n);
    return NULL;
}

void carn_network_close(struct carn_network *network)
{
    if (network == NULL)
        return;
    free(network->weights);
    free(network->work);
    free(network);
}

/* ---- the arithmetic ---- */

static float *pixel(const struct plane *plane, size_t x, size_t y)
{
    return plane->at + ((y + 1) * (plane->side + 2) + x + 1) * plane->padded;
}

/* Gives a plane another size, with a border of zeros. What lies within is written over later. */
static void resize(struct plane *plane, size_t side, size_t channels)
{
    size_t bytes = padded(channels) * sizeof *plane->at, line = (side + 2) * bytes;
    plane->side = side;
    plane->padded = padded(channels);
    memset(plane->at, 0, line);
    memset(plane->at + (side + 1) * (side + 2) * plane->padded, 0, line);
    for (size_t y = 0; y < side; y++) {
        memset(pixel(plane, 0, y) - plane->padded, 0, bytes);
        memset(pixel(plane, side, y), 0, bytes);
    }
}

/* GROUP pixels of stride inputs each, LANES outputs each to pixels of out_stride. */
CARN_CLONES static void multiply_tile(const float *in, size_t stride, size_t inputs,
                                      const float *weight, size_t columns, const float *bias,
                                      float *out, size_t out_stride)
{
    lanes sum[GROUP];
    for (size_t p = 0; p < GROUP; p++)
        sum[p] = *lanes_at(bias);
    for (size_t i = 0; i < inputs; i++) {
        lanes w = *lanes_at(weight + i * columns);
        for (size_t p = 0; p < GROUP; p++)
            sum[p] += in[p * stride + i] * w;
    }
    for (size_t p = 0; p < GROUP; p++)
        memcpy(out + p * out_stride, &sum[p], sizeof sum[p]);
}

/* A layer over a row of pixels, whose count is a multiple of GROUP. */
static void multiply(const struct layer *layer, const float *in, size_t stride, size_t pixels,
                     float *out, size_t out_stride)
{
    const struct matrix *w = &layer->weight;
    for (size_t p = 0; p < pixels; p += GROUP)
        for (size_t c = 0; c < w->padded; c += LANES)
            multiply_tile(in + p * stride, stride, w->rows, w->at + c, w->padded,
                          layer->bias.at + c, out + p * out_stride + c, out_stride);
}

/* Negative values become 0 (ReLU). */
static void rectify(float *values, size_t count)
{
    for (size_t i = 0; i < count; i++)
        values[i] = values[i] > 0 ? values[i] : 0;
}

/* 5 x 5 with stride 2. The picture is padded with zeros, one pixel before it and two after
 * (TensorFlow's padding SAME). */
static void first_layer(struct carn_network *n, const float *picture)
{
    resize(&n->now, FIRST_SIDE, FIRST_CHANNELS);
    for (size_t y = 0; y < FIRST_SIDE; y++) {
        memset(n->row, 0, FIRST_SIDE * STEM_ROWS * sizeof *n->row);
        for (size_t x = 0; x < FIRST_SIDE; x++) {
            /* The window's columns inside the picture; their samples are contiguous in both. */
            size_t first = x == 0 ? 1 : 0, most = CARN_LOOK_SIDE + 1 - 2 * x;
            size_t last = most < STEM ? most : STEM;
            for (size_t ky = 0; ky < STEM; ky++) {
                size_t row = 2 * y + ky; /* of the padded picture */
                if (row < 1 || row > CARN_LOOK_SIDE)
                    continue;
                memcpy(n->row + x * STEM_ROWS + (ky * STEM + first) * COLOURS,
                       picture + ((row - 1) * CARN_LOOK_SIDE + 2 * x + first - 1) * COLOURS,
                       (last - first) * COLOURS * sizeof *picture);
            }
        }
        float *out = pixel(&n->now, 0, y);
        multiply(&n->stem, n->row, STEM_ROWS, FIRST_SIDE, out, n->now.padded);
        rectify(out, FIRST_SIDE * n->now.padded);
    }
}

/* A row of the depthwise 3 x 3. With stride 2 the padding is after the picture only. */
CARN_CLONES static void depth_row(const struct layer *layer, const struct plane *in, size_t y,
                                  size_t stride, float *restrict out)
{
    size_t side = in->side / stride, channels = in->padded, line = (in->side + 2) * channels;
    const float *restrict weight = layer->weight.at, *restrict bias = layer->bias.at;
    for (size_t x = 0; x < side; x++, out += channels) {
        const float *restrict from = pixel(in, x * stride, y * stride);
        if (stride == 1)
            from -= line + channels;
        for (size_t c = 0; c < channels; c += LANES) {
            lanes sum = *lanes_at(bias + c);
            for (size_t tap = 0; tap < TAPS; tap++)
                sum += *lanes_at(from + tap / 3 * line + tap % 3 * channels + c) *
                       *lanes_at(weight + tap * channels + c);
            memcpy(out + c, &sum, sizeof sum);
        }
    }
}

/* The shortcut: adds the block's input; with stride 2, the largest of each two by two. */
static void add_shortcut(const struct plane *in, size_t y, size_t stride, float *restrict out,
                         size_t out_channels)
{
    size_t side = in->side / stride, channels = in->padded, line = (in->side + 2) * channels;
    for (size_t x = 0; x < side; x++, out += out_channels) {
        const float *restrict from = pixel(in, x * stride, y * stride);
        if (stride == 1) {
            for (size_t c = 0; c < channels; c++)
                out[c] += from[c];
            continue;
        }
        for (size_t c = 0; c < channels; c++) {
            float above = from[c] > from[channels + c] ? from[c] : from[channels + c];
            const float *under = from + line;
            float below = under[c] > under[channels + c] ? under[c] : under[channels + c];
            out[c] += above > below ? above : below;
        }
    }
}

static void run_block(struct carn_network *n, int block)
{
    size_t stride = blocks[block].stride, side = n->now.side / stride;
    resize(&n->next, side, blocks[block].channels);
    for (size_t y = 0; y < side; y++) {
        float *out = pixel(&n->next, 0, y);
        depth_row(&n->depth[block], &n->now, y, stride, n->row);
        multiply(&n->point[block], n->row, n->now.padded, side, out, n->next.padded);
        add_shortcut(&n->now, y, stride, out, n->next.padded);
        rectify(out, side * n->next.padded);
    }
    struct plane old = n->now;
    n->now = n->next;
    n->next = old;
}

/* Writes a head's outputs to `to`, cell by cell. */
static void run_head(struct carn_network *n, const struct layer *layer, float *to)
{
    size_t side = n->now.side, values = layer->weight.columns, stride = layer->weight.padded;
    for (size_t y = 0; y < side; y++) {
        multiply(layer, pixel(&n->now, 0, y), n->now.padded, side, n->row, stride);
        for (size_t x = 0; x < side; x++, to += values)
            memcpy(to, n->row + x * stride, values * sizeof *to);
    }
}

void carn_network_look(struct carn_network *network, const float *picture, struct carn_look *look)
{
    first_layer(network, picture);
    for (int i = 0; i < BLOCKS; i++) {
        run_block(network, i);
        if (i == FINE_BLOCK || i == BLOCKS - 1) {
            int coarse = i != FINE_BLOCK;
            size_t from = coarse ? FINE_SIDE * FINE_SIDE * FINE : 0;
            run_head(network, &network->score[coarse], &look->logit[from]);
            run_head(network, &network->box[coarse], look->regressor[from]);
        }
    }
}
