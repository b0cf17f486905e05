#include "skin/body.h"

#include "base/maths.h"

#include <math.h>
#include <stdlib.h>

/* Cells on the longer side of the picture. */
static const double CELLS = 64;

/* A cell is skin from this mean likeness on (thumbnail.h), up to this mean steepness of L* by
 * L* + 16. The numbers of this file were chosen on the fit set of tests/data/portraits.tsv: its
 * pictures without people, and what lies below the faces of its portraits. */
static const double LIKE = 0.5, STEEP = 0.1;

/* A group: its least share of the picture; its greatest mean steepness; the deviation of its
 * colours by L* + 16 as a share of its chroma; the share of it without any detail, as paint has;
 * and how much of the ellipse of its second moments it covers. */
static const double LEAST = 0.02, ROUGH = 0.05, MANY = 0.3, FLAT = 0.25, PAINTED = 0.2,
                    COVERS = 0.7;

/* Half axes of the oval, in those of that ellipse, so that it lies within the group. */
static const double WITHIN = 0.7;

const double carn_body_confidence = 0.15;

struct cells {
    size_t side, across, down; /* pixels a cell; cells */
    int *group;                /* of each: 0 not skin, 1 not looked at, else its number */
    size_t *queue;
};

/* Sums over the pixels of a group. */
struct sums {
    double count, x, y, xx, xy, yy, a, b, squares, steep, flat;
};

/* Of a cell: steepness by L* + 16, or likeness. */
static double mean_of(const struct carn_thumbnail *planes, const struct cells *cells, size_t cell,
                      bool steep)
{
    size_t x0 = cell % cells->across * cells->side, y0 = cell / cells->across * cells->side;
    double sum = 0;
    for (size_t y = y0; y < y0 + cells->side; y++)
        for (size_t x = x0; x < x0 + cells->side; x++) {
            size_t at = y * planes->width + x;
            sum += steep ? (double)planes->edge[at] / ((double)planes->L[at] + 16)
                         : (double)planes->skin[at];
        }
    return sum / (double)(cells->side * cells->side);
}

/* Marks the cells that touch the first one, gives them a number, and counts them. */
static size_t gather(struct cells *cells, size_t first, int number)
{
    size_t count = 0, seen = 0;
    cells->queue[count++] = first;
    cells->group[first] = number;
    while (seen < count) {
        size_t cell = cells->queue[seen++], x = cell % cells->across, y = cell / cells->across;
        size_t beside[4], n = 0;
        if (x > 0)
            beside[n++] = cell - 1;
        if (x + 1 < cells->across)
            beside[n++] = cell + 1;
        if (y > 0)
            beside[n++] = cell - cells->across;
        if (y + 1 < cells->down)
            beside[n++] = cell + cells->across;
        for (size_t i = 0; i < n; i++)
            if (cells->group[beside[i]] == 1) {
                cells->group[beside[i]] = number;
                cells->queue[count++] = beside[i];
            }
    }
    return count;
}

/* The number of the largest group; 0: there is none. */
static int largest(const struct carn_thumbnail *planes, struct cells *cells)
{
    size_t all = cells->across * cells->down, most = 0;
    int number = 1, best = 0;
    for (size_t i = 0; i < all; i++)
        cells->group[i] =
            mean_of(planes, cells, i, false) >= LIKE && mean_of(planes, cells, i, true) <= STEEP;
    for (size_t i = 0; i < all; i++) {
        if (cells->group[i] != 1)
            continue;
        size_t count = gather(cells, i, ++number);
        if (count > most)
            best = number;
        most = count > most ? count : most;
    }
    return best;
}

static struct sums add_up(const struct carn_thumbnail *planes, const struct cells *cells,
                          int number)
{
    struct sums s = {0};
    for (size_t v = 0; v < cells->down * cells->side; v++)
        for (size_t u = 0; u < cells->across * cells->side; u++) {
            if (cells->group[v / cells->side * cells->across + u / cells->side] != number)
                continue;
            size_t at = v * planes->width + u;
            double x = (double)u + 0.5, y = (double)v + 0.5, light = (double)planes->L[at] + 16;
            double a = (double)planes->a[at] / light, b = (double)planes->b[at] / light;
            s.count++;
            s.x += x;
            s.y += y;
            s.xx += x * x;
            s.xy += x * y;
            s.yy += y * y;
            s.a += a;
            s.b += b;
            s.squares += a * a + b * b;
            s.steep += (double)planes->edge[at] / light;
            s.flat += (double)planes->edge[at] < FLAT;
        }
    return s;
}

/* Whether the group has skin's features; then its oval. */
static bool judge(const struct carn_thumbnail *planes, const struct sums *s, struct carn_body *body)
{
    double n = fmax(s->count, 1), x = s->x / n, y = s->y / n, a = s->a / n, b = s->b / n;
    double xx = s->xx / n - x * x, xy = s->xy / n - x * y, yy = s->yy / n - y * y;
    double half = (xx + yy) / 2, off = hypot((xx - yy) / 2, xy);
    double longer = 2 * sqrt(half + off), shorter = 2 * sqrt(fmax(half - off, 0));
    double spread = sqrt(fmax(s->squares / n - a * a - b * b, 0)) / fmax(hypot(a, b), 1e-6);
    body->share = s->count / (double)(planes->width * planes->height);
    if (body->share < LEAST || s->steep / n > ROUGH || spread > MANY || s->flat / n > PAINTED ||
        s->count < COVERS * CARN_PI * longer * shorter)
        return false;
    /* Down along the longer axis. */
    double tilt = off > 0 && xx - half >= off ? 90 : -atan2(xy, half + off - xx) * 180 / CARN_PI;
    double across = WITHIN * shorter, down = WITHIN * longer;
    body->outline = carn_outline_of_box(x - across, y - down, 2 * across, 2 * down, tilt);
    return true;
}

int carn_body_find(const struct carn_thumbnail *planes, struct carn_body *body,
                   struct carn_error *err)
{
    double longer = (double)(planes->width > planes->height ? planes->width : planes->height);
    struct cells cells = {.side = (size_t)fmax(floor(longer / CELLS), 2)};
    cells.across = planes->width / cells.side;
    cells.down = planes->height / cells.side;
    size_t all = cells.across * cells.down;
    if (cells.across == 0 || cells.down == 0)
        return 0;
    cells.group = carn_alloc(all, sizeof *cells.group, err);
    cells.queue = carn_alloc(all, sizeof *cells.queue, err);
    int found = -1;
    if (cells.group != NULL && cells.queue != NULL) {
        int number = largest(planes, &cells);
        struct sums sums = add_up(planes, &cells, number > 0 ? number : -1);
        found = number > 0 && judge(planes, &sums, body);
    }
    free(cells.group);
    free(cells.queue);
    return found;
}
