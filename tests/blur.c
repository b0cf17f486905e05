/*
 * Blur and averaging against direct sums in double precision.
 *
 * The references are the definitions: the sampled Gaussian, normalised, out to 9 sigma, edges
 * replicated; and the overlap of every old pixel with every new one.
 */
#include "frame/blur.h"
#include "frame/average.h"
#include "tap.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Codes of 65535. The first two are what blur.h promises; half a code in them is rounding. */
static const double STEP_TOLERANCE = 16, PHOTOGRAPH_TOLERANCE = 4, ROUNDING = 0.5 + 1e-6;

struct picture {
    size_t width, height, channels;
    uint16_t *samples;
};

static void *take(size_t count, size_t size)
{
    void *p = calloc(count > 0 ? count : 1, size);
    if (p == NULL) {
        printf("Bail out! out of memory\n");
        exit(1);
    }
    return p;
}

static struct picture make(size_t width, size_t height, size_t channels)
{
    return (struct picture){width, height, channels,
                            take(width * height * channels, sizeof(uint16_t))};
}

static uint16_t *at(const struct picture *p, size_t x, size_t y, size_t c)
{
    return &p->samples[(y * p->width + x) * p->channels + c];
}

/* Numerical Recipes' 32-bit linear congruence: the same noise everywhere. */
static double noise(void)
{
    static uint32_t state = 1;
    state = state * 1664525u + 1013904223u;
    return (double)(state >> 8) / (1 << 24);
}

static void fill_noise(struct picture *p)
{
    for (size_t i = 0; i < p->width * p->height * p->channels; i++)
        p->samples[i] = (uint16_t)(noise() * 65536);
}

/* Black before the middle, white from it on, along the rows and down the columns. */
static void fill_step(struct picture *p)
{
    for (size_t y = 0; y < p->height; y++)
        for (size_t x = 0; x < p->width; x++)
            for (size_t c = 0; c < p->channels; c++)
                *at(p, x, y, c) = x >= p->width / 2 && y >= p->height / 2 ? 65535 : 0;
}

/* A lit oval before a backdrop that falls off, sharp edges of hair and collar, grain of 1 %. */
static void fill_photograph(struct picture *p)
{
    for (size_t y = 0; y < p->height; y++) {
        for (size_t x = 0; x < p->width; x++) {
            double u = 2.0 * (double)x / (double)p->width - 1;
            double v = 2.0 * (double)y / (double)p->height - 1;
            double far = u * u * 4 + v * v * 2;
            double light = far < 0.9 ? 0.75 - 0.3 * u - 0.2 * far : 0.35 - 0.1 * u;
            if (far >= 0.9 && far < 1.6 && v < 0.2)
                light = 0.06 + 0.03 * sin((double)x * 1.7);
            if (v > 0.75)
                light = u > 0 ? 0.92 : 0.1;
            for (size_t c = 0; c < p->channels; c++) {
                double code = (light * (1 - 0.15 * (double)c) + 0.02 * (noise() - 0.5)) * 65535;
                *at(p, x, y, c) = (uint16_t)(code < 0 ? 0 : code > 65535 ? 65535 : code);
            }
        }
    }
}

static struct picture blurred(const struct picture *from, double sigma)
{
    struct carn_error err = {0};
    struct picture to = make(from->width, from->height, from->channels);
    size_t row = from->width * from->channels, given = 0;
    struct carn_blur *blur = carn_blur_open(sigma, from->width, from->height, from->channels, &err);
    for (size_t y = 0; blur != NULL && y < from->height; y++) {
        carn_blur_push(blur, from->samples + y * row);
        for (const uint16_t *done; (done = carn_blur_pull(blur)) != NULL; given++)
            if (given < from->height)
                memcpy(to.samples + given * row, done, row * sizeof *done);
    }
    carn_blur_close(blur);
    if (given != from->height) {
        tap_ok(false, "sigma %g: %zu rows of %zu came back %s", sigma, given, from->height,
               err.text);
        exit(1);
    }
    return to;
}

/* One direct convolution of count values, stride apart, in place. */
static void convolve(double *values, size_t count, size_t stride, const double *kernel, long reach)
{
    double *line = take(count, sizeof *line);
    for (size_t i = 0; i < count; i++)
        line[i] = values[i * stride];
    for (long i = 0; i < (long)count; i++) {
        double sum = 0;
        for (long n = -reach; n <= reach; n++) {
            long from = i + n < 0 ? 0 : i + n >= (long)count ? (long)count - 1 : i + n;
            sum += kernel[labs(n)] * line[from];
        }
        values[(size_t)i * stride] = sum;
    }
    free(line);
}

static double *make_kernel(double sigma, long *reach)
{
    *reach = (long)(9 * sigma) + 1;
    double *kernel = take((size_t)*reach + 1, sizeof *kernel), total = 0;
    for (long n = -*reach; n <= *reach; n++) {
        kernel[labs(n)] = exp(-0.5 * ((double)n / sigma) * ((double)n / sigma));
        total += kernel[labs(n)];
    }
    for (long n = 0; n <= *reach; n++)
        kernel[n] /= total;
    return kernel;
}

/* The largest difference in codes between the blur and the direct convolution. */
static double blur_error(const struct picture *from, double sigma)
{
    size_t row = from->width * from->channels, samples = row * from->height;
    double *values = take(samples, sizeof *values), worst = 0;
    long reach;
    double *kernel = make_kernel(sigma, &reach);
    for (size_t i = 0; i < samples; i++)
        values[i] = from->samples[i];
    for (size_t y = 0; y < from->height; y++)
        for (size_t c = 0; c < from->channels; c++)
            convolve(values + y * row + c, from->width, from->channels, kernel, reach);
    for (size_t i = 0; i < row; i++)
        convolve(values + i, from->height, row, kernel, reach);
    struct picture to = blurred(from, sigma);
    for (size_t i = 0; i < samples; i++)
        worst = fmax(worst, fabs(values[i] - to.samples[i]));
    free(to.samples);
    free(kernel);
    free(values);
    return worst;
}

static void test_step(void)
{
    double along = 0, down = 0;
    struct picture row = make(1000, 1, 1), column = make(1, 1000, 1), corner = make(120, 90, 3);
    fill_step(&row);
    fill_step(&column);
    fill_step(&corner);
    for (int i = 0; i <= 140; i++) {
        double sigma = 0.1 * pow(1.05, i); /* to 93 */
        along = fmax(along, blur_error(&row, sigma));
        down = fmax(down, blur_error(&column, sigma));
    }
    tap_ok(along <= STEP_TOLERANCE, "a full step along a row, sigma 0.1 to 93: %.2f codes", along);
    tap_ok(down <= STEP_TOLERANCE, "a full step down a column, sigma 0.1 to 93: %.2f codes", down);
    double both = fmax(blur_error(&corner, 1.3), blur_error(&corner, 4));
    both = fmax(both, blur_error(&corner, 12));
    tap_ok(both <= STEP_TOLERANCE, "a full step in a corner: %.2f codes", both);
    free(row.samples);
    free(column.samples);
    free(corner.samples);
}

static void test_photograph(void)
{
    static const double sigmas[] = {0.3, 0.7, 1, 1.24, 1.3, 1.5, 2, 3, 4, 6, 12, 30};
    struct picture p = make(300, 200, 3);
    fill_photograph(&p);
    for (size_t i = 0; i < sizeof sigmas / sizeof *sigmas; i++) {
        double worst = blur_error(&p, sigmas[i]);
        tap_ok(worst <= PHOTOGRAPH_TOLERANCE, "a photograph, sigma %g: %.2f codes", sigmas[i],
               worst);
    }
    free(p.samples);
}

/* Every code, in pictures of odd sizes and of every number of channels. */
static void test_flat(void)
{
    static const double sigmas[] = {0.2, 1, 1.5, 7.3, 40};
    size_t wrong = 0, code = 0;
    for (size_t i = 0; code < 65536; i++) {
        struct picture p = make(1 + i % 37, 1 + i % 23, 1 + i % 5);
        size_t samples = p.width * p.height * p.channels;
        for (size_t s = 0; s < samples; s++)
            p.samples[s] = (uint16_t)((code + s % p.channels) & 65535);
        code += p.channels;
        struct picture to = blurred(&p, sigmas[i % 5]);
        wrong += memcmp(to.samples, p.samples, samples * sizeof *p.samples) != 0;
        free(p.samples);
        free(to.samples);
    }
    tap_ok(wrong == 0, "a flat picture of any code stays as it is");
}

static void test_shapes(void)
{
    double worst = 0, worst_long = 0;
    for (size_t width = 1; width < 40; width += 6)
        for (size_t height = 1; height < 40; height += 5)
            for (size_t channels = 1; channels <= 5; channels += 2) {
                struct picture p = make(width, height, channels);
                fill_photograph(&p);
                worst = fmax(worst, blur_error(&p, 0.8));
                worst = fmax(worst, blur_error(&p, 3));
                worst_long = fmax(worst_long, blur_error(&p, 50));
                free(p.samples);
            }
    tap_ok(worst <= PHOTOGRAPH_TOLERANCE, "small pictures of any shape: %.2f codes", worst);
    tap_ok(worst_long <= PHOTOGRAPH_TOLERANCE, "a window longer than the picture: %.2f codes",
           worst_long);
    struct picture tiny = make(1, 1, 1);
    tiny.samples[0] = 12345;
    struct picture to = blurred(&tiny, CARN_BLUR_LIMIT);
    tap_ok(to.samples[0] == 12345, "one pixel at the largest sigma");
    free(tiny.samples);
    free(to.samples);
}

/* The first and the last tenth of a long line against the direct convolution: a recursion that
 * drifts has the larger error at the end. */
static void test_drift(void)
{
    static const double sigmas[] = {1.3, 12, 60, 1000};
    const size_t length = 60000;
    struct picture p = make(length, 1, 1);
    for (size_t i = 0; i < sizeof sigmas / sizeof *sigmas; i++) {
        long reach;
        double *kernel = make_kernel(sigmas[i], &reach), worst[2] = {0, 0};
        fill_noise(&p);
        struct picture to = blurred(&p, sigmas[i]);
        for (size_t k = 0; k < 400; k++) {
            const long x[2] = {(long)(k * 15), (long)(length - 1 - k * 15)};
            for (int end = 0; end < 2; end++) {
                double sum = 0;
                for (long n = -reach; n <= reach; n++) {
                    long from = x[end] + n;
                    from = from < 0 ? 0 : from >= (long)length ? (long)length - 1 : from;
                    sum += kernel[labs(n)] * p.samples[from];
                }
                worst[end] = fmax(worst[end], fabs(sum - to.samples[x[end]]));
            }
        }
        tap_ok(worst[1] <= worst[0] + 1 && worst[1] <= PHOTOGRAPH_TOLERANCE,
               "no drift over 60,000 pixels, sigma %g: %.2f codes, %.2f at the start", sigmas[i],
               worst[1], worst[0]);
        free(to.samples);
        free(kernel);
    }
    /* Noise, then flat: the rest of the noise in the recursion must decay below half a code. */
    fill_noise(&p);
    for (size_t x = length - 8000; x < length; x++)
        p.samples[x] = 777;
    struct picture to = blurred(&p, 60);
    size_t wrong = 0;
    for (size_t x = length - 7000; x < length; x++)
        wrong += to.samples[x] != 777;
    tap_ok(wrong == 0, "flat after 52,000 pixels of noise is flat");
    free(to.samples);
    free(p.samples);
}

static void test_refusals(void)
{
    static const double sigmas[] = {0, -1, NAN, INFINITY, CARN_BLUR_LIMIT * 1.01};
    size_t refused = 0;
    for (size_t i = 0; i < 5; i++) {
        struct carn_error err = {0};
        refused += carn_blur_open(sigmas[i], 10, 10, 3, &err) == NULL && err.kind != CARN_NONE;
    }
    tap_ok(refused == 5, "sigma 0, below, NaN, infinite and above the limit are refused");
    struct carn_error err = {0};
    tap_ok(carn_blur_open(1, 0, 10, 3, &err) == NULL && carn_blur_open(1, 10, 10, 6, &err) == NULL,
           "no pixels and too many channels are refused");
    tap_ok(carn_blur_open(1, SIZE_MAX / 4, 1, 3, &err) == NULL, "an absurd width is refused");
    tap_ok(carn_average_open(10, 10, 3, 11, &err) == NULL &&
               carn_average_open(10, 10, 3, 0, &err) == NULL,
           "averaging up or to nothing is refused");
    tap_ok(carn_average_open((size_t)1 << 27, (size_t)1 << 27, 3, 1, &err) == NULL,
           "averaging over 2^48 pixels is refused");
}

/* ---- averaging ---- */

/* How much of the unit interval at from lies between start and end. */
static double overlap(size_t from, double start, double end)
{
    double low = fmax((double)from, start), high = fmin((double)from + 1, end);
    return high > low ? high - low : 0;
}

static double area_mean(const struct picture *p, size_t x, size_t y, size_t c, double across,
                        double down)
{
    double sum = 0;
    for (size_t v = 0; v < p->height; v++) {
        double high = overlap(v, (double)y * down, (double)(y + 1) * down);
        for (size_t u = 0; high > 0 && u < p->width; u++)
            sum +=
                high * overlap(u, (double)x * across, (double)(x + 1) * across) * *at(p, u, v, c);
    }
    return sum / (across * down);
}

static double average_error(const struct picture *p, size_t width)
{
    struct carn_error err = {0};
    struct carn_average *average = carn_average_open(p->width, p->height, p->channels, width, &err);
    size_t height = carn_average_height(p->width, p->height, width), rows = 0;
    double across = (double)p->width / (double)width, down = (double)p->height / (double)height;
    double worst = 0;
    for (size_t y = 0; average != NULL && y < p->height; y++) {
        const uint16_t *row = carn_average_push(average, p->samples + y * p->width * p->channels);
        for (size_t i = 0; row != NULL && i < width * p->channels; i++) {
            double mean = area_mean(p, i / p->channels, rows, i % p->channels, across, down);
            worst = fmax(worst, fabs(mean - row[i]));
        }
        rows += row != NULL;
    }
    carn_average_close(average);
    return rows == height ? worst : INFINITY;
}

static void test_average(void)
{
    double worst = 0;
    struct picture p = make(61, 43, 3), high = make(3, 100, 5), wide = make(1000, 1, 1);
    fill_noise(&p);
    fill_noise(&high);
    fill_noise(&wide);
    for (size_t width = 1; width <= p.width; width++)
        worst = fmax(worst, average_error(&p, width));
    tap_ok(worst <= ROUNDING, "61 x 43 averaged to every width: %.2f codes", worst);
    worst = fmax(average_error(&high, 1), average_error(&high, 2));
    worst = fmax(worst, average_error(&high, 3));
    tap_ok(worst <= ROUNDING, "a high picture: %.2f codes", worst);
    worst = fmax(average_error(&wide, 7), average_error(&wide, 999));
    tap_ok(worst <= ROUNDING, "a single row: %.2f codes", worst);
    for (size_t i = 0; i < p.width * p.height * p.channels; i++)
        p.samples[i] = (uint16_t)(65535 - i % 3);
    tap_ok(average_error(&p, 17) < 1e-6, "a flat picture stays flat");
    tap_ok(carn_average_height(6000, 4000, 1500) == 1000 && carn_average_height(3, 2, 1) == 1 &&
               carn_average_height(1000, 1, 10) == 1 && carn_average_height(4, 6, 1) == 2,
           "the height follows in proportion, rounded, 1 at least");
    free(p.samples);
    free(high.samples);
    free(wide.samples);
}

int main(void)
{
    test_step();
    test_photograph();
    test_flat();
    test_shapes();
    test_drift();
    test_refusals();
    test_average();
    return tap_end();
}
