#include "base/order.h"

#include <stdlib.h>

static int by_value(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return a < b ? -1 : a > b;
}

static int by_float(const void *one, const void *other)
{
    float a = *(const float *)one, b = *(const float *)other;
    return a < b ? -1 : a > b;
}

double carn_median(double *v, size_t count)
{
    qsort(v, count, sizeof *v, by_value);
    return count % 2 == 1 ? v[count / 2] : (v[count / 2 - 1] + v[count / 2]) / 2;
}

double carn_upper_median(float *v, size_t count)
{
    qsort(v, count, sizeof *v, by_float);
    return (double)v[count / 2];
}

double carn_quantile(float *v, size_t count, double share)
{
    qsort(v, count, sizeof *v, by_float);
    return (double)v[(size_t)(share * (double)(count - 1))];
}
