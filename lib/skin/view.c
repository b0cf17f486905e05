#include "skin/view.h"

#include "base/clones.h"

#include <math.h>
#include <stdlib.h>

enum { COLOURS = 3, LEVELS = 8, CODES = 16384 };

/* Gains of the colours for looking: at most this much apart from the mean's, as a factor, and the
 * share of a cast that is taken out: a picture that is one face has a mean of skin's colour, and
 * skin that is grey is seen less well. */
static const double MOST_GAIN = 1.6, NEUTRAL = 0.7;

/* The mean luminance (D50, white 1) that exposure is brought to, and at most by this factor. */
static const double MIDDLE = 0.2, MOST_EXPOSURE = 3;

/* One of the sizes of the picture, each half the one before. */
struct level {
    size_t width, height;
    float *pixels;
};

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

static void fill_first(struct level *level, const struct carn_thumbnail *planes, const float *codes)
{
    double gains[COLOURS];
    choose_gains(planes, gains);
    for (size_t i = 0; i < level->width * level->height; i++) {
        double rgb[COLOURS];
        linear(planes, i, rgb);
        for (int c = 0; c < COLOURS; c++)
            level->pixels[i * COLOURS + (size_t)c] =
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
                half->pixels[(y * half->width + x) * COLOURS + c] =
                    0.25F * (whole->pixels[(2 * y * whole->width + 2 * x) * COLOURS + c] +
                             whole->pixels[(2 * y * whole->width + x1) * COLOURS + c] +
                             whole->pixels[(y1 * whole->width + 2 * x) * COLOURS + c] +
                             whole->pixels[(y1 * whole->width + x1) * COLOURS + c]);
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
        *level =
            (struct level){width, height, carn_alloc(width * height, COLOURS * sizeof(float), err)};
        bad = level->pixels == NULL;
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

/* Adds the picture at x, y, by the four pixels around; what lies outside is black. */
static inline void add_at(const struct level *level, double x, double y, double sum[COLOURS])
{
    double left = floor(x), top = floor(y);
    for (int i = 0; i < 4; i++) {
        double column = i % 2 == 0 ? left : left + 1, row = i < 2 ? top : top + 1;
        if (column < 0 || row < 0 || column >= (double)level->width || row >= (double)level->height)
            continue;
        double weight = (1 - fabs(x - column)) * (1 - fabs(y - row));
        const float *pixel =
            level->pixels + ((size_t)row * level->width + (size_t)column) * COLOURS;
        for (int c = 0; c < COLOURS; c++)
            sum[c] += weight * (double)pixel[c];
    }
}

void carn_square_place(const struct carn_square *square, double u, double v, double place[2])
{
    double turn = square->tilt * acos(-1) / 180;
    double across = square->side * (u - 0.5), down = square->side * (v - 0.5);
    place[0] = square->x + across * cos(turn) - down * sin(turn);
    place[1] = square->y + across * sin(turn) + down * cos(turn);
}

CARN_CLONES void carn_view_square(const struct carn_view *view, const struct carn_square *square,
                                  size_t side, float *pixels)
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
    for (size_t y = 0; y < side; y++)
        for (size_t x = 0; x < side; x++) {
            double sum[COLOURS] = {0};
            for (int i = 0; i < 4; i++) {
                double u = ((double)x + (i % 2 == 0 ? 0.25 : 0.75)) / (double)side;
                double v = ((double)y + (i < 2 ? 0.25 : 0.75)) / (double)side;
                double px = origin[0] + u * (right[0] - origin[0]) + v * (under[0] - origin[0]);
                double py = origin[1] + u * (right[1] - origin[1]) + v * (under[1] - origin[1]);
                add_at(level, px / shrunk - 0.5, py / shrunk - 0.5, sum);
            }
            for (int c = 0; c < COLOURS; c++)
                *pixels++ = (float)(sum[c] / 2 - 1); /* 0..4 to -1..1 */
        }
}
