#include "base/order.h"

#include <stdlib.h>

static int by_value(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return a < b ? -1 : a > b;
}

/* Puts the number of rank n where it stands in order, what is less before it (Hoare's FIND): to
 * sort them all took ten times as long. */
static float ranked(float *v, size_t count, size_t n)
{
    size_t low = 0, high = count - 1;
    while (low < high) {
        float middle = v[low + (high - low) / 2];
        size_t i = low, j = high;
        for (;;) {
            while (v[i] < middle)
                i++;
            while (v[j] > middle)
                j--;
            if (i >= j)
                break;
            float swapped = v[i];
            v[i++] = v[j];
            v[j--] = swapped;
        }
        if (n <= j)
            high = j;
        else
            low = j + 1;
    }
    return v[n];
}

double carn_median(double *v, size_t count)
{
    qsort(v, count, sizeof *v, by_value);
    return count % 2 == 1 ? v[count / 2] : (v[count / 2 - 1] + v[count / 2]) / 2;
}

double carn_upper_median(float *v, size_t count)
{
    return (double)ranked(v, count, count / 2);
}

double carn_quantile(float *v, size_t count, double share)
{
    return (double)ranked(v, count, (size_t)(share * (double)(count - 1)));
}
