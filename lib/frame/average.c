#include "frame/average.h"

#include <stdlib.h>

enum { MAX_CHANNELS = 5 };

/* Positions along a row count in 1/new_width of an old pixel, so that an old pixel is new_width
 * long, a new one width, and every overlap is whole; down the columns likewise with the heights. */
struct carn_average {
    size_t width, height, channels;
    size_t new_width, new_height;
    uint64_t missing; /* of the new row at work, as above, up to height */
    uint64_t *across; /* the last row pushed, averaged along itself; each sum is of weight width */
    uint64_t *sums;   /* the new row at work, of weight width * height when complete */
    uint16_t *done;
};

size_t carn_average_height(size_t width, size_t height, size_t new_width)
{
    uint64_t twice = 2 * (uint64_t)height * new_width;
    size_t rows = (size_t)((twice + width) / (2 * (uint64_t)width));
    return rows > 0 ? rows : 1;
}

/* The sum of count samples, one a pixel. */
static uint64_t add_up(const uint16_t *sample, size_t count, size_t channels)
{
    uint64_t sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += sample[i * channels];
    return sum;
}

static void average_across(struct carn_average *average, const uint16_t *row)
{
    const size_t channels = average->channels, whole = average->new_width;
    size_t left = whole; /* of the pixel that row points at */
    uint64_t *to = average->across;
    for (size_t x = 0; x < average->new_width; x++) {
        size_t full = (average->width - left) / whole;
        size_t part = (average->width - left) % whole;
        const uint16_t *last = row + (full + 1) * channels;
        for (size_t c = 0; c < channels; c++) {
            *to = (uint64_t)left * row[c] + whole * add_up(row + channels + c, full, channels);
            if (part > 0) /* else last may lie past the row */
                *to += (uint64_t)part * last[c];
            to++;
        }
        row = last;
        left = whole - part;
    }
}

const uint16_t *carn_average_push(struct carn_average *average, const uint16_t *row)
{
    const size_t samples = average->new_width * average->channels;
    const uint64_t whole = average->new_height;
    if (average->new_width == average->width)
        return row; /* the mean of one is the same code */
    average_across(average, row);
    uint64_t part = whole < average->missing ? whole : average->missing;
    average->missing -= part;
    for (size_t i = 0; i < samples; i++)
        average->sums[i] += part * average->across[i];
    if (average->missing > 0)
        return NULL;
    /* A new row is no shorter than an old one, so what is left of this one completes no second. */
    uint64_t weight = (uint64_t)average->width * average->height, rest = whole - part;
    for (size_t i = 0; i < samples; i++) {
        average->done[i] = (uint16_t)((average->sums[i] + weight / 2) / weight);
        average->sums[i] = rest * average->across[i];
    }
    average->missing = average->height - rest;
    return average->done;
}

static int make_buffers(struct carn_average *average, struct carn_error *err)
{
    size_t samples = average->new_width * average->channels;
    average->across = carn_alloc(samples, sizeof *average->across, err);
    average->sums = carn_alloc(samples, sizeof *average->sums, err);
    average->done = carn_alloc(samples, sizeof *average->done, err);
    return average->across == NULL || average->sums == NULL || average->done == NULL ? -1 : 0;
}

struct carn_average *carn_average_open(size_t width, size_t height, size_t channels,
                                       size_t new_width, struct carn_error *err)
{
    if (new_width == 0 || new_width > width || height == 0 || channels == 0 ||
        channels > MAX_CHANNELS || height > ((uint64_t)1 << 48) / width) {
        carn_fail(err, CARN_USAGE,
                  "cannot average %zu x %zu pixels of %zu channels to a width of %zu", width,
                  height, channels, new_width);
        return NULL;
    }
    struct carn_average *average = carn_alloc(1, sizeof *average, err);
    if (average == NULL)
        return NULL;
    average->width = width;
    average->height = height;
    average->channels = channels;
    average->new_width = new_width;
    average->new_height = carn_average_height(width, height, new_width);
    average->missing = height;
    if (make_buffers(average, err) != 0) {
        carn_average_close(average);
        return NULL;
    }
    return average;
}

void carn_average_close(struct carn_average *average)
{
    if (average == NULL)
        return;
    free(average->across);
    free(average->sums);
    free(average->done);
    free(average);
}
