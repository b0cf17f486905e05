#include "surface.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double PI = 3.14159265358979323846;

/* Fewer coefficients in the corner tell grain by worse than 15 %. */
static const size_t LEAST_CORNER = 100;

enum { LEAST_SIDE = 16, SQUARES = 64, DETAIL = 2 /* the band from 8 periods */ };

/* Half periods over the width up to the end of the last band; no coefficient beyond is needed. */
enum { REACH = 4 << CARN_BANDS, TILE = 64 };

struct carn_surface {
    struct carn_box box;
    const struct carn_profile *profile;
    size_t colours, channels, width, height;
    bool alpha, transparent;
    float *planes[3]; /* L*, a*, b* */
    double *encoded;  /* of a row */
    struct carn_lab *lab;
};

/* ---- the filter bank ---- */

/* The plane through v, by least squares, taken off. */
static void level(const float *v, size_t w, size_t h, float *to)
{
    double sum = 0, along = 0, down = 0, ww = 0, hh = 0;
    for (size_t y = 0; y < h; y++)
        for (size_t x = 0; x < w; x++) {
            double value = (double)v[y * w + x];
            sum += value;
            along += value * ((double)x - (double)(w - 1) / 2);
            down += value * ((double)y - (double)(h - 1) / 2);
        }
    for (size_t x = 0; x < w; x++)
        ww += pow((double)x - (double)(w - 1) / 2, 2) * (double)h;
    for (size_t y = 0; y < h; y++)
        hh += pow((double)y - (double)(h - 1) / 2, 2) * (double)w;
    double mean = sum / (double)(w * h);
    along = ww > 0 ? along / ww : 0;
    down = hh > 0 ? down / hh : 0;
    for (size_t y = 0; y < h; y++)
        for (size_t x = 0; x < w; x++)
            to[y * w + x] =
                (float)((double)v[y * w + x] - mean - along * ((double)x - (double)(w - 1) / 2) -
                        down * ((double)y - (double)(h - 1) / 2));
}

/* The first count coefficients of the orthonormal DCT-II of n points, as n rows of count: row x has
 * what point x gives to each. */
static float *cosines(size_t n, size_t count, struct carn_error *err)
{
    float *m = carn_alloc(n * count, sizeof *m, err);
    for (size_t x = 0; m != NULL && x < n; x++)
        for (size_t u = 0; u < count; u++)
            m[x * count + u] =
                (float)(sqrt((u == 0 ? 1.0 : 2.0) / (double)n) *
                        cos(PI * (double)((2 * x + 1) * u % (4 * n)) / (2 * (double)n)));
    return m;
}

static void add(float *to, float share, const float *from, size_t n)
{
    for (size_t i = 0; i < n; i++)
        to[i] += share * from[i];
}

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* The first u by v coefficients of planes of w by h. */
struct transform {
    size_t w, h, u, v;
    float *along, *down, *row, *to;
};

static int open_transform(struct transform *t, size_t w, size_t h, size_t u, size_t v,
                          struct carn_error *err)
{
    *t = (struct transform){.w = w, .h = h, .u = u, .v = v};
    t->along = cosines(w, u, err);
    t->down = cosines(h, v, err);
    t->row = carn_alloc(u, sizeof *t->row, err);
    t->to = carn_alloc(u * v, sizeof *t->to, err);
    return err->text[0] == '\0' ? 0 : -1;
}

static void close_transform(struct transform *t)
{
    free(t->along);
    free(t->down);
    free(t->row);
    free(t->to);
}

/* Rows of the plane begin stride apart. */
static void run_transform(struct transform *t, const float *plane, size_t stride)
{
    memset(t->to, 0, t->u * t->v * sizeof *t->to);
    for (size_t y = 0; y < t->h; y++) {
        memset(t->row, 0, t->u * sizeof *t->row);
        for (size_t x = 0; x < t->w; x++)
            add(t->row, plane[y * stride + x], t->along + x * t->u, t->u);
        for (size_t v = 0; v < t->v; v++)
            add(t->to + v * t->u, t->down[y * t->v + v], t->row, t->u);
    }
}

/* Adds the powers beyond half a period a pixel. */
static void add_corner(const struct transform *t, struct carn_bands *b)
{
    for (size_t v = 0; v < t->v; v++)
        for (size_t u = 0; u < t->u; u++)
            if (hypot((double)u / (double)t->w, (double)v / (double)t->h) > 1) {
                b->white += (double)t->to[v * t->u + u] * (double)t->to[v * t->u + u];
                b->corner_count++;
            }
}

static void sort_bands(const struct transform *t, struct carn_bands *b)
{
    double pixels = (double)(t->w * t->h);
    for (size_t v = 0; v < t->v; v++)
        for (size_t u = 0; u < t->u; u++) {
            double power = (double)t->to[v * t->u + u] * (double)t->to[v * t->u + u] / pixels;
            double periods = hypot((double)u, (double)v * (double)t->w / (double)t->h) / 2;
            int i = periods < 2 ? -1 : ilogb(periods) - 1;
            if (periods > (double)t->w / 2 || i >= CARN_BANDS) {
                b->rest += power;
            } else if (i < 0) {
                b->low += power;
            } else {
                b->band[i] += power;
                b->count[i]++;
            }
        }
}

/* Grain is white, so that any part of the patch tells of it: in place of a corner that the whole
 * leaves out, those of squares. */
static void measure_grain(const struct transform *whole, const float *flat, struct carn_bands *b,
                          struct carn_error *err)
{
    struct transform tile = {0};
    size_t w = whole->w, h = whole->h;
    if (whole->u == w && whole->v == h) {
        add_corner(whole, b);
    } else if (open_transform(&tile, least(w, TILE), least(h, TILE), least(w, TILE), least(h, TILE),
                              err) == 0) {
        for (size_t y = 0; y + tile.h <= h; y += tile.h)
            for (size_t x = 0; x + tile.w <= w; x += tile.w) {
                run_transform(&tile, flat + y * w + x, w);
                add_corner(&tile, b);
            }
    }
    close_transform(&tile);
    b->white = b->corner_count > 0 ? b->white / (double)b->corner_count : 0;
}

int carn_bands_measure(const float *plane, size_t w, size_t h, struct carn_bands *bands,
                       struct carn_error *err)
{
    struct transform whole = {0};
    float *flat = carn_alloc(w * h, sizeof *flat, err);
    size_t u = least(w, REACH), v = least(h, REACH * h / w + 1);
    *bands = (struct carn_bands){0};
    if (flat != NULL && open_transform(&whole, w, h, u, v, err) == 0) {
        level(plane, w, h, flat);
        run_transform(&whole, flat, w);
        sort_bands(&whole, bands);
        measure_grain(&whole, flat, bands, err);
    }
    close_transform(&whole);
    free(flat);
    return err->text[0] == '\0' ? 0 : -1;
}

/* ---- pixels ---- */

struct carn_surface *carn_surface_open(const struct carn_box *box, const struct carn_frame *frame,
                                       const struct carn_profile *profile, struct carn_error *err)
{
    size_t w = box->x1 - box->x0, h = box->y1 - box->y0;
    if (w < LEAST_SIDE || h < LEAST_SIDE) {
        carn_fail(err, "patch '%s' has %zu x %zu pixels, a surface needs %d x %d", box->patch, w, h,
                  LEAST_SIDE, LEAST_SIDE);
        return NULL;
    }
    struct carn_surface *s = carn_alloc(1, sizeof *s, err);
    if (s == NULL)
        return NULL;
    *s = (struct carn_surface){.box = *box,
                               .profile = profile,
                               .colours = frame->colours,
                               .channels = carn_frame_channels(frame),
                               .width = w,
                               .height = h,
                               .alpha = frame->alpha};
    s->encoded = carn_alloc(w, 3 * sizeof *s->encoded, err);
    s->lab = carn_alloc(w, sizeof *s->lab, err);
    for (size_t c = 0; c < 3; c++)
        s->planes[c] = carn_alloc(w * h, sizeof(float), err);
    if (err->text[0] == '\0')
        return s;
    carn_surface_close(s);
    return NULL;
}

void carn_surface_close(struct carn_surface *s)
{
    if (s == NULL)
        return;
    for (size_t c = 0; c < 3; c++)
        free(s->planes[c]);
    free(s->encoded);
    free(s->lab);
    free(s);
}

void carn_surface_take(struct carn_surface *s, size_t y, const uint16_t *row)
{
    if (y < s->box.y0 || y >= s->box.y1)
        return;
    for (size_t x = 0; x < s->width; x++) {
        const uint16_t *pixel = row + (s->box.x0 + x) * s->channels;
        for (size_t c = 0; c < s->colours; c++)
            s->encoded[x * s->colours + c] = pixel[c] / 65535.0;
        s->transparent = s->transparent || (s->alpha && pixel[s->colours] != 65535);
    }
    carn_profile_to_lab(s->profile, s->encoded, s->lab, s->width);
    size_t at = (y - s->box.y0) * s->width;
    for (size_t x = 0; x < s->width; x++, at++) {
        s->planes[0][at] = (float)s->lab[x].L;
        s->planes[1][at] = (float)s->lab[x].a;
        s->planes[2][at] = (float)s->lab[x].b;
    }
}

/* ---- highlight roll-off ---- */

static int by_lightness(const void *a, const void *b)
{
    const struct carn_lab *p = a, *q = b;
    return p->L < q->L ? -1 : p->L > q->L;
}

/* Means of squares of side pixels, the last ones cut off. */
static size_t average(const struct carn_surface *s, size_t side, struct carn_lab *squares)
{
    size_t n = 0;
    for (size_t y = 0; y + side <= s->height; y += side)
        for (size_t x = 0; x + side <= s->width; x += side) {
            double sum[3] = {0, 0, 0};
            for (size_t i = 0; i < side * side; i++)
                for (size_t c = 0; c < 3; c++)
                    sum[c] += (double)s->planes[c][(y + i / side) * s->width + x + i % side];
            double k = (double)(side * side);
            squares[n++] = (struct carn_lab){sum[0] / k, sum[1] / k, sum[2] / k};
        }
    return n;
}

/* Mean L* and chroma of squares from low up to high, shares of their order. */
static void part(const struct carn_lab *squares, size_t n, double low, double high, double *L,
                 double *chroma)
{
    size_t from = (size_t)(low * (double)n), to = (size_t)(high * (double)n);
    *L = *chroma = 0;
    for (size_t i = from; i < to; i++) {
        *L += squares[i].L / (double)(to - from);
        *chroma += carn_chroma(squares[i]) / (double)(to - from);
    }
}

static int roll_off(const struct carn_surface *s, struct carn_surface_row *row,
                    struct carn_error *err)
{
    size_t side = s->width / SQUARES > 1 ? s->width / SQUARES : 1;
    struct carn_lab *squares =
        carn_alloc((s->width / side) * (s->height / side), sizeof *squares, err);
    if (squares == NULL)
        return -1;
    size_t n = average(s, side, squares);
    qsort(squares, n, sizeof *squares, by_lightness);
    double middle = squares[n / 2].L, below = middle - squares[n / 50].L;
    double L0, L1, C0, C1;
    part(squares, n, 0.4, 0.6, &L0, &C0);
    part(squares, n, 0.95, 1, &L1, &C1);
    row->top = squares[n - 1 - n / 50].L;
    row->bend = below > 0.1 ? (row->top - middle) / below : (double)NAN;
    row->fade = L1 - L0 > 0.5 ? (C1 - C0) / (L1 - L0) : (double)NAN;
    free(squares);
    return 0;
}

/* ---- the row ---- */

/* The root of what bands have over grain; NAN when a pixel is too coarse for the last of them. */
static double root(const struct carn_surface *s, const struct carn_bands *b, size_t first,
                   size_t end)
{
    double power = 0, pixels = (double)(s->width * s->height);
    if (end <= first || s->width >> (end + 2) == 0 || b->corner_count < LEAST_CORNER)
        return (double)NAN;
    for (size_t i = first; i < end; i++)
        power += b->band[i] - (double)b->count[i] * b->white / pixels;
    return sqrt(fmax(power, 0));
}

int carn_surface_finish(const struct carn_surface *s, struct carn_surface_row *row,
                        struct carn_error *err)
{
    size_t whole = 0; /* bands that end within half a period a pixel */
    struct carn_bands bands[3];
    if (s->transparent)
        return carn_fail(err, "patch '%s' is not opaque", s->box.patch);
    while (whole < CARN_BANDS && s->width >> (whole + 3) > 0)
        whole++;
    for (size_t c = 0; c < 3; c++) {
        if (carn_bands_measure(s->planes[c], s->width, s->height, &bands[c], err) != 0)
            return -1;
        for (size_t i = 0; i < CARN_BANDS; i++)
            row->band[c][i] = i < whole ? root(s, &bands[c], i, i + 1) : (double)NAN;
        row->grain[c] = bands[c].corner_count < LEAST_CORNER ? (double)NAN : sqrt(bands[c].white);
    }
    row->detail = root(s, &bands[0], DETAIL, whole);
    for (size_t c = 0; c < 2; c++)
        row->mottle[c] = whole >= DETAIL ? root(s, &bands[c + 1], 0, DETAIL) : (double)NAN;
    return roll_off(s, row, err);
}
