#include "correct/mean.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double TRIMMED_SHARE = 0.1; /* left out at each end */

enum { VALUES = 65536 };

struct pixels {
    const uint16_t *samples;
    size_t count, colours;
};

static size_t channel_sum(const struct pixels *p, size_t i)
{
    size_t sum = 0;
    for (size_t c = 0; c < p->colours; c++)
        sum += p->samples[i * p->colours + c];
    return sum;
}

/*
 * The mean of the pixels whose rank by the sum of channels lies in [low, high). A pixel of a sum
 * that only partly lies inside counts by that part, so that the order of pixels does not matter.
 * histogram: how many pixels have each sum from least to most.
 */
static void ranked_mean(const struct pixels *p, const uint32_t *histogram, size_t least,
                        size_t most, double low, double high, double mean[3])
{
    double rank = 0, weight = 0;
    size_t first = 0, last = 0;
    double first_share = 0, last_share = 0;
    for (size_t s = least; s <= most; s++) {
        double here = histogram[s - least], next = rank + here;
        if (here > 0 && next > low && rank < high) {
            double share = (fmin(next, high) - fmax(rank, low)) / here;
            if (weight == 0) {
                first = s;
                first_share = share;
            }
            last = s;
            last_share = share;
            weight += fmin(next, high) - fmax(rank, low);
        }
        rank = next;
    }
    mean[0] = mean[1] = mean[2] = 0;
    for (size_t i = 0; i < p->count; i++) {
        size_t sum = channel_sum(p, i);
        if (sum < first || sum > last)
            continue;
        double w = sum == first ? first_share : sum == last ? last_share : 1;
        for (size_t c = 0; c < p->colours; c++)
            mean[c] += w * p->samples[i * p->colours + c];
    }
    for (size_t c = 0; c < p->colours; c++)
        mean[c] /= weight * 65535;
}

static int trimmed_mean(const struct pixels *p, double share, double mean[3],
                        struct carn_error *err)
{
    size_t least = SIZE_MAX, most = 0;
    for (size_t i = 0; i < p->count; i++) {
        size_t sum = channel_sum(p, i);
        least = sum < least ? sum : least;
        most = sum > most ? sum : most;
    }
    uint32_t *histogram = carn_alloc(most - least + 1, sizeof *histogram, err);
    if (histogram == NULL)
        return -1;
    for (size_t i = 0; i < p->count; i++)
        histogram[channel_sum(p, i) - least]++;
    double cut = floor(share * (double)p->count);
    ranked_mean(p, histogram, least, most, cut, (double)p->count - cut, mean);
    free(histogram);
    return 0;
}

static double channel_median(const struct pixels *p, size_t channel, uint32_t *histogram)
{
    memset(histogram, 0, VALUES * sizeof *histogram);
    for (size_t i = 0; i < p->count; i++)
        histogram[p->samples[i * p->colours + channel]]++;
    size_t below = 0, lower = 0, upper = 0; /* the two middle values */
    for (size_t v = 0; v < VALUES; v++) {
        if (below <= (p->count - 1) / 2)
            lower = v;
        if (below <= p->count / 2)
            upper = v;
        below += histogram[v];
        if (below > p->count / 2)
            break;
    }
    while (lower > 0 && histogram[lower] == 0)
        lower--;
    while (upper > 0 && histogram[upper] == 0)
        upper--;
    return (double)(lower + upper) / 2 / 65535;
}

int carn_mean_of(const uint16_t *samples, size_t count, size_t colours, enum carn_mean kind,
                 double mean[3], struct carn_error *err)
{
    struct pixels p = {samples, count, colours};
    if (kind != CARN_MEDIAN)
        return trimmed_mean(&p, kind == CARN_TRIMMED ? TRIMMED_SHARE : 0, mean, err);
    uint32_t *histogram = carn_alloc(VALUES, sizeof *histogram, err);
    if (histogram == NULL)
        return -1;
    for (size_t c = 0; c < colours; c++)
        mean[c] = channel_median(&p, c, histogram);
    free(histogram);
    return 0;
}
