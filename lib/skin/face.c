#include "skin/face.h"

#include "base/maths.h"
#include "base/order.h"

#include <math.h>
#include <stdlib.h>

/* Detections under this score get no confidence. */
static const double SCORE = 0.3;

/* The oval is sampled at this many places across and down, whatever its size; so is the area around
 * it, AROUND times as wide. */
enum { ACROSS = 49, DOWN = 65, PLACES = ACROSS * DOWN };
static const double AROUND = 1.6;

/* A pixel is of the cheeks' colour within this share of its chroma, but no less than NEAR. */
static const double ALIKE = 0.35, NEAR = 0.05;

/* Places where L* is less steep (thumbnail.h) count as flat. */
static const double FLAT = 0.25;

/* Eyes and mouth are looked at within this of their points, in distances from eyes to mouth. */
static const double EYE = 0.17, MOUTH_W = 0.28, MOUTH_H = 0.12;

/* With fewer places of cheeks and nose that are not burnt, burnt ones count too: chosen on copies
 * at 1.4 x exposure of the fit set. */
static const double LEAST = 16;

/* Bins of L* in which a picture of one colour has one a* and b*. */
enum { BINS = 24 };

const char *const carn_face_features[CARN_FACE_FEATURES] = {
    "score", "agreed",  "size", "shape", "skin", "own", "chroma",
    "hue",   "colours", "flat", "rough", "eyes", "lips"};

/* What confidence is made of: of each feature the mean and deviation, then the weight of the
 * standardised feature and of its square (within 3 deviations); and the constant. By
 * scripts/fit-confidence from 1506 looks at 383 pictures, 403 of them right: the sets fit and
 * choose2 of tests/data/portraits.tsv, as they are and with a cast, and scenes of two people. */
static const struct {
    double mean, deviation, weight, square;
} fitted[CARN_FACE_FEATURES] = {
    {0.4725, 1.0080, 3.1841, 0.0000},    /* score */
    {-3.1771, 1.6425, -0.9644, 0.0000},  /* agreed */
    {5.1021, 1.2747, 1.0234, -0.0781},   /* size */
    {0.1471, 0.1641, -0.0696, 0.0000},   /* shape */
    {0.3756, 0.3304, 0.9997, 0.0000},    /* skin */
    {0.6072, 0.2635, -0.0361, 0.0000},   /* own */
    {0.3974, 0.2527, 0.2600, -0.0221},   /* chroma */
    {24.9444, 33.8259, 0.2379, -0.1849}, /* hue */
    {2.8919, 0.7769, 0.4800, 0.0000},    /* colours */
    {0.0326, 0.1291, -1.5278, 0.0000},   /* flat */
    {-3.1168, 1.3070, -0.6222, -0.2308}, /* rough */
    {-2.6860, 1.2152, 0.0843, 0.0000},   /* eyes */
    {0.0306, 0.1260, -0.1951, 0.0000},   /* lips */
};
static const double CONSTANT = -3.7192;

/* What is gathered at the places of one kind. */
struct sums {
    double count, L, a, b, LL, skin, edge, flat;
};

struct sample {
    float L, a, b; /* a* and b* by L* + 16 */
    enum carn_region region;
};

struct face_samples {
    struct sample at[PLACES];
    size_t count;
    struct sums sure, eye[2], mouth;
    float values[PLACES];
};

static void add_place(struct sums *sums, const struct carn_thumbnail *planes, size_t at)
{
    double L = (double)planes->L[at], edge = (double)planes->edge[at];
    sums->count++;
    sums->L += L;
    sums->LL += L * L;
    sums->a += (double)planes->a[at] / (L + 16);
    sums->b += (double)planes->b[at] / (L + 16);
    sums->skin += (double)planes->skin[at];
    sums->edge += edge;
    sums->flat += edge < FLAT;
}

/* The pixel at u, v of the oval (-1 to 1 are its ends), or false outside of the picture. */
static bool place(const struct carn_thumbnail *planes, const struct carn_outline *o, double u,
                  double v, double *x, double *y, size_t *at)
{
    *x = o->x + u * o->across * o->right[0] + v * o->down * o->chin[0];
    *y = o->y + u * o->across * o->right[1] + v * o->down * o->chin[1];
    if (*x < 0 || *y < 0 || *x >= (double)planes->width || *y >= (double)planes->height)
        return false;
    *at = (size_t)*y * planes->width + (size_t)*x;
    return true;
}

static bool is_near(const struct carn_outline *o, enum carn_point point, double x, double y,
                    double across, double down)
{
    double unit = carn_outline_unit(o);
    double dx = x - o->points[point][0], dy = y - o->points[point][1];
    double u = (dx * o->right[0] + dy * o->right[1]) / (across * unit);
    double v = (dx * o->chin[0] + dy * o->chin[1]) / (down * unit);
    return u * u + v * v < 1;
}

/* Two samples at the upper end: too little of its colour is left. */
static bool is_burnt(const struct carn_thumbnail *planes, size_t at)
{
    const uint16_t *rgb = planes->rgb + 3 * at;
    return (rgb[0] >= CARN_THUMBNAIL_HIGH) + (rgb[1] >= CARN_THUMBNAIL_HIGH) +
               (rgb[2] >= CARN_THUMBNAIL_HIGH) >=
           2;
}

/* burnt: with burnt places, of whose colour and detail nothing is known. */
static void gather(const struct carn_thumbnail *planes, const struct carn_outline *o, bool burnt,
                   struct face_samples *s)
{
    *s = (struct face_samples){.count = 0};
    for (int i = 0; i < PLACES; i++) {
        int row = i / ACROSS, column = i % ACROSS;
        double x, y;
        size_t at;
        if (!place(planes, o, 2.0 * column / (ACROSS - 1) - 1, 2.0 * row / (DOWN - 1) - 1, &x, &y,
                   &at))
            continue;
        enum carn_region region = carn_outline_region(o, x, y);
        float light = planes->L[at] + 16;
        for (int eye = 0; eye < 2; eye++)
            if (is_near(o, eye == 0 ? CARN_RIGHT_EYE : CARN_LEFT_EYE, x, y, EYE, EYE))
                add_place(&s->eye[eye], planes, at);
        if (is_near(o, CARN_MOUTH, x, y, MOUTH_W, MOUTH_H))
            add_place(&s->mouth, planes, at);
        if (region == CARN_OUTSIDE || region == CARN_FEATURE)
            continue;
        if (!burnt && is_burnt(planes, at))
            continue;
        if (region == CARN_SUREST)
            add_place(&s->sure, planes, at);
        s->at[s->count++] =
            (struct sample){planes->L[at], planes->a[at] / light, planes->b[at] / light, region};
    }
}

/* The median of one number of the surest places. */
static double sure_median(struct face_samples *s, size_t which)
{
    size_t n = 0;
    for (size_t i = 0; i < s->count; i++)
        if (s->at[i].region == CARN_SUREST)
            s->values[n++] = which == 0 ? s->at[i].L : which == 1 ? s->at[i].a : s->at[i].b;
    return n > 0 ? carn_upper_median(s->values, n) : 0;
}

/* Root mean square of a* and b* around what L* alone would give, over the face and what is beside
 * it: near nothing in a picture that is grey or toned in one colour. */
static double colours(const struct carn_thumbnail *planes, const struct carn_outline *o)
{
    struct {
        double count, a, b, squares;
    } bin[BINS] = {{0}};
    double squares = 0, count = 0;
    for (int i = 0; i < PLACES; i++) {
        int row = i / ACROSS, column = i % ACROSS;
        double x, y;
        size_t at;
        if (!place(planes, o, AROUND * (2.0 * column / (ACROSS - 1) - 1),
                   AROUND * (2.0 * row / (DOWN - 1) - 1), &x, &y, &at))
            continue;
        double L = (double)planes->L[at], a = (double)planes->a[at], b = (double)planes->b[at];
        size_t k = L <= 0 ? 0 : (size_t)fmin(L * BINS / 100, BINS - 1);
        bin[k].count++;
        bin[k].a += a;
        bin[k].b += b;
        bin[k].squares += a * a + b * b;
    }
    for (size_t k = 0; k < BINS; k++)
        if (bin[k].count > 0) {
            squares += bin[k].squares - (bin[k].a * bin[k].a + bin[k].b * bin[k].b) / bin[k].count;
            count += bin[k].count;
        }
    return count > 0 ? sqrt(fmax(squares, 0) / count) : 0;
}

/* Where nose, mouth and ears lie across the face and down it from the eyes, in distances from eyes
 * to mouth; and how far that is from where faces have them, seen from the front or turned. */
static double shape(const struct carn_outline *o)
{
    double place[CARN_POINTS][2], unit = carn_outline_unit(o);
    double x = (o->points[0][0] + o->points[1][0]) / 2, y = (o->points[0][1] + o->points[1][1]) / 2;
    for (int i = 0; i < CARN_POINTS; i++) {
        double dx = o->points[i][0] - x, dy = o->points[i][1] - y;
        place[i][0] = (dx * o->right[0] + dy * o->right[1]) / unit;
        place[i][1] = (dx * o->chin[0] + dy * o->chin[1]) / unit;
    }
    double eyes = place[CARN_LEFT_EYE][0] - place[CARN_RIGHT_EYE][0];
    double nose = place[CARN_NOSE_TIP][1] - 0.55, mouth = place[CARN_MOUTH][0];
    double ears = place[CARN_LEFT_EAR][0] - place[CARN_RIGHT_EAR][0];
    return hypot(fmax(0.6 - eyes, 0) + fmax(eyes - 1.2, 0), nose) +
           hypot(mouth, fmax(1.2 - ears, 0) + fmax(ears - 2.3, 0));
}

/* log2 of a share, bounded where it is next to nothing. */
static double doublings(double v, double least)
{
    return log2(fmax(v, least));
}

/* Of an eye that the oval leaves out, in a profile, nothing is known. */
static double eye_contrast(const struct sums *eye, double L)
{
    if (eye->count == 0)
        return HUGE_VAL;
    double mean = eye->L / eye->count;
    return sqrt(fmax(eye->LL / eye->count - 2 * L * mean + L * L, 0)) / (L + 16);
}

static void judge(const struct carn_thumbnail *planes, struct face_samples *s,
                  struct carn_face *face)
{
    const struct carn_outline *o = &face->outline;
    double *f = face->features, score = fmin(fmax(face->seen.score, 0.01), 0.99);
    gather(planes, o, false, s);
    if (s->sure.count < LEAST)
        gather(planes, o, true, s);
    double sure = fmax(s->sure.count, 1), own = 0;
    double L = sure_median(s, 0), a = sure_median(s, 1), b = sure_median(s, 2);
    double within = fmax(ALIKE * hypot(a, b), NEAR);
    for (size_t i = 0; i < s->count; i++)
        own += hypot((double)s->at[i].a - a, (double)s->at[i].b - b) < within;
    f[CARN_FACE_SCORE] = log(score / (1 - score));
    f[CARN_FACE_AGREED] = doublings(face->seen.apart, 0.005);
    f[CARN_FACE_SIZE] = doublings(2 * o->across, 1);
    f[CARN_FACE_SHAPE] = fmin(shape(o), 2);
    f[CARN_FACE_SKIN] = s->sure.skin / sure;
    f[CARN_FACE_OWN] = own / fmax((double)s->count, 1);
    f[CARN_FACE_CHROMA] = hypot(a, b);
    f[CARN_FACE_HUE] = a == 0 && b == 0 ? 180 : fabs(atan2(b, a) * 180 / CARN_PI - 47);
    f[CARN_FACE_COLOURS] = doublings(colours(planes, o), 0.25);
    f[CARN_FACE_FLAT] = s->sure.flat / sure;
    f[CARN_FACE_ROUGH] = doublings(s->sure.edge / sure / (L + 16), 0.002);
    f[CARN_FACE_EYES] =
        doublings(fmin(fmin(eye_contrast(&s->eye[0], L), eye_contrast(&s->eye[1], L)), 1), 0.01);
    f[CARN_FACE_LIPS] = s->mouth.count > 0 ? s->mouth.a / s->mouth.count - a : 0;
}

/* A picture of one colour has no skin, whatever else: below the first of CARN_FACE_COLOURS nothing
 * is left of the confidence, from the second on all. Photographs have 2.3 and more in 98 of 100
 * faces, grey and sepia copies of them up to 0.9. */
static const double ONE_COLOUR = 1, MORE_COLOURS = 2;

static double confidence(const double f[CARN_FACE_FEATURES])
{
    double odds = CONSTANT;
    for (int i = 0; i < CARN_FACE_FEATURES; i++) {
        double z = (f[i] - fitted[i].mean) / fitted[i].deviation;
        z = fmin(fmax(z, -3), 3);
        odds += fitted[i].weight * z + fitted[i].square * z * z;
    }
    double coloured = (f[CARN_FACE_COLOURS] - ONE_COLOUR) / (MORE_COLOURS - ONE_COLOUR);
    return fmin(fmax(coloured, 0), 1) / (1 + exp(-odds));
}

static int by_place(const void *x, const void *y)
{
    const struct carn_face *a = x, *b = y;
    return a->outline.x < b->outline.x ? -1 : a->outline.x > b->outline.x;
}

int carn_faces(struct carn_detector *detector, const struct carn_thumbnail *planes, double least,
               struct carn_face faces[CARN_FACES], struct carn_error *err)
{
    struct carn_detection *found = carn_alloc(CARN_DETECTIONS, sizeof *found, err);
    struct face_samples *samples = carn_alloc(1, sizeof *samples, err);
    int seen = -1, count = 0;
    if (found != NULL && samples != NULL)
        seen = carn_detect(detector, planes, SCORE, found, err);
    for (int i = 0; i < seen; i++) {
        struct carn_face *face = &faces[count];
        *face = (struct carn_face){.seen = found[i]};
        face->outline = carn_outline_of_points((const double(*)[2])found[i].points);
        judge(planes, samples, face);
        face->confidence = confidence(face->features);
        count += face->confidence >= least;
    }
    free(found);
    free(samples);
    if (seen < 0)
        return -1;
    qsort(faces, (size_t)count, sizeof *faces, by_place);
    return count;
}
