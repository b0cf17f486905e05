#include "skin/view.h"

#include "base/maths.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A pixel takes four floats, three colours and a spare, so that it is one vector. */
enum { COLOURS = 3, ROOM = 4, LEVELS = 8, CODES = 16384 };

/* Gains that take a cast out before detection: the largest factor between a channel and the mean,
 * and the share of the cast that is taken out. Not all of it: in a picture of one face the mean is
 * skin's colour, and grey skin is detected less well. */
static const double MOST_GAIN = 1.6, NEUTRAL = 0.7;

/* The mean luminance (D50, white 1) that exposure is brought to, and the largest factor. */
static const double MIDDLE = 0.2, MOST_EXPOSURE = 3;

/* One of the sizes of the picture, each half the one before. It is padded with black pixels, one
 * before and two after, so that reading just outside needs no test. */
struct level {
    size_t width, height, line; /* line: pixels from a row to the next */
    float *pixels;              /* of the first black one */
};
enum { BEFORE = 1, BESIDE = 3 };

struct carn_view {
    struct level level[LEVELS];
    int levels;
};

/* XYZ (D50) to linear sRGB: IEC 61966-2-1's primaries and white, brought to D50 by the Bradford
 * matrix; computed from these. */
static const double from_xyz[COLOURS][COLOURS] = {{3.134186, -1.617209, -0.490694},
                                                  {-0.978749, 1.916130, 0.033433},
                                                  {0.071964, -0.228994, 1.405754}};

static double cube(double f)
{
    return f > 6.0 / 29 ? f * f * f : (f - 4.0 / 29) * 108 / 841;
}

/* Linear, below 0 and above 1 too. */
static void linear(const struct carn_thumbnail *planes, size_t at, double rgb[COLOURS])
{
    double fy = ((double)planes->L[at] + 16) / 116;
    double xyz[COLOURS] = {carn_d50.X * cube(fy + (double)planes->a[at] / 500),
                           carn_d50.Y * cube(fy),
                           carn_d50.Z * cube(fy - (double)planes->b[at] / 200)};
    for (int c = 0; c < COLOURS; c++)
        rgb[c] = from_xyz[c][0] * xyz[0] + from_xyz[c][1] * xyz[1] + from_xyz[c][2] * xyz[2];
}

static double within(double v, double low, double high)
{
    return v < low ? low : v > high ? high : v;
}

static void choose_gains(const struct carn_thumbnail *planes, double gains[COLOURS])
{
    double mean[COLOURS] = {0}, count = 0;
    for (size_t i = 0; i < planes->width * planes->height; i++) {
        double rgb[COLOURS];
        if (planes->unfit[i])
            continue;
        linear(planes, i, rgb);
        for (int c = 0; c < COLOURS; c++)
            mean[c] += rgb[c];
        count++;
    }
    double luminance = 0.2225 * mean[0] + 0.7169 * mean[1] + 0.0606 * mean[2]; /* Y of D50 */
    for (int c = 0; c < COLOURS; c++) {
        gains[c] = 1;
        if (mean[c] > 0 && luminance > 0)
            gains[c] = within(pow(luminance / mean[c], NEUTRAL), 1 / MOST_GAIN, MOST_GAIN) *
                       within(MIDDLE * count / luminance, 1 / MOST_EXPOSURE, MOST_EXPOSURE);
    }
}

static float *pixel(const struct level *level, size_t x, size_t y)
{
    return level->pixels + ((y + BEFORE) * level->line + x + BEFORE) * ROOM;
}

static int make_level(struct level *level, size_t width, size_t height, struct carn_error *err)
{
    *level = (struct level){.width = width, .height = height, .line = width + BESIDE};
    level->pixels = carn_alloc(level->line * (height + BESIDE), ROOM * sizeof(float), err);
    return level->pixels != NULL ? 0 : -1;
}

static void fill_first(struct level *level, const struct carn_thumbnail *planes, const float *codes)
{
    double gains[COLOURS];
    choose_gains(planes, gains);
    for (size_t y = 0; y < level->height; y++)
        for (size_t x = 0; x < level->width; x++) {
            double rgb[COLOURS];
            linear(planes, y * level->width + x, rgb);
            for (size_t c = 0; c < COLOURS; c++)
                pixel(level, x, y)[c] =
                    codes[(size_t)within(gains[c] * rgb[c] * (CODES - 1) + 0.5, 0, CODES - 1)];
        }
}

/* The mean of two by two; at an odd edge the last one again. */
static void fill_half(struct level *half, const struct level *whole)
{
    for (size_t y = 0; y < half->height; y++) {
        size_t y1 = 2 * y + 1 < whole->height ? 2 * y + 1 : 2 * y;
        for (size_t x = 0; x < half->width; x++) {
            size_t x1 = 2 * x + 1 < whole->width ? 2 * x + 1 : 2 * x;
            for (size_t c = 0; c < COLOURS; c++)
                pixel(half, x, y)[c] =
                    0.25F * (pixel(whole, 2 * x, 2 * y)[c] + pixel(whole, x1, 2 * y)[c] +
                             pixel(whole, 2 * x, y1)[c] + pixel(whole, x1, y1)[c]);
        }
    }
}

struct carn_view *carn_view_open(const struct carn_thumbnail *planes, struct carn_error *err)
{
    struct carn_view *view = carn_alloc(1, sizeof *view, err);
    float *codes = view != NULL ? carn_alloc(CODES, sizeof *codes, err) : NULL;
    bool bad = codes == NULL;
    size_t width = planes->width, height = planes->height;
    for (int i = 0; !bad && i < CODES; i++) { /* IEC 61966-2-1 */
        double v = (double)i / (CODES - 1);
        codes[i] = (float)(v <= 0.0031308 ? 12.92 * v : 1.055 * pow(v, 1 / 2.4) - 0.055);
    }
    while (!bad && view->levels < LEVELS) {
        struct level *level = &view->level[view->levels];
        bad = make_level(level, width, height, err) != 0;
        if (!bad && view->levels++ == 0)
            fill_first(level, planes, codes);
        else if (!bad)
            fill_half(level, level - 1);
        width = (width + 1) / 2;
        height = (height + 1) / 2;
    }
    free(codes);
    if (!bad)
        return view;
    carn_view_close(view);
    return NULL;
}

void carn_view_close(struct carn_view *view)
{
    for (int i = 0; view != NULL && i < LEVELS; i++)
        free(view->level[i].pixels);
    free(view);
}

size_t carn_view_width(const struct carn_view *view)
{
    return view->level[0].width;
}

size_t carn_view_height(const struct carn_view *view)
{
    return view->level[0].height;
}

typedef float four __attribute__((vector_size(ROOM * sizeof(float))));

/* Adds the picture at x, y, by the four pixels around; what lies outside is black. */
static inline void add_at(const struct level *level, double x, double y, four *sum)
{
    x = within(x, -BEFORE, (double)level->width) + BEFORE;
    y = within(y, -BEFORE, (double)level->height) + BEFORE;
    size_t left = (size_t)x, top = (size_t)y;
    float right = (float)(x - (double)left), low = (float)(y - (double)top);
    const float *at = level->pixels + (top * level->line + left) * ROOM;
    const float *under = at + level->line * ROOM;
    four near[4];
    memcpy(&near[0], at, sizeof *near);
    memcpy(&near[1], at + ROOM, sizeof *near);
    memcpy(&near[2], under, sizeof *near);
    memcpy(&near[3], under + ROOM, sizeof *near);
    four above = near[0] + right * (near[1] - near[0]);
    four below = near[2] + right * (near[3] - near[2]);
    *sum += above + low * (below - above);
}

void carn_square_place(const struct carn_square *square, double u, double v, double place[2])
{
    double turn = square->tilt * CARN_PI / 180;
    double across = square->side * (u - 0.5), down = square->side * (v - 0.5);
    place[0] = square->x + across * cos(turn) - down * sin(turn);
    place[1] = square->y + across * sin(turn) + down * cos(turn);
}

void carn_view_square(const struct carn_view *view, const struct carn_square *square, size_t side,
                      float *pixels)
{
    /* A pixel of the square is one to two of the level across, and the mean of four places. */
    double step = square->side / (double)side, shrunk = 1;
    int chosen = 0;
    while (step / shrunk > 2 && chosen + 1 < view->levels) {
        shrunk *= 2;
        chosen++;
    }
    const struct level *level = &view->level[chosen];
    double origin[2], right[2], under[2];
    carn_square_place(square, 0, 0, origin);
    carn_square_place(square, 1, 0, right);
    carn_square_place(square, 0, 1, under);
    for (int i = 0; i < 2; i++) { /* steps from the origin, in pixels of the level */
        right[i] = (right[i] - origin[i]) / shrunk;
        under[i] = (under[i] - origin[i]) / shrunk;
        origin[i] = origin[i] / shrunk - 0.5;
    }
    const double parts[] = {0.25 / (double)side, 0.75 / (double)side};
    for (size_t y = 0; y < side; y++)
        for (size_t x = 0; x < side; x++) {
            four sum = {0};
            for (int i = 0; i < 4; i++) {
                double u = (double)x / (double)side + parts[i % 2];
                double v = (double)y / (double)side + parts[i / 2];
                double px = origin[0] + u * right[0] + v * under[0];
                double py = origin[1] + u * right[1] + v * under[1];
                add_at(level, px, py, &sum);
            }
            for (int c = 0; c < COLOURS; c++)
                *pixels++ = sum[c] / 2 - 1; /* 0..4 to -1..1 */
        }
}
