#include "skin/card.h"

#include "base/maths.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* CIE76. FLAT: a pixel whose two neighbours differ by less, across and down, is of an even surface.
 * ENDS: a pixel that is farther from the card's colour is off the card. These numbers and the ramps
 * were chosen on drawn scenes with a card and photographs without one (carn-card-find(1)). */
static const double FLAT = 2.2, ENDS = 5;
static const double DEGREE = CARN_PI / 180;

/* A feature's factor of the confidence: 0 at `never`, 1 at `ever`, straight between, held beyond.
 */
static const struct {
    double never, ever;
} ramps[CARN_CARD_FEATURES] = {
    [CARN_CARD_FILL] = {0.68, 0.8}, [CARN_CARD_EDGE] = {0.64, 0.74},
    [CARN_CARD_SIDE] = {0.36, 0.5}, [CARN_CARD_STRAIGHT] = {4.5, 3},
    [CARN_CARD_UNEVEN] = {2, 1.2},  [CARN_CARD_SPOTTED] = {2, 1.2},
    [CARN_CARD_SLOPE] = {16, 10},   [CARN_CARD_LIGHT] = {22, 32},
    [CARN_CARD_CHROMA] = {24, 18},  [CARN_CARD_LONG] = {2.4, 1.9},
    [CARN_CARD_SHORT] = {7, 10},    [CARN_CARD_SHARE] = {0.5, 0.35},
    [CARN_CARD_CUT] = {1, 0},
};
/* Second ramps of two features: paper is lighter than a card, and a speck is smaller. */
static const double TOO_LIGHT = 82, LIGHTEST = 76, TOO_SMALL = 0.002, SMALLEST = 0.004;

/* What the search works on. label: 0 not even, 1 even, from 2 on the number of a piece. */
struct search {
    const struct carn_thumbnail *planes;
    size_t width, height;
    float *smooth[3]; /* L*, a*, b*, means of 3 by 3 */
    uint32_t *label;
    size_t *stack;
    double *ends; /* x, y of the first and last pixel of each row of a piece */
    size_t end_count;
};

/* Sums over a piece. */
struct piece {
    uint32_t label;
    size_t x0, y0, x1, y1;
    double n, x, y, xx, xy, yy, L, LL, Lx, Ly, a, aa, b, bb;
};

/* ---- even pieces ---- */

static void smooth_plane(const float *from, float *to, size_t width, size_t height)
{
    for (size_t y = 0; y < height; y++)
        for (size_t x = 0; x < width; x++) {
            double sum = 0, n = 0;
            for (size_t v = y > 0 ? y - 1 : 0; v <= y + 1 && v < height; v++)
                for (size_t u = x > 0 ? x - 1 : 0; u <= x + 1 && u < width; u++, n++)
                    sum += (double)from[v * width + u];
            to[y * width + x] = (float)(sum / n);
        }
}

static double apart(const struct search *s, size_t i, size_t k)
{
    double sum = 0;
    for (int c = 0; c < 3; c++) {
        double d = (double)s->smooth[c][i] - (double)s->smooth[c][k];
        sum += d * d;
    }
    return sqrt(sum);
}

static bool is_even(const struct search *s, size_t x, size_t y)
{
    size_t i = y * s->width + x;
    if (x == 0 || y == 0 || x + 1 >= s->width || y + 1 >= s->height || s->planes->unfit[i])
        return false;
    double L = (double)s->smooth[0][i];
    double chroma = hypot((double)s->smooth[1][i], (double)s->smooth[2][i]);
    return L > ramps[CARN_CARD_LIGHT].never && L < TOO_LIGHT &&
           chroma < ramps[CARN_CARD_CHROMA].never && apart(s, i - 1, i + 1) < FLAT &&
           apart(s, i - s->width, i + s->width) < FLAT;
}

static void add_pixel(const struct search *s, struct piece *p, size_t i)
{
    size_t px = i % s->width, py = i / s->width;
    double x = (double)px, y = (double)py, L = (double)s->smooth[0][i];
    double a = (double)s->smooth[1][i], b = (double)s->smooth[2][i];
    p->x0 = px < p->x0 ? px : p->x0;
    p->x1 = px > p->x1 ? px : p->x1;
    p->y0 = py < p->y0 ? py : p->y0;
    p->y1 = py > p->y1 ? py : p->y1;
    p->n += 1;
    p->x += x;
    p->y += y;
    p->xx += x * x;
    p->xy += x * y;
    p->yy += y * y;
    p->L += L;
    p->LL += L * L;
    p->Lx += L * x;
    p->Ly += L * y;
    p->a += a;
    p->aa += a * a;
    p->b += b;
    p->bb += b * b;
}

/* The connected even piece that pixel i belongs to. */
static struct piece flood(struct search *s, size_t i, uint32_t label)
{
    struct piece p = {.label = label, .x0 = s->width, .y0 = s->height};
    size_t top = 0;
    s->stack[top++] = i;
    s->label[i] = label;
    while (top > 0) {
        size_t at = s->stack[--top];
        const size_t next[] = {at - 1, at + 1, at - s->width, at + s->width};
        add_pixel(s, &p, at);
        for (int k = 0; k < 4; k++) /* even pixels have four neighbours */
            if (s->label[next[k]] == 1) {
                s->label[next[k]] = label;
                s->stack[top++] = next[k];
            }
    }
    return p;
}

/* ---- its rectangle ---- */

static void find_ends(struct search *s, const struct piece *p)
{
    s->end_count = 0;
    for (size_t y = p->y0; y <= p->y1; y++) {
        size_t first = p->x0, last = p->x1;
        while (first <= last && s->label[y * s->width + first] != p->label)
            first++;
        while (last > first && s->label[y * s->width + last] != p->label)
            last--;
        if (first > last)
            continue;
        const double ends[] = {(double)first, (double)y, (double)last, (double)y};
        memcpy(s->ends + 4 * s->end_count++, ends, sizeof ends);
    }
}

/* The smallest rectangle at this angle that holds the piece; returns its area. */
static double fit_at(const struct search *s, double tilt, struct carn_card *card)
{
    double c = cos(tilt * DEGREE), d = sin(tilt * DEGREE);
    double low[2] = {HUGE_VAL, HUGE_VAL}, high[2] = {-HUGE_VAL, -HUGE_VAL};
    for (size_t i = 0; i < 2 * s->end_count; i++) {
        double x = s->ends[2 * i], y = s->ends[2 * i + 1];
        const double at[2] = {c * x + d * y, c * y - d * x};
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], at[k]);
            high[k] = fmax(high[k], at[k]);
        }
    }
    double u = (low[0] + high[0]) / 2, v = (low[1] + high[1]) / 2;
    card->middle[0] = c * u - d * v;
    card->middle[1] = d * u + c * v;
    card->across = (high[0] - low[0] + 1) / 2;
    card->down = (high[1] - low[1] + 1) / 2;
    card->tilt = tilt;
    return 4 * card->across * card->down;
}

/* The smallest rectangle that holds the piece, tilted by up to 45 degrees. */
static void fit(const struct search *s, struct carn_card *card)
{
    double best = HUGE_VAL, at = 0;
    for (int tilt = -45; tilt < 45; tilt++) {
        double area = fit_at(s, tilt, card);
        if (area < best) {
            best = area;
            at = tilt;
        }
    }
    (void)fit_at(s, at, card);
}

/* ---- features ---- */

/* The pixel at u across and v down from the card's middle; false outside the picture. */
static bool pixel_at(const struct search *s, const struct carn_card *card, double u, double v,
                     size_t *i)
{
    double c = cos(card->tilt * DEGREE), d = sin(card->tilt * DEGREE);
    double x = floor(card->middle[0] + c * u - d * v + 0.5);
    double y = floor(card->middle[1] + d * u + c * v + 0.5);
    if (x < 0 || y < 0 || x >= (double)s->width || y >= (double)s->height)
        return false;
    *i = (size_t)y * s->width + (size_t)x;
    return true;
}

static double differs(const struct search *s, const struct carn_card *card, size_t i)
{
    double L = (double)s->smooth[0][i] - card->L, a = (double)s->smooth[1][i] - card->a;
    double b = (double)s->smooth[2][i] - card->b;
    return sqrt(L * L + a * a + b * b);
}

/* A place on a side is good when the card's colour is inside it and another outside. Pixels near
 * the card's edge are not even, so the piece ends two pixels before the card does. */
static void look_at_edges(const struct search *s, const struct piece *p, struct carn_card *card)
{
    enum { PLACES = 25 };
    double in = fmax(1.5, 0.16 * fmin(card->across, card->down)), all = 0, worst = 1, cut = 0;
    for (int side = 0; side < 4; side++) {
        double half = side < 2 ? card->across : card->down;
        double reach = side < 2 ? card->down : card->across, sign = side % 2 == 0 ? -1 : 1;
        double good = 0, gone = 0;
        for (int k = 0; k < PLACES; k++) {
            double along = half * 0.88 * (2 * (double)k / (PLACES - 1) - 1);
            size_t inside, outside;
            double near = sign * (reach - in), far = sign * (reach + 4);
            bool there =
                pixel_at(s, card, side < 2 ? along : near, side < 2 ? near : along, &inside);
            if (!pixel_at(s, card, side < 2 ? along : far, side < 2 ? far : along, &outside))
                gone++;
            else if (there && s->label[inside] == p->label && differs(s, card, outside) > ENDS)
                good++;
        }
        all += good / PLACES / 4;
        worst = fmin(worst, good / PLACES);
        cut += gone > PLACES / 4.0 ? 1 : 0;
    }
    card->features[CARN_CARD_EDGE] = all;
    card->features[CARN_CARD_SIDE] = worst;
    card->features[CARN_CARD_CUT] = cut;
}

/* Fits a plane to L*: what it leaves is unevenness, its rise over the card is the slope. */
static void look_at_light(const struct piece *p, struct carn_card *card)
{
    double n = p->n, x = p->x / n, y = p->y / n, L = p->L / n;
    double xx = p->xx / n - x * x, xy = p->xy / n - x * y, yy = p->yy / n - y * y;
    double Lx = p->Lx / n - L * x, Ly = p->Ly / n - L * y, LL = p->LL / n - L * L;
    double det = xx * yy - xy * xy;
    double u = det > 0 ? (Lx * yy - Ly * xy) / det : 0, v = det > 0 ? (Ly * xx - Lx * xy) / det : 0;
    double a = p->a / n, b = p->b / n;
    card->L = L;
    card->a = a;
    card->b = b;
    card->features[CARN_CARD_UNEVEN] = sqrt(fmax(LL - u * Lx - v * Ly, 0));
    card->features[CARN_CARD_SPOTTED] = sqrt(fmax(p->aa / n - a * a + p->bb / n - b * b, 0));
    card->features[CARN_CARD_SLOPE] = 2 * (hypot(u, v) * fmax(card->across, card->down));
    card->features[CARN_CARD_LIGHT] = L;
    card->features[CARN_CARD_CHROMA] = hypot(a, b);
}

/* Mean distance from a side of the rectangle to where the card begins. Fingers may cover part of a
 * side, so the farthest quarter of the places is left out. Sorts ends. */
static double scatter(double *ends, size_t count)
{
    double sum = 0;
    size_t kept = count - count / 4;
    if (kept < 2)
        return 0;
    for (size_t i = 1; i < count; i++) { /* few: a sort by insertion */
        double x = ends[i];
        size_t k = i;
        for (; k > 0 && ends[k - 1] > x; k--)
            ends[k] = ends[k - 1];
        ends[k] = x;
    }
    for (size_t i = 0; i < kept; i++)
        sum += ends[i];
    return sum / (double)kept;
}

static void look_at_straightness(const struct search *s, const struct piece *p,
                                 struct carn_card *card)
{
    enum { PLACES = 32 };
    double most = 0;
    for (int side = 0; side < 4; side++) {
        double half = side < 2 ? card->across : card->down, ends[PLACES];
        double reach = side < 2 ? card->down : card->across, sign = side % 2 == 0 ? -1 : 1;
        for (int k = 0; k < PLACES; k++) {
            double along = half * 0.88 * (2 * (double)k / (PLACES - 1) - 1), in = 0;
            bool reached = false;
            for (int step = 0; !reached && in < reach; step++) {
                in = step / 2.0;
                double at = sign * (reach - in);
                size_t i;
                reached = pixel_at(s, card, side < 2 ? along : at, side < 2 ? at : along, &i) &&
                          s->label[i] == p->label;
            }
            ends[k] = in;
        }
        most = fmax(most, scatter(ends, PLACES));
    }
    card->features[CARN_CARD_STRAIGHT] = most;
}

static double judge(const struct carn_card *card)
{
    double sure = carn_ramp(card->L, TOO_LIGHT, LIGHTEST) *
                  carn_ramp(card->features[CARN_CARD_SHARE], TOO_SMALL, SMALLEST);
    for (int i = 0; i < CARN_CARD_FEATURES; i++)
        sure *= carn_ramp(card->features[i], ramps[i].never, ramps[i].ever);
    return sure;
}

/* The piece's share of an upright box whose half sides are the card's times scale. */
static double own_share(const struct search *s, const struct piece *p, const struct carn_card *card,
                        double scale)
{
    double W = scale * card->across, H = scale * card->down, own = 0;
    size_t x0 = (size_t)fmax(card->middle[0] - W + 0.5, 0),
           x1 = (size_t)(card->middle[0] + W + 0.5);
    size_t y0 = (size_t)fmax(card->middle[1] - H + 0.5, 0),
           y1 = (size_t)(card->middle[1] + H + 0.5);
    for (size_t y = y0; y <= y1 && y < s->height; y++)
        for (size_t x = x0; x <= x1 && x < s->width; x++)
            own += s->label[y * s->width + x] == p->label ? 1 : 0;
    return own / ((double)(x1 - x0 + 1) * (double)(y1 - y0 + 1));
}

/* An upright box inside the card, shrunk until 98 % of it is the piece. */
static void place_box(const struct search *s, const struct piece *p, struct carn_card *card)
{
    double c = cos(card->tilt * DEGREE), d = fabs(sin(card->tilt * DEGREE));
    double W = card->across, H = card->down,
           scale = 0.85 * fmin(W / (W * c + H * d), H / (W * d + H * c));
    while (scale > 0.1 && own_share(s, p, card, scale) < 0.98)
        scale *= 0.92;
    card->x = card->middle[0] + 0.5 - scale * W;
    card->y = card->middle[1] + 0.5 - scale * H;
    card->w = 2 * scale * W;
    card->h = 2 * scale * H;
}

static void look_at(struct search *s, const struct piece *p, struct carn_card *best)
{
    struct carn_card card = {0};
    find_ends(s, p);
    fit(s, &card);
    double longer = fmax(card.across, card.down), shorter = fmin(card.across, card.down);
    double area = (double)(s->width * s->height);
    card.features[CARN_CARD_FILL] = p->n / (4 * card.across * card.down);
    card.features[CARN_CARD_LONG] = (longer + 2) / (shorter + 2);
    card.features[CARN_CARD_SHORT] = 2 * shorter;
    card.features[CARN_CARD_SHARE] = 4 * (longer + 2) * (shorter + 2) / area;
    look_at_light(p, &card);
    look_at_edges(s, p, &card);
    look_at_straightness(s, p, &card);
    card.confidence = judge(&card);
    if (card.confidence <= best->confidence)
        return;
    place_box(s, p, &card);
    *best = card;
}

/* ---- the search ---- */

static int prepare(struct search *s, struct carn_error *err)
{
    size_t count = s->width * s->height;
    const float *const planes[] = {s->planes->L, s->planes->a, s->planes->b};
    for (int c = 0; c < 3; c++) {
        s->smooth[c] = carn_alloc(count, sizeof **s->smooth, err);
        if (s->smooth[c] != NULL)
            smooth_plane(planes[c], s->smooth[c], s->width, s->height);
    }
    s->label = carn_alloc(count, sizeof *s->label, err);
    s->stack = carn_alloc(count, sizeof *s->stack, err);
    s->ends = carn_alloc(4 * s->height, sizeof *s->ends, err);
    return s->smooth[0] != NULL && s->smooth[1] != NULL && s->smooth[2] != NULL &&
                   s->label != NULL && s->stack != NULL && s->ends != NULL
               ? 0
               : -1;
}

int carn_card_find(const struct carn_thumbnail *planes, double least, struct carn_card *card,
                   struct carn_error *err)
{
    struct search s = {.planes = planes, .width = planes->width, .height = planes->height};
    uint32_t label = 2;
    *card = (struct carn_card){0};
    int rc = prepare(&s, err);
    for (size_t y = 0; rc == 0 && y < s.height; y++)
        for (size_t x = 0; x < s.width; x++)
            s.label[y * s.width + x] = is_even(&s, x, y) ? 1 : 0;
    for (size_t i = 0; rc == 0 && i < s.width * s.height; i++) {
        if (s.label[i] != 1)
            continue;
        struct piece p = flood(&s, i, label++);
        double least_side = ramps[CARN_CARD_SHORT].never;
        if (p.n >= least_side * least_side)
            look_at(&s, &p, card);
    }
    for (int c = 0; c < 3; c++)
        free(s.smooth[c]);
    free(s.label);
    free(s.stack);
    free(s.ends);
    return rc != 0 ? -1 : card->confidence > 0 && card->confidence >= least;
}
