/* Means under the double box against the definition, for every edge. */
#include "frame/window.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>

enum { MOST = 40 };

static size_t low(size_t i, size_t reach)
{
    return i > reach ? i - reach : 0;
}

static size_t high(size_t i, size_t reach, size_t size)
{
    return i + reach < size ? i + reach : size - 1;
}

/* One box, rounded as samples are. */
static void box(const uint16_t *from, uint16_t *to, size_t reach, size_t w, size_t h)
{
    for (size_t y = 0; y < h; y++)
        for (size_t x = 0; x < w; x++) {
            double sum = 0, n = 0;
            for (size_t v = low(y, reach); v <= high(y, reach, h); v++)
                for (size_t u = low(x, reach); u <= high(x, reach, w); u++, n++)
                    sum += from[v * w + u];
            to[y * w + x] = (uint16_t)floor(sum / n + 0.5);
        }
}

static int worst_of(size_t reach, size_t w, size_t h, struct carn_error *err)
{
    static uint16_t in[MOST * MOST], half[MOST * MOST], want[MOST * MOST], pair[2 * MOST];
    uint32_t state = 7;
    for (size_t i = 0; i < w * h; i++) {
        state = state * 1664525U + 1013904223U;
        in[i] = (uint16_t)(state >> 16);
    }
    box(in, half, reach, w, h);
    box(half, want, reach, w, h);
    struct carn_window *window = carn_window_open(reach, w, h, 2, err);
    size_t taken = 0;
    int worst = window != NULL ? 0 : 65535;
    for (size_t y = 0; window != NULL && y < h; y++) {
        for (size_t x = 0; x < w; x++) {
            pair[2 * x] = in[y * w + x];
            pair[2 * x + 1] = 1234;
        }
        carn_window_push(window, pair);
        for (const uint16_t *row; (row = carn_window_pull(window)) != NULL; taken++)
            for (size_t x = 0; x < w; x++) {
                int off = abs(row[2 * x] - want[taken * w + x]) + abs(row[2 * x + 1] - 1234);
                worst = off > worst ? off : worst;
            }
    }
    carn_window_close(window);
    return taken == h ? worst : 65535;
}

int main(void)
{
    struct carn_error err = {0};
    int worst = 0;
    static const size_t sizes[][3] = {{0, 5, 5},  {1, 1, 1},   {1, 7, 3},   {3, 2, 40},
                                      {3, 40, 2}, {4, 40, 40}, {9, 17, 19}, {9, 18, 8}};
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        int off = worst_of(sizes[i][0], sizes[i][1], sizes[i][2], &err);
        worst = off > worst ? off : worst;
    }
    tap_ok(worst <= 1, "two boxes, one after the other, at every edge, within a code (%d)", worst);
    return tap_end();
}
