/* The filter bank of surface on images of known band power: sinusoids, white noise, Parseval. */
#include "skin/surface.h"
#include "tap.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

static const double PI = 3.14159265358979323846;

/* The share of a wave's power that may leak to other bands, where the patch's edges cut it. */
static const double LEAK = 0.05;

/* Nearly normal: the sum of twelve uniform numbers, less six. The same each run. */
static double normal(void)
{
    static uint64_t state = 3;
    double sum = -6;
    for (int i = 0; i < 12; i++) {
        state = state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        sum += (double)(state >> 33) / 2147483648.0;
    }
    return sum;
}

static double total(const struct carn_bands *b)
{
    double sum = b->low + b->rest;
    for (int i = 0; i < CARN_BANDS; i++)
        sum += b->band[i];
    return sum;
}

static double variance(const float *v, size_t n)
{
    double sum = 0, squares = 0;
    for (size_t i = 0; i < n; i++)
        sum += (double)v[i];
    for (size_t i = 0; i < n; i++)
        squares += pow((double)v[i] - sum / (double)n, 2);
    return squares / (double)n;
}

/* One wave of so many periods along and down: its power, half the square of its height, is in the
 * band of its periods over the width. */
static void test_wave(size_t w, size_t h, double along, double down)
{
    struct carn_error err = {0};
    struct carn_bands b;
    const double height = 2, phase = 0.7;
    float *v = calloc(w * h, sizeof *v);
    if (v == NULL)
        return;
    for (size_t y = 0; y < h; y++)
        for (size_t x = 0; x < w; x++)
            v[y * w + x] =
                (float)(60 + height * sin(phase + 2 * PI *
                                                      (along * ((double)x + 0.5) / (double)w +
                                                       down * ((double)y + 0.5) / (double)h)));
    double periods = hypot(along, down * (double)w / (double)h);
    int band = ilogb(periods) - 1;
    bool good = carn_bands_measure(v, w, h, &b, &err) == 0;
    double found = good ? b.band[band] : 0, all = good ? total(&b) : 0, want = height * height / 2;
    tap_ok(good && fabs(found / want - 1) < LEAK,
           "%zu x %zu, %.1f periods: band %d holds %.4f of %.4f", w, h, periods, band + 1, found,
           want);
    tap_ok(fabs(all / variance(v, w * h) - 1) < 0.01, "and the parts sum to %.4f", all);
    free(v);
}

/* White noise has the same power at every coefficient, so nothing is left when grain is subtracted;
 * of noise over a wave the wave is left. */
static void test_noise(size_t w, size_t h, double wave)
{
    struct carn_error err = {0};
    struct carn_bands b;
    const double sigma = 1.5;
    float *v = calloc(w * h, sizeof *v);
    if (v == NULL)
        return;
    for (size_t i = 0; i < w * h; i++)
        v[i] = (float)(50 + sigma * normal() +
                       wave * sin(2 * PI * 11.3 * (double)(i % w) / (double)w));
    bool good = carn_bands_measure(v, w, h, &b, &err) == 0;
    double sum = good ? total(&b) : 0, n = (double)(w * h);
    tap_ok(good && (w > 256 || fabs(sum / variance(v, w * h) - 1) < 0.005),
           "%zu x %zu of noise: parts sum to %.4f, of %.4f", w, h, sum, variance(v, w * h));
    double slack = 4 * sqrt(2 / (double)(good ? b.corner_count : 1));
    tap_ok(good && fabs(b.white / (sigma * sigma) - 1) < slack, "grain of %.4f is found as %.4f",
           sigma, sqrt(b.white));
    for (int i = 0; good && i < CARN_BANDS; i++) {
        if (w >> (i + 3) == 0)
            continue;
        double share = (double)b.count[i] / n, left = b.band[i] - share * b.white;
        double want = i == 2 ? wave * wave / 2 : 0;
        double doubt =
            share * sigma * sigma * (4 * sqrt(2 / (double)b.count[i]) + slack) + 0.04 * want;
        tap_ok(fabs(left - want) <= doubt, "band %d has %.4f over grain, %.4f wanted within %.4f",
               i + 1, left, want, doubt);
    }
    free(v);
}

int main(void)
{
    test_wave(128, 96, 10, 0);
    test_wave(128, 96, 0, 7.5);
    test_wave(128, 96, 20.3, 11.7);
    test_wave(200, 50, 3.2, 0);
    test_wave(61, 83, 5, 5);
    test_wave(300, 300, 90, 0);
    test_noise(128, 128, 0);
    test_noise(90, 60, 0);
    test_noise(256, 64, 0.8);
    test_wave(700, 500, 100, 40);
    test_noise(400, 300, 0);
    return tap_end();
}
