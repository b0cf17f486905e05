#include "skin/face_skin.h"

#include "base/maths.h"
#include "base/order.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Light, middle, shade: from which rank by luminance to which, 0 the darkest, 1 the lightest. */
static const double ranks[CARN_TONES][2] = {{0.70, 0.95}, {0.375, 0.625}, {0.05, 0.30}};

/* Pixels darker or greyer than this have no usable hue: L*, and chroma by L* + 16. */
static const double DARK = 6, GREY = 0.04;

/* Greatest distance from the face's own colour, as a share of its chroma: LOOSE in the first pass;
 * after it SPREADS times the spread of the skin, kept within TIGHT_LOW and TIGHT_HIGH. */
static const double LOOSE = 0.45, TIGHT_LOW = 0.20, TIGHT_HIGH = 0.40, SPREADS = 3;

/* What is darker by DARKER of L* + 16 than the darkest DARKEST of cheeks and nose is hair, whatever
 * its hue. */
static const double DARKEST = 0.03, DARKER = 0.18;

/* What is brighter by BRIGHTER of L* + 16 than BRIGHT of cheeks and nose is background, whatever
 * its hue. */
static const double BRIGHT = 0.75, BRIGHTER = 0.5;

/* The face's own colour as a function of L* has this many nodes. At a node the tangent of the angle
 * to the middle's hue is at most NODE_HUE; chroma lies between NODE_LOW and NODE_HIGH times what
 * shading or contrast would give. */
enum { NODES = 8 };
static const double NODE_HUE = 0.27, NODE_LOW = 0.75, NODE_HIGH = 1.4;

/* Least share of skin among the pixels around one of own skin. */
static const double COMPANY = 0.7;

/* With less own skin than this, in pixels or as a share of the oval, a face has none. */
static const double LEAST = 16, LEAST_SHARE = 0.12;

/* The side of the square in which toning is judged, in sides of the square around the oval. */
static const double AROUND = 1.2;

/* A pixel that counts as green: a* under 0 with at least this chroma. */
static const double GREEN = 3;

struct pixel {
    float L, a, b;
    size_t at;
    unsigned char region, own;
};

struct colour {
    double L, a, b;
};

/* The own colour of a face over L*; its middle; nothing is skin under low nor over high. */
struct own {
    struct colour middle, node[NODES];
    double low, high;
};

struct face {
    size_t count;
    struct pixel *pixels;
    float *values;
};

/* A square around the oval, cut at the picture's edges; false when nothing is left. */
static bool square_around(const struct carn_thumbnail *planes, const struct carn_outline *o,
                          double margin, size_t to[4])
{
    double reach = fmax(o->across, o->down) * margin;
    double left = fmax(floor(o->x - reach), 0), top = fmax(floor(o->y - reach), 0);
    double right = fmin(ceil(o->x + reach), (double)planes->width);
    double low = fmin(ceil(o->y + reach), (double)planes->height);
    if (!(right > left) || !(low > top))
        return false;
    to[0] = (size_t)left;
    to[1] = (size_t)top;
    to[2] = (size_t)right;
    to[3] = (size_t)low;
    return true;
}

static double find_toning(const struct carn_thumbnail *planes, const struct carn_outline *o)
{
    enum { STEPS = 101 }; /* of L* */
    double sums[STEPS][4] = {{0}}, strays = 0, count = 0;
    size_t in[4] = {0, 0, 0, 0};
    (void)square_around(planes, o, AROUND, in);
    for (size_t y = in[1]; y < in[3]; y++)
        for (size_t x = in[0]; x < in[2]; x++) {
            size_t at = y * planes->width + x;
            double a = (double)planes->a[at], b = (double)planes->b[at];
            double *sum = sums[(int)fmin(fmax((double)planes->L[at], 0), STEPS - 1)];
            sum[0]++;
            sum[1] += a;
            sum[2] += b;
            sum[3] += a * a + b * b;
            count++;
        }
    for (int i = 0; i < STEPS; i++)
        if (sums[i][0] > 0)
            strays += sums[i][3] - (sums[i][1] * sums[i][1] + sums[i][2] * sums[i][2]) / sums[i][0];
    return sqrt(fmax(strays, 0) / fmax(count, 1));
}

/* All pixels of the oval but eyes, brows and mouth. */
static int collect(const struct carn_thumbnail *planes, const struct carn_outline *o,
                   struct face *face, struct carn_error *err)
{
    size_t in[4];
    if (!square_around(planes, o, 1, in))
        return carn_fail(err, CARN_INPUT, "the face's oval lies outside the picture");
    size_t x0 = in[0], x1 = in[2], y0 = in[1], y1 = in[3];
    face->pixels = carn_alloc((x1 - x0) * (y1 - y0), sizeof *face->pixels, err);
    face->values = carn_alloc((x1 - x0) * (y1 - y0), sizeof *face->values, err);
    if (face->pixels == NULL || face->values == NULL)
        return -1;
    for (size_t y = y0; y < y1; y++)
        for (size_t x = x0; x < x1; x++) {
            enum carn_region region = carn_outline_region(o, (double)x + 0.5, (double)y + 0.5);
            if (region == CARN_OUTSIDE || region == CARN_FEATURE)
                continue;
            size_t at = y * planes->width + x;
            face->pixels[face->count++] = (struct pixel){.L = planes->L[at],
                                                         .a = planes->a[at],
                                                         .b = planes->b[at],
                                                         .at = at,
                                                         .region = (unsigned char)region};
        }
    return face->count > 0 ? 0
                           : carn_fail(err, CARN_INPUT, "the face's oval is smaller than a pixel");
}

static bool cut_off(uint16_t sample)
{
    return sample <= CARN_THUMBNAIL_LOW || sample >= CARN_THUMBNAIL_HIGH;
}

static int cut_samples(const struct carn_thumbnail *planes, size_t at)
{
    const uint16_t *rgb = planes->rgb + 3 * at;
    return cut_off(rgb[0]) + cut_off(rgb[1]) + cut_off(rgb[2]);
}

/* Opaque, and neither black nor grey. Clipped pixels stay: without them the others' ranks would
 * change. */
static bool has_colour(const struct carn_thumbnail *planes, const struct pixel *p)
{
    bool opaque = !planes->unfit[p->at] || cut_samples(planes, p->at) > 0;
    return opaque && (double)p->L > DARK &&
           hypot((double)p->a, (double)p->b) > GREY * ((double)p->L + 16);
}

/* The medians of L*, a* and b* of the pixels that are own; false when there are none. */
static bool find_middle(struct face *face, struct colour *middle)
{
    double *to[] = {&middle->L, &middle->a, &middle->b};
    for (int c = 0; c < 3; c++) {
        size_t n = 0;
        for (size_t i = 0; i < face->count; i++) {
            const struct pixel *p = &face->pixels[i];
            if (p->own)
                face->values[n++] = c == 0 ? p->L : c == 1 ? p->a : p->b;
        }
        if (n == 0)
            return false;
        *to[c] = carn_quantile(face->values, n, 0.5);
    }
    return hypot(middle->a, middle->b) > 0;
}

/* What shading and contrast make of the chroma of one colour at another L*: in proportion to
 * L* + 16, or the same; low and high of the two. */
static void chroma_range(const struct colour *from, double L, double *low, double *high)
{
    double same = hypot(from->a, from->b), shaded = same * (L + 16) / (from->L + 16);
    *low = fmin(same, shaded);
    *high = fmax(same, shaded);
}

/* Distance from the middle colour in any light on it; 1 is as far as grey is. */
static double far_from_middle(const struct colour *middle, const struct pixel *p)
{
    double a = (double)p->a, b = (double)p->b, low, high;
    double along = a * middle->a + b * middle->b, across = b * middle->a - a * middle->b;
    if (along <= 0)
        return HUGE_VAL;
    chroma_range(middle, (double)p->L, &low, &high);
    double chroma = hypot(a, b);
    double off = chroma < low ? 1 - chroma / low : chroma > high ? chroma / high - 1 : 0;
    return hypot(off, across / along);
}

/* Distance from the own colour at this L*; 1 is as far as grey is. */
static double far_from_own(const struct own *own, const struct pixel *p)
{
    const struct colour *node = own->node;
    double L = (double)p->L, share = 0;
    int i = 0;
    while (i < NODES - 2 && L > node[i + 1].L)
        i++;
    if (node[i + 1].L > node[i].L)
        share = fmin(fmax((L - node[i].L) / (node[i + 1].L - node[i].L), 0), 1);
    double a = node[i].a + share * (node[i + 1].a - node[i].a);
    double b = node[i].b + share * (node[i + 1].b - node[i].b);
    return hypot((double)p->a - a, (double)p->b - b) / hypot(a, b);
}

static int by_lightness(const void *x, const void *y)
{
    const struct pixel *a = x, *b = y;
    if (a->L < b->L || a->L > b->L)
        return a->L < b->L ? -1 : 1;
    return a->at < b->at ? -1 : a->at > b->at;
}

/* Limits a node to colours that light and shade can make of the middle's. */
static void bound_node(const struct colour *middle, struct colour *node)
{
    double size = hypot(middle->a, middle->b), low, high;
    double ua = middle->a / size, ub = middle->b / size;
    double along = node->a * ua + node->b * ub, across = node->b * ua - node->a * ub;
    chroma_range(middle, node->L, &low, &high);
    along = fmin(fmax(along, NODE_LOW * low), NODE_HIGH * high);
    across = fmin(fmax(across, -NODE_HUE * along), NODE_HUE * along);
    node->a = along * ua - across * ub;
    node->b = along * ub + across * ua;
}

/* Nodes from the pixels that are own, an equal number for each: their medians. */
static void find_nodes(struct face *face, struct own *own)
{
    size_t n = 0;
    qsort(face->pixels, face->count, sizeof *face->pixels, by_lightness);
    for (size_t i = 0; i < face->count; i++)
        n += face->pixels[i].own;
    size_t i = 0, seen = 0;
    for (size_t k = 0; k < NODES; k++) {
        size_t end = n * (k + 1) / NODES, from = i, first = seen, count;
        struct colour *node = &own->node[k];
        *node = k > 0 ? own->node[k - 1] : own->middle;
        double *to[] = {&node->L, &node->a, &node->b};
        for (int c = 0; c < 3 && first < end; c++) {
            count = 0;
            for (i = from, seen = first; seen < end; i++) {
                const struct pixel *p = &face->pixels[i];
                if (!p->own)
                    continue;
                face->values[count++] = c == 0 ? p->L : c == 1 ? p->a : p->b;
                seen++;
            }
            *to[c] = carn_quantile(face->values, count, 0.5);
        }
        bound_node(&own->middle, node);
    }
}

static void mark_loosely(const struct carn_thumbnail *planes, struct face *face,
                         const struct own *own)
{
    for (size_t i = 0; i < face->count; i++) {
        struct pixel *p = &face->pixels[i];
        p->own = has_colour(planes, p) && (double)p->L >= own->low && (double)p->L <= own->high &&
                 far_from_middle(&own->middle, p) < LOOSE;
    }
}

/* How dark and how light skin can be, by the cheeks and the nose. */
static void find_ends(struct face *face, struct own *own)
{
    size_t n = 0;
    for (size_t i = 0; i < face->count; i++)
        if (face->pixels[i].own && face->pixels[i].region == CARN_SUREST)
            face->values[n++] = face->pixels[i].L;
    if (n == 0)
        return;
    own->low = (carn_quantile(face->values, n, DARKEST) + 16) * (1 - DARKER) - 16;
    own->high = (carn_quantile(face->values, n, BRIGHT) + 16) * (1 + BRIGHTER) - 16;
}

/* Marks the pixels of the face's own colour; false when the face has no colour. */
static bool find_own(const struct carn_thumbnail *planes, struct face *face)
{
    struct own own = {.high = HUGE_VAL};
    size_t surest = 0, n = 0;
    for (size_t i = 0; i < face->count; i++) {
        struct pixel *p = &face->pixels[i];
        p->own = p->region == CARN_SUREST && has_colour(planes, p);
        surest += p->own;
    }
    for (size_t i = 0; (double)surest < LEAST && i < face->count; i++)
        face->pixels[i].own = has_colour(planes, &face->pixels[i]);
    if (!find_middle(face, &own.middle))
        return false;
    mark_loosely(planes, face, &own);
    find_ends(face, &own);
    mark_loosely(planes, face, &own);
    if (!find_middle(face, &own.middle))
        return false;
    mark_loosely(planes, face, &own);
    find_nodes(face, &own);
    for (size_t i = 0; i < face->count; i++)
        if (face->pixels[i].own)
            face->values[n++] = (float)far_from_own(&own, &face->pixels[i]);
    if (n == 0)
        return false;
    /* Of a round scatter half lies within 1.177 standard deviations (Rayleigh). */
    double within = SPREADS * carn_quantile(face->values, n, 0.5) / 1.177;
    within = fmin(fmax(within, TIGHT_LOW), TIGHT_HIGH);
    for (size_t i = 0; i < face->count; i++) {
        struct pixel *p = &face->pixels[i];
        p->own = has_colour(planes, p) && (double)p->L >= own.low && (double)p->L <= own.high &&
                 far_from_own(&own, p) < within;
    }
    return true;
}

/* Removes own pixels with too few own pixels around them: edges, hairs, mixed pixels. */
static int keep_company(const struct carn_thumbnail *planes, struct face *face, double unit,
                        struct carn_error *err)
{
    unsigned char *own = carn_alloc(planes->width * planes->height, 1, err);
    if (own == NULL)
        return -1;
    for (size_t i = 0; i < face->count; i++)
        own[face->pixels[i].at] = face->pixels[i].own ? 2 : 1;
    int reach = (int)fmin(fmax(unit / 20, 1), 4);
    for (size_t i = 0; i < face->count; i++) {
        struct pixel *p = &face->pixels[i];
        int x = (int)(p->at % planes->width), y = (int)(p->at / planes->width);
        int all = 0, like = 0;
        for (int dy = -reach; p->own && dy <= reach; dy++)
            for (int dx = -reach; dx <= reach; dx++) {
                if (x + dx < 0 || y + dy < 0 || x + dx >= (int)planes->width ||
                    y + dy >= (int)planes->height)
                    continue;
                unsigned char near = own[(size_t)(y + dy) * planes->width + (size_t)(x + dx)];
                all += near > 0;
                like += near == 2;
            }
        p->own = p->own && like >= COMPANY * all;
    }
    free(own);
    return 0;
}

/* ---- tones ---- */

struct ranked {
    double Y;
    const struct pixel *pixel;
};

static int by_luminance(const void *x, const void *y)
{
    const struct ranked *a = x, *b = y;
    if (a->Y != b->Y)
        return a->Y < b->Y ? -1 : 1;
    return a->pixel->at < b->pixel->at ? -1 : a->pixel->at > b->pixel->at;
}

static void read_tone(const struct carn_thumbnail *planes, const struct ranked *list, size_t count,
                      enum carn_tone tone, struct carn_face_tones *tones)
{
    size_t from = (size_t)(ranks[tone][0] * (double)count);
    size_t to = (size_t)ceil(ranks[tone][1] * (double)count);
    double sum[3] = {0, 0, 0}, lab[3] = {0, 0, 0}, squares = 0, n = (double)(to - from), cut = 0;
    for (size_t i = from; i < to; i++) {
        size_t at = list[i].pixel->at;
        cut += cut_samples(planes, at);
        for (size_t c = 0; c < 3; c++) {
            uint16_t v = planes->rgb[3 * at + c];
            sum[c] += v;
            double q = (double)(c == 0 ? planes->L[at] : c == 1 ? planes->a[at] : planes->b[at]);
            lab[c] += q;
            squares += q * q;
        }
    }
    tones->tone[tone].pixels = to - from;
    for (size_t c = 0; c < 3; c++) {
        tones->tone[tone].rgb[c] = sum[c] / n / 65535;
        squares -= lab[c] * lab[c] / n;
    }
    tones->tone[tone].spread = sqrt(fmax(squares / n, 0));
    tones->tone[tone].clipped = 100 * cut / (3 * n);
}

static void read_hues(const struct carn_thumbnail *planes, const struct face *face,
                      struct carn_face_tones *tones)
{
    double x = 0, y = 0, n = 0, all = 0, green = 0, low = 100, high = 0;
    for (size_t i = 0; i < face->count; i++) {
        const struct pixel *p = &face->pixels[i];
        double chroma = hypot((double)p->a, (double)p->b);
        if (!p->own || chroma == 0)
            continue;
        n++;
        x += (double)p->a / chroma;
        y += (double)p->b / chroma;
        low = fmin(low, (double)p->L);
        high = fmax(high, (double)p->L);
    }
    for (size_t i = 0; i < face->count; i++) {
        const struct pixel *p = &face->pixels[i];
        bool turned = !planes->unfit[p->at] && p->a < 0 && (double)p->L >= low &&
                      (double)p->L <= high && hypotf(p->a, p->b) >= (float)GREEN;
        green += turned;
        all += turned || p->own;
    }
    if (n == 0)
        return;
    tones->hue_spread = sqrt(fmax(-2 * log(fmin(hypot(x, y) / n, 1)), 0)) * 180 / CARN_PI;
    tones->greened = 100 * green / all;
}

static int read_tones(const struct carn_thumbnail *planes, struct face *face,
                      struct carn_face_tones *tones, struct carn_error *err)
{
    struct ranked *list = carn_alloc(face->count, sizeof *list, err);
    if (list == NULL)
        return -1;
    size_t n = 0;
    for (size_t i = 0; i < face->count; i++) {
        const struct pixel *p = &face->pixels[i];
        /* L* ranks as luminance does. */
        if (p->own || tones->pixels == 0)
            list[n++] = (struct ranked){(double)p->L, p};
    }
    qsort(list, n, sizeof *list, by_luminance);
    for (int t = 0; t < CARN_TONES; t++)
        read_tone(planes, list, n, (enum carn_tone)t, tones);
    free(list);
    read_hues(planes, face, tones);
    return 0;
}

static void fill_cover(const struct face *face, unsigned char *cover)
{
    for (size_t i = 0; i < face->count; i++)
        cover[face->pixels[i].at] = face->pixels[i].own ? CARN_OWN_SKIN : CARN_NO_SKIN;
}

int carn_face_tones(const struct carn_thumbnail *planes, const struct carn_outline *outline,
                    struct carn_face_tones *tones, unsigned char *cover, struct carn_error *err)
{
    struct face face = {0};
    *tones = (struct carn_face_tones){0};
    int rc = collect(planes, outline, &face, err);
    if (rc == 0 && find_own(planes, &face))
        rc = keep_company(planes, &face, carn_outline_unit(outline), err);
    for (size_t i = 0; rc == 0 && i < face.count; i++)
        tones->pixels += face.pixels[i].own;
    if (rc == 0) {
        tones->share = (double)tones->pixels / (double)face.count;
        if ((double)tones->pixels < LEAST || tones->share < LEAST_SHARE)
            tones->pixels = 0;
        tones->toning = find_toning(planes, outline);
        rc = read_tones(planes, &face, tones, err);
    }
    if (rc == 0 && cover != NULL) {
        memset(cover, CARN_NO_FACE, planes->width * planes->height);
        fill_cover(&face, cover);
    }
    free(face.pixels);
    free(face.values);
    return rc;
}

int carn_face_tones_again(const struct carn_thumbnail *planes, const struct carn_outline *outline,
                          const unsigned char *cover, struct carn_face_tones *tones,
                          struct carn_error *err)
{
    struct face face = {0};
    size_t all = planes->width * planes->height, own = 0;
    *tones = (struct carn_face_tones){0};
    for (size_t at = 0; at < all; at++)
        own += cover[at] == CARN_OWN_SKIN;
    if (own == 0)
        return carn_face_tones(planes, outline, tones, NULL, err);
    face.pixels = carn_alloc(own, sizeof *face.pixels, err);
    if (face.pixels == NULL)
        return -1;
    for (size_t at = 0; at < all; at++)
        if (cover[at] == CARN_OWN_SKIN)
            face.pixels[face.count++] = (struct pixel){
                .L = planes->L[at], .a = planes->a[at], .b = planes->b[at], .at = at, .own = 1};
    tones->pixels = own;
    tones->share = 1;
    tones->toning = find_toning(planes, outline);
    int rc = read_tones(planes, &face, tones, err);
    free(face.pixels);
    return rc;
}
