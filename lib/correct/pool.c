#include "correct/pool.h"

#include "base/order.h"

#include <stdlib.h>

int carn_pool(const struct carn_readings *readings, const bool *pick, struct carn_lab *lab,
              size_t *count, struct carn_error *err)
{
    double *v = carn_alloc(3 * readings->count, sizeof *v, err);
    if (v == NULL)
        return -1;
    double *a = v + readings->count, *b = a + readings->count;
    size_t n = 0;
    for (size_t i = 0; i < readings->count; i++) {
        if (!pick[i])
            continue;
        v[n] = readings->rows[i].lab.L;
        a[n] = readings->rows[i].lab.a;
        b[n++] = readings->rows[i].lab.b;
    }
    *count = n;
    if (n > 0)
        *lab = (struct carn_lab){carn_median(v, n), carn_median(a, n), carn_median(b, n)};
    free(v);
    return 0;
}
