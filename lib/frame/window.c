#include "frame/window.h"

#include <stdlib.h>
#include <string.h>

/* One box: its mean over columns is kept as a running sum, that over rows is taken on the way out.
 */
struct box {
    uint16_t *ring; /* the last 2 reach + 1 rows */
    uint32_t *sums;
    uint16_t *done;
    size_t from, pushed, pulled; /* the sums are of rows from to pushed */
};

struct carn_window {
    size_t reach, lines, width, height, channels;
    struct box boxes[2];
};

static int make_box(struct box *box, size_t lines, size_t samples, struct carn_error *err)
{
    box->ring = carn_alloc(lines, samples * sizeof *box->ring, err);
    box->sums = carn_alloc(samples, sizeof *box->sums, err);
    box->done = carn_alloc(samples, sizeof *box->done, err);
    return box->ring != NULL && box->sums != NULL && box->done != NULL ? 0 : -1;
}

struct carn_window *carn_window_open(size_t reach, size_t width, size_t height, size_t channels,
                                     struct carn_error *err)
{
    struct carn_window *window = carn_alloc(1, sizeof *window, err);
    if (window == NULL)
        return NULL;
    *window = (struct carn_window){.reach = reach,
                                   .lines = 2 * reach + 1,
                                   .width = width,
                                   .height = height,
                                   .channels = channels};
    for (int i = 0; i < 2; i++)
        if (make_box(&window->boxes[i], window->lines, width * channels, err) != 0) {
            carn_window_close(window);
            return NULL;
        }
    return window;
}

void carn_window_close(struct carn_window *window)
{
    for (int i = 0; window != NULL && i < 2; i++) {
        free(window->boxes[i].ring);
        free(window->boxes[i].sums);
        free(window->boxes[i].done);
    }
    free(window);
}

static void take_off(const struct carn_window *w, struct box *box)
{
    size_t samples = w->width * w->channels;
    const uint16_t *line = box->ring + box->from++ % w->lines * samples;
    for (size_t i = 0; i < samples; i++)
        box->sums[i] -= line[i];
}

static void push(const struct carn_window *w, struct box *box, const uint16_t *row)
{
    size_t samples = w->width * w->channels;
    if (box->pushed - box->from == w->lines)
        take_off(w, box);
    memcpy(box->ring + box->pushed++ % w->lines * samples, row, samples * sizeof *row);
    for (size_t i = 0; i < samples; i++)
        box->sums[i] += row[i];
}

/* Means along the row of the sums, which are of count rows. */
static void mean_along(const struct carn_window *w, struct box *box, uint32_t count)
{
    size_t n = w->channels;
    for (size_t c = 0; c < n; c++) {
        const uint32_t *sums = box->sums + c;
        uint64_t sum = 0;
        size_t first = w->reach < w->width ? w->reach : w->width - 1;
        for (size_t x = 0; x < first; x++)
            sum += sums[x * n];
        for (size_t x = 0; x < w->width; x++) {
            size_t from = x > w->reach ? x - w->reach : 0;
            size_t past = x + w->reach < w->width ? x + w->reach + 1 : w->width;
            if (x + w->reach < w->width)
                sum += sums[(x + w->reach) * n];
            else if (x == 0)
                sum += sums[first * n];
            if (x > w->reach)
                sum -= sums[(from - 1) * n];
            uint64_t all = (uint64_t)count * (past - from);
            box->done[x * n + c] = (uint16_t)((sum + all / 2) / all);
        }
    }
}

/* The next row that enough rows were pushed for, or NULL. */
static const uint16_t *pull(const struct carn_window *w, struct box *box)
{
    size_t y = box->pulled, last = y + w->reach < w->height ? y + w->reach : w->height - 1;
    if (y == w->height || box->pushed <= last)
        return NULL;
    size_t first = y > w->reach ? y - w->reach : 0;
    while (box->from < first)
        take_off(w, box);
    mean_along(w, box, (uint32_t)(last - first + 1));
    box->pulled++;
    return box->done;
}

void carn_window_push(struct carn_window *window, const uint16_t *row)
{
    push(window, &window->boxes[0], row);
}

const uint16_t *carn_window_pull(struct carn_window *window)
{
    const uint16_t *row = pull(window, &window->boxes[1]);
    while (row == NULL) {
        const uint16_t *half = pull(window, &window->boxes[0]);
        if (half == NULL)
            return NULL;
        push(window, &window->boxes[1], half);
        row = pull(window, &window->boxes[1]);
    }
    return row;
}
