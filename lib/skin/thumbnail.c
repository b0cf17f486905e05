#include "skin/thumbnail.h"

#include "base/maths.h"
#include "frame/average.h"
#include "frame/keys.h"
#include "frame/upright.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct carn_thumbnail_maker {
    struct carn_thumbnail planes;
    const struct carn_lab_lookup *quick;
    struct carn_frame small; /* width, channels and alpha of the averaged rows; no keys owned */
    struct carn_average *average;
    struct carn_upright upright;
    size_t row;
    float *lab; /* a row of L*, of a*, of b* */
};

static int make_planes(struct carn_thumbnail_maker *maker, struct carn_error *err)
{
    struct carn_thumbnail *p = &maker->planes;
    unsigned orientation = carn_frame_orientation(&maker->small);
    bool turned = carn_upright_lies(orientation);
    p->width = turned ? maker->small.height : maker->small.width;
    p->height = turned ? maker->small.width : maker->small.height;
    maker->upright =
        carn_upright(orientation, (double)maker->small.width - 1, (double)maker->small.height - 1);
    size_t count = p->width * p->height;
    float **planes[] = {&p->L, &p->a, &p->b};
    for (size_t i = 0; i < sizeof planes / sizeof *planes; i++)
        if ((*planes[i] = carn_alloc(count, sizeof **planes[i], err)) == NULL)
            return -1;
    p->rgb = carn_alloc(count, 3 * sizeof *p->rgb, err);
    p->unfit = carn_alloc(count, sizeof *p->unfit, err);
    maker->lab = carn_alloc(maker->small.width, 3 * sizeof *maker->lab, err);
    return p->rgb != NULL && p->unfit != NULL && maker->lab != NULL ? 0 : -1;
}

struct carn_thumbnail_maker *carn_thumbnail_open(const struct carn_frame *frame,
                                                 const struct carn_lab_lookup *quick,
                                                 struct carn_error *err)
{
    struct carn_thumbnail_maker *maker = carn_alloc(1, sizeof *maker, err);
    if (maker == NULL)
        return NULL;
    maker->quick = quick;
    maker->small = *frame; /* its keys are looked at, never changed or cleared */
    size_t side = frame->width > frame->height ? frame->width : frame->height;
    if (side > CARN_THUMBNAIL_SIDE)
        maker->small.width = (frame->width * CARN_THUMBNAIL_SIDE + side / 2) / side;
    if (maker->small.width == 0)
        maker->small.width = 1;
    maker->small.height = carn_average_height(frame->width, frame->height, maker->small.width);
    if (make_planes(maker, err) == 0)
        maker->average = carn_average_open(frame->width, frame->height, carn_frame_channels(frame),
                                           maker->small.width, err);
    if (maker->average == NULL) {
        carn_thumbnail_close(maker);
        return NULL;
    }
    return maker;
}

void carn_thumbnail_close(struct carn_thumbnail_maker *maker)
{
    if (maker == NULL)
        return;
    struct carn_thumbnail *p = &maker->planes;
    carn_average_close(maker->average);
    free(p->rgb);
    free(p->L);
    free(p->a);
    free(p->b);
    free(p->skin);
    free(p->edge);
    free(p->unfit);
    free(p->edges);
    free(maker->lab);
    free(maker);
}

void carn_thumbnail_push(struct carn_thumbnail_maker *maker, const uint16_t *row)
{
    const uint16_t *done = carn_average_push(maker->average, row);
    if (done == NULL)
        return;
    struct carn_thumbnail *p = &maker->planes;
    size_t width = maker->small.width, channels = carn_frame_channels(&maker->small);
    float *L = maker->lab, *a = L + width, *b = a + width;
    carn_lab_lookup_row(maker->quick, &maker->small, done, L, a, b);
    for (size_t x = 0; x < width; x++, done += channels) {
        double u, v;
        carn_upright_place(&maker->upright, (double)x, (double)maker->row, &u, &v);
        size_t at = (size_t)v * p->width + (size_t)u;
        p->L[at] = L[x];
        p->a[at] = a[x];
        p->b[at] = b[x];
        p->unfit[at] = maker->small.alpha && done[3] < 65535;
        for (size_t c = 0; c < 3; c++) {
            p->rgb[3 * at + c] = done[c];
            p->unfit[at] =
                p->unfit[at] || done[c] <= CARN_THUMBNAIL_LOW || done[c] >= CARN_THUMBNAIL_HIGH;
        }
    }
    maker->row++;
}

/*
 * How far a colour could be skin before anything is known of the picture's cast: hue 47 degrees
 * with 11 to one standard deviation, chroma and chroma by L* + 16 within what photographs show.
 * Fitted by eye to patches in photographs that Debian packages carry (hue 38 to 51, chroma 21 to
 * 37 for the middle half of light, medium and deep skin).
 */
static double could_be_skin(double L, double a, double b)
{
    double chroma = hypot(a, b), low = fmin(14, 0.2 * (L + 16));
    double coloured = carn_ramp(chroma, 0.35 * low, low), seen = carn_ramp(L, 6, 16);
    if (coloured <= 0 || seen <= 0)
        return 0; /* most of a picture: the hue takes the longest */
    double off = (atan2(b, a) * 180 / CARN_PI - 47) / 11;
    return exp(-0.5 * off * off) * coloured * (1 - carn_ramp(chroma, 48, 66)) *
           (1 - carn_ramp(chroma / (L + 16), 0.8, 1.15)) * seen;
}

static float steepness(const struct carn_thumbnail *p, size_t x, size_t y)
{
    size_t at = y * p->width + x;
    float across = x > 0 && x + 1 < p->width ? p->L[at + 1] - p->L[at - 1] : 0;
    float down = y > 0 && y + 1 < p->height ? p->L[at + p->width] - p->L[at - p->width] : 0;
    float steep = hypotf(across, down);
    return steep < 40 ? steep : 40;
}

const struct carn_thumbnail *carn_thumbnail_done(struct carn_thumbnail_maker *maker)
{
    return &maker->planes;
}

const struct carn_thumbnail *carn_thumbnail_search(struct carn_thumbnail_maker *maker,
                                                   struct carn_error *err)
{
    struct carn_thumbnail *p = &maker->planes;
    size_t count = p->width * p->height;
    p->skin = carn_alloc(count, sizeof *p->skin, err);
    p->edge = carn_alloc(count, sizeof *p->edge, err);
    p->edges = carn_alloc((p->width + 1) * (p->height + 1), sizeof *p->edges, err);
    if (p->skin == NULL || p->edge == NULL || p->edges == NULL)
        return NULL;
    for (size_t y = 0; y < p->height; y++) {
        double line = 0;
        for (size_t x = 0; x < p->width; x++) {
            size_t at = y * p->width + x, corner = (y + 1) * (p->width + 1) + x + 1;
            p->skin[at] =
                (float)could_be_skin((double)p->L[at], (double)p->a[at], (double)p->b[at]);
            p->edge[at] = steepness(p, x, y);
            line += (double)p->edge[at];
            p->edges[corner] = p->edges[corner - p->width - 1] + line;
        }
    }
    return p;
}

const struct carn_thumbnail *carn_thumbnail_read(struct carn_stream *stream,
                                                 struct carn_frame_profile *last,
                                                 struct carn_thumbnail_maker **maker,
                                                 struct carn_error *err)
{
    const struct carn_frame *frame = &stream->frame;
    const struct carn_lab_lookup *quick = carn_frame_lab_lookup(last, frame, err);
    struct carn_error why = {0};
    if (quick == NULL)
        return NULL;
    *maker = carn_thumbnail_open(frame, quick, &why);
    if (*maker == NULL) {
        (void)carn_fail_from(err, &why, carn_frame_name(frame));
        return NULL;
    }
    for (const uint16_t *row; (row = carn_stream_row(stream)) != NULL;)
        carn_thumbnail_push(*maker, row);
    return stream->failed ? NULL : carn_thumbnail_done(*maker);
}

/* To a whole pixel within 0..most. */
static size_t pixel(double v, size_t most)
{
    v = floor(v + 0.5);
    return v <= 0 ? 0 : v >= (double)most ? most : (size_t)v;
}

double carn_thumbnail_edge(const struct carn_thumbnail *planes, double x0, double y0, double x1,
                           double y1, double none)
{
    size_t left = pixel(x0, planes->width), right = pixel(x1, planes->width);
    size_t top = pixel(y0, planes->height), bottom = pixel(y1, planes->height);
    if (right <= left || bottom <= top)
        return none;
    const double *s = planes->edges;
    size_t stride = planes->width + 1;
    double total = s[bottom * stride + right] - s[top * stride + right] -
                   s[bottom * stride + left] + s[top * stride + left];
    return total / (double)((right - left) * (bottom - top));
}
