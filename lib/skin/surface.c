#include "skin/surface.h"

#include "base/maths.h"
#include "frame/keys.h"
#include "frame/upright.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* With fewer coefficients in the corner grain is uncertain by over 15 %. */
static const size_t LEAST_CORNER = 100;

enum { LEAST_SIDE = 16, SQUARES = 64, DETAIL = 2 /* the band from 8 periods */ };

/* REACH: the last coefficient that a band needs, in half periods over the width. */
enum { REACH = 4 << CARN_BANDS, TILE = 64 };

/* ---- the filter bank ---- */

/* The first count coefficients of the orthonormal DCT-II of n points, as n rows of count: row x has
 * what point x gives to each. */
static float *cosines(size_t n, size_t count, struct carn_error *err)
{
    float *m = carn_alloc(n * count, sizeof *m, err);
    for (size_t x = 0; m != NULL && x < n; x++)
        for (size_t u = 0; u < count; u++)
            m[x * count + u] =
                (float)(sqrt((u == 0 ? 1.0 : 2.0) / (double)n) *
                        cos(CARN_PI * (double)((2 * x + 1) * u % (4 * n)) / (2 * (double)n)));
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

/* The first u by v coefficients of planes of w by h. wide: the side that is the patch's width as it
 * is seen, w or h. */
struct transform {
    size_t w, h, u, v, wide;
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
    return err->kind == CARN_NONE ? 0 : -1;
}

static void close_transform(struct transform *t)
{
    free(t->along);
    free(t->down);
    free(t->row);
    free(t->to);
}

/* Adds what row y of the plane gives to each coefficient. */
static void add_row(struct transform *t, size_t y, const float *values)
{
    memset(t->row, 0, t->u * sizeof *t->row);
    for (size_t x = 0; x < t->w; x++)
        add(t->row, values[x], t->along + x * t->u, t->u);
    for (size_t v = 0; v < t->v; v++)
        add(t->to + v * t->u, t->down[y * t->v + v], t->row, t->u);
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
            double periods =
                hypot((double)u / (double)t->w, (double)v / (double)t->h) * (double)t->wide / 2;
            int i = periods < 2 ? -1 : ilogb(periods) - 1;
            if (periods > (double)t->wide / 2 || i >= CARN_BANDS) {
                b->rest += power;
            } else if (i < 0) {
                b->low += power;
            } else {
                b->band[i] += power;
                b->count[i]++;
            }
        }
}

/* How a patch is stored: on its side, and from which ends. */
struct laid {
    bool lies, from_right, from_below;
};

static struct laid laid_of(unsigned orientation, size_t w, size_t h)
{
    struct carn_area corner = carn_upright_area(orientation, w, h, (struct carn_area){0, 0, 1, 1});
    bool lies = carn_upright_lies(orientation);
    return (struct laid){lies, (lies ? corner.y0 : corner.x0) > 0,
                         (lies ? corner.x0 : corner.y0) > 0};
}

/* The bands of one plane, row by row. */
struct bank {
    struct transform whole, tile;
    size_t left, top; /* pixels before the first tile */
    float *strip;     /* rows of tiles, to tell grain by where whole has no corner; else NULL */
    float *row, offset;
    size_t rows, strip_rows;
    double along, down; /* slopes of the plane, before they are divided by their norm */
    struct carn_bands bands;
};

static bool has_corner(const struct bank *b)
{
    return b->whole.u == b->whole.w && b->whole.v == b->whole.h;
}

/* The coefficients along one side that reach the last band. */
static size_t reach(size_t side, size_t wide)
{
    return least(side, side == wide ? REACH : REACH * side / wide + 1);
}

/* Tiles are laid from the corner that is seen left above, as squares are. */
static int open_bank(struct bank *b, size_t w, size_t h, struct laid laid, struct carn_error *err)
{
    size_t wide = laid.lies ? h : w, tw = least(w, TILE), th = least(h, TILE);
    *b = (struct bank){.left = laid.from_right ? w % tw : 0, .top = laid.from_below ? h % th : 0};
    b->row = carn_alloc(w, sizeof *b->row, err);
    if (b->row == NULL || open_transform(&b->whole, w, h, reach(w, wide), reach(h, wide), err) != 0)
        return -1;
    b->whole.wide = wide;
    if (has_corner(b))
        return 0;
    b->strip = carn_alloc(w * th, sizeof *b->strip, err);
    return b->strip != NULL ? open_transform(&b->tile, tw, th, tw, th, err) : -1;
}

static void close_bank(struct bank *b)
{
    close_transform(&b->whole);
    close_transform(&b->tile);
    free(b->strip);
    free(b->row);
}

/* Grain is white noise, so each tile tells it. */
static void read_strip(struct bank *b)
{
    size_t w = b->whole.w;
    for (size_t x = b->left; x + b->tile.w <= w; x += b->tile.w) {
        memset(b->tile.to, 0, b->tile.u * b->tile.v * sizeof *b->tile.to);
        for (size_t y = 0; y < b->tile.h; y++)
            add_row(&b->tile, y, b->strip + y * w + x);
        add_corner(&b->tile, &b->bands);
    }
    b->strip_rows = 0;
}

/* The first value is subtracted from all: floats keep more digits of small numbers. */
static void take_row(struct bank *b, const float *values)
{
    size_t w = b->whole.w;
    double sum = 0, middle = (double)(w - 1) / 2;
    if (b->rows == 0)
        b->offset = values[0];
    for (size_t x = 0; x < w; x++) {
        b->row[x] = values[x] - b->offset;
        sum += (double)b->row[x];
        b->along += (double)b->row[x] * ((double)x - middle);
    }
    b->down += sum * ((double)b->rows - (double)(b->whole.h - 1) / 2);
    add_row(&b->whole, b->rows++, b->row);
    if (b->strip == NULL || b->rows <= b->top)
        return;
    memcpy(b->strip + b->strip_rows * w, b->row, w * sizeof *b->row);
    if (++b->strip_rows == b->tile.h)
        read_strip(b);
}

/* Subtracts a slope of sum / norm from the coefficients of one direction. n: points along it.
 * across: points in the other direction, all of which have the slope. step: between coefficients
 * in `to`. */
static void level(const float *cosine, size_t n, size_t count, double sum, size_t across, float *to,
                  size_t step)
{
    double middle = (double)(n - 1) / 2, norm = 0;
    for (size_t x = 0; x < n; x++)
        norm += pow((double)x - middle, 2) * (double)across;
    for (size_t u = 1; u < count && norm > 0; u++) {
        double ramp = 0;
        for (size_t x = 0; x < n; x++)
            ramp += ((double)x - middle) * (double)cosine[x * count + u];
        to[u * step] -= (float)(sum / norm * ramp * sqrt((double)across));
    }
}

/* First subtracts the plane that fits all values by least squares. */
static void finish_bank(struct bank *b)
{
    struct transform *t = &b->whole;
    t->to[0] = 0;
    level(t->along, t->w, t->u, b->along, t->h, t->to, 1);
    level(t->down, t->h, t->v, b->down, t->w, t->to, t->u);
    sort_bands(t, &b->bands);
    if (has_corner(b))
        add_corner(t, &b->bands);
    if (b->bands.corner_count > 0)
        b->bands.white /= (double)b->bands.corner_count;
}

int carn_bands_measure(const float *plane, size_t w, size_t h, struct carn_bands *bands,
                       struct carn_error *err)
{
    struct bank b;
    int rc = open_bank(&b, w, h, (struct laid){0}, err);
    for (size_t y = 0; rc == 0 && y < h; y++)
        take_row(&b, plane + y * w);
    if (rc == 0)
        finish_bank(&b);
    *bands = b.bands;
    close_bank(&b);
    return rc;
}

/* ---- the surface of a patch ---- */

struct carn_surface {
    struct carn_box box;
    const struct carn_profile *profile;
    size_t colours, channels, width, height; /* as stored */
    size_t wide;                             /* the patch's width as it is seen */
    bool alpha, transparent;
    struct bank banks[3]; /* L*, a*, b* */
    size_t side;          /* of a square of the roll-off */
    size_t left, top;     /* pixels before the first square */
    struct carn_lab *squares;
    double *encoded; /* of a row */
    struct carn_lab *lab;
    float *values;
};

/* ---- pixels ---- */

struct carn_surface *carn_surface_open(const struct carn_box *box, const struct carn_frame *frame,
                                       const struct carn_profile *profile, struct carn_error *err)
{
    size_t w = box->x1 - box->x0, h = box->y1 - box->y0;
    if (w < LEAST_SIDE || h < LEAST_SIDE) {
        carn_fail(err, CARN_INPUT, "patch '%s' has %zu x %zu pixels, a surface needs %d x %d",
                  box->patch, w, h, LEAST_SIDE, LEAST_SIDE);
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
    struct laid laid = laid_of(carn_frame_orientation(frame), w, h);
    s->wide = laid.lies ? h : w;
    s->encoded = carn_alloc(w, 3 * sizeof *s->encoded, err);
    s->lab = carn_alloc(w, sizeof *s->lab, err);
    s->values = carn_alloc(w, sizeof *s->values, err);
    s->side = s->wide / SQUARES > 1 ? least(s->wide / SQUARES, least(w, h)) : 1;
    s->left = laid.from_right ? w % s->side : 0;
    s->top = laid.from_below ? h % s->side : 0;
    s->squares = carn_alloc((w / s->side) * (h / s->side), sizeof *s->squares, err);
    for (size_t c = 0; c < 3 && err->kind == CARN_NONE; c++)
        (void)open_bank(&s->banks[c], w, h, laid, err); /* what failed is in err */
    if (err->kind == CARN_NONE)
        return s;
    carn_surface_close(s);
    return NULL;
}

void carn_surface_close(struct carn_surface *s)
{
    if (s == NULL)
        return;
    for (size_t c = 0; c < 3; c++)
        close_bank(&s->banks[c]);
    free(s->values);
    free(s->squares);
    free(s->encoded);
    free(s->lab);
    free(s);
}

/* Adds the colours of row y of the patch to its squares. Pixels outside of whole squares are left
 * out. */
static void add_squares(struct carn_surface *s, size_t y)
{
    size_t across = s->width / s->side;
    if (y < s->top || (y - s->top) / s->side >= s->height / s->side)
        return;
    struct carn_lab *squares = s->squares + (y - s->top) / s->side * across;
    const struct carn_lab *lab = s->lab + s->left;
    for (size_t x = 0; x < across * s->side; x++) {
        struct carn_lab *to = &squares[x / s->side];
        *to = (struct carn_lab){to->L + lab[x].L, to->a + lab[x].a, to->b + lab[x].b};
    }
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
    for (size_t c = 0; c < 3; c++) {
        for (size_t x = 0; x < s->width; x++)
            s->values[x] = (float)(c == 0 ? s->lab[x].L : c == 1 ? s->lab[x].a : s->lab[x].b);
        take_row(&s->banks[c], s->values);
    }
    add_squares(s, y - s->box.y0);
}

/* ---- highlight roll-off ---- */

static int by_lightness(const void *a, const void *b)
{
    const struct carn_lab *p = a, *q = b;
    return p->L < q->L ? -1 : p->L > q->L;
}

/* Mean L* and chroma of the squares of these ranks: from low up to high, 0..1. */
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

static void roll_off(struct carn_surface *s, struct carn_surface_row *row)
{
    struct carn_lab *squares = s->squares;
    size_t n = (s->width / s->side) * (s->height / s->side);
    double k = 1 / (double)(s->side * s->side);
    for (size_t i = 0; i < n; i++)
        squares[i] = (struct carn_lab){squares[i].L * k, squares[i].a * k, squares[i].b * k};
    qsort(squares, n, sizeof *squares, by_lightness);
    double middle = squares[n / 2].L, below = middle - squares[n / 50].L;
    double L0, L1, C0, C1;
    part(squares, n, 0.4, 0.6, &L0, &C0);
    part(squares, n, 0.95, 1, &L1, &C1);
    row->highlight = squares[n - 1 - n / 50].L;
    row->shoulder = below > 0.1 ? (row->highlight - middle) / below : (double)NAN;
    row->chroma_slope = L1 - L0 > 0.5 ? (C1 - C0) / (L1 - L0) : (double)NAN;
}

/* ---- the row ---- */

/* Root of the bands' power less that of grain; NAN when pixels are too coarse for the last band. */
static double root(const struct carn_surface *s, const struct carn_bands *b, size_t first,
                   size_t end)
{
    double power = 0, pixels = (double)(s->width * s->height);
    if (end <= first || s->wide >> (end + 2) == 0 || b->corner_count < LEAST_CORNER)
        return (double)NAN;
    for (size_t i = first; i < end; i++)
        power += b->band[i] - (double)b->count[i] * b->white / pixels;
    return sqrt(fmax(power, 0));
}

int carn_surface_finish(struct carn_surface *s, struct carn_surface_row *row,
                        struct carn_error *err)
{
    size_t whole = 0; /* bands whose end is at most half a period a pixel */
    if (s->transparent)
        return carn_fail(err, CARN_INPUT, "patch '%s' is not opaque", s->box.patch);
    while (whole < CARN_BANDS && s->wide >> (whole + 3) > 0)
        whole++;
    for (size_t c = 0; c < 3; c++) {
        const struct carn_bands *bands = &s->banks[c].bands;
        finish_bank(&s->banks[c]);
        for (size_t i = 0; i < CARN_BANDS; i++)
            row->band[c][i] = i < whole ? root(s, bands, i, i + 1) : (double)NAN;
        row->grain[c] = bands->corner_count < LEAST_CORNER ? (double)NAN : sqrt(bands->white);
    }
    row->detail = root(s, &s->banks[0].bands, DETAIL, whole);
    for (size_t c = 0; c < 2; c++)
        row->mottle[c] = whole >= DETAIL ? root(s, &s->banks[c + 1].bands, 0, DETAIL) : (double)NAN;
    roll_off(s, row);
    return 0;
}
