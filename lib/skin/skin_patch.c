#include "skin/skin_patch.h"

#include "base/order.h"

#include <math.h>
#include <stdlib.h>

/* SIDE: side of a patch, as a share of the face's square. MARGIN: around it, as a share of the
 * patch. */
static const double SIDE = 0.12, MARGIN = 0.25;

/* The least share of pixels of the face's colour: in the patch, and in the patch with its margin.
 */
static const double INSIDE = 0.8, AROUND = 0.6;

/* CIE76 in a* and b*, brought to the face's own L*, within which a pixel is of its colour: this
 * share of its chroma, but no less than NEAR. */
static const double ALIKE = 0.32, NEAR = 6;

/* A patch less even than this is refused: see unevenness(). */
static const double UNEVEN = 8;

/* FOREIGN is the cost of a patch none of whose pixels are of the face's colour. FAR_OFF is the cost
 * of a mean at the limit ALIKE. A mean farther from the face's colour than AWAY of that limit is
 * refused. */
static const double FOREIGN = 20, FAR_OFF = 4, AWAY = 0.85;

/* A patch costs OUTER times the square of its distance, in sides of the face's square, from the
 * point SUREST. There hair, caps and a badly placed square do least harm. */
static const double OUTER = 45, SUREST_X = 0.5, SUREST_Y = 0.45;

/* Confidence falls as exp(-LOSS cost): fitted to the share of skin in patches of photographs. */
static const double LOSS = 0.006;

/* The face's square: its side in distances from the eyes to the mouth, and how far down it the eyes
 * are, as a share of the side. */
static const double SQUARE = 2.56, EYES = 0.39;

/* Light and shade are left out where they cost more than DOUBTFUL, or the face's confidence is
 * under LIKELY: the middle is what matters. */
static const double DOUBTFUL = 9, LIKELY = 0.5;

/* Cost of a patch of the middle tone for each L* it differs from the face's own. */
static const double OFF_TONE = 0.5;

static const double LIGHTER = 3; /* L* by which light and shade differ from the middle, at least */

enum { SPOTS = 3, MOST = 4096 };

/* Where the middle of a patch may be: left, top, right, bottom in the face's square. */
static const double spots[SPOTS][4] = {
    {0.28, 0.11, 0.72, 0.27}, /* forehead */
    {0.22, 0.53, 0.38, 0.66}, /* cheeks */
    {0.62, 0.53, 0.78, 0.66}, /**/
};

/* The face's own colour. */
struct own {
    double L, a, b, within; /* a*, b* by L* + 16; within: the distance up to which is alike */
};

/* The face's square, turned with it: its upper left corner, its side, its axes. */
struct square {
    double x, y, side;
    const double *right, *chin;
};

struct candidate {
    double x, y, L, cost;
};

static size_t clamped(double v, size_t most)
{
    return v <= 0 ? 0 : v >= (double)most ? most : (size_t)v;
}

static struct square square_of(const struct carn_outline *o)
{
    double side = SQUARE * carn_outline_unit(o);
    const double *right = o->points[CARN_RIGHT_EYE], *left = o->points[CARN_LEFT_EYE];
    /* From the eyes' middle down the face, from the oval's middle across it. */
    double down = ((right[0] + left[0]) / 2 - o->x) * o->chin[0] +
                  ((right[1] + left[1]) / 2 - o->y) * o->chin[1] - EYES * side;
    return (struct square){o->x + down * o->chin[0] - side / 2 * o->right[0],
                           o->y + down * o->chin[1] - side / 2 * o->right[1], side, o->right,
                           o->chin};
}

/* The medians of what could be skin on cheeks and nose. 1; 0 when that is a fifth of them or less;
 * -1 with a message. */
static int own_colour(const struct carn_thumbnail *planes, const struct carn_outline *o,
                      struct own *own, struct carn_error *err)
{
    double reach = fmax(o->across, o->down);
    size_t x0 = clamped(o->x - reach, planes->width), x1 = clamped(o->x + reach, planes->width);
    size_t y0 = clamped(o->y - reach, planes->height), y1 = clamped(o->y + reach, planes->height);
    if (x1 <= x0 || y1 <= y0)
        return 0;
    size_t room = (x1 - x0) * (y1 - y0), count = 0, sure = 0;
    float *values = carn_alloc(room, 3 * sizeof *values, err);
    if (values == NULL)
        return -1;
    for (size_t y = y0; y < y1; y++)
        for (size_t x = x0; x < x1; x++) {
            size_t at = y * planes->width + x;
            if (carn_outline_region(o, (double)x + 0.5, (double)y + 0.5) != CARN_SUREST)
                continue;
            sure++;
            if (planes->unfit[at] || planes->skin[at] < 0.1F)
                continue;
            float light = planes->L[at] + 16;
            values[count] = planes->L[at];
            values[room + count] = planes->a[at] / light;
            values[2 * room + count++] = planes->b[at] / light;
        }
    if (count > 0) {
        *own = (struct own){.L = carn_upper_median(values, count),
                            .a = carn_upper_median(values + room, count),
                            .b = carn_upper_median(values + 2 * room, count)};
        own->within = fmax(ALIKE * hypot(own->a, own->b), NEAR / (own->L + 16));
    }
    free(values);
    return count > 0 && count * 5 > sure;
}

/* Of a rectangle: the share of the face's colour; mean and deviation of L* of that share; distance
 * of the whole mean from the face's colour, 1 where alike ends. */
struct look {
    double alike, L, deviation, away;
};

static struct look look_at(const struct carn_thumbnail *planes, const struct own *own, double x,
                           double y, double side)
{
    size_t x0 = clamped(x + 0.5, planes->width), x1 = clamped(x + side + 0.5, planes->width);
    size_t y0 = clamped(y + 0.5, planes->height), y1 = clamped(y + side + 0.5, planes->height);
    double L = 0, LL = 0, a = 0, b = 0, count = 0, cells = 0;
    for (size_t row = y0; row < y1; row++)
        for (size_t column = x0; column < x1; column++, cells++) {
            size_t at = row * planes->width + column;
            double lightness = (double)planes->L[at], light = lightness + 16;
            double da = (double)planes->a[at] / light - own->a;
            double db = (double)planes->b[at] / light - own->b;
            a += da;
            b += db;
            if (planes->unfit[at] || da * da + db * db > own->within * own->within)
                continue;
            count++;
            L += lightness;
            LL += lightness * lightness;
        }
    if (count == 0 || cells < 0.9 * side * side - 2 * side)
        return (struct look){0, 0, 0, 1};
    L /= count;
    return (struct look){count / cells, L, sqrt(fmax(LL / count - L * L, 0)),
                         hypot(a, b) / cells / own->within};
}

/* Shading and texture at the patch's own scale: 0 is flat, good skin has about 1. */
static double unevenness(const struct carn_thumbnail *planes, double x, double y, double side,
                         double deviation)
{
    double edge = carn_thumbnail_edge(planes, x, y, x + side, y + side, 40);
    return deviation / 4 + edge * side / 60;
}

/* Judges the patch whose middle is x, y: false when it is none. */
static bool judge(const struct carn_thumbnail *planes, const struct square *face,
                  const struct own *own, double x, double y, double side,
                  struct candidate *candidate)
{
    double left = x - side / 2, top = y - side / 2, margin = MARGIN * side;
    if (left < 0 || top < 0 || left + side > (double)planes->width ||
        top + side > (double)planes->height)
        return false;
    struct look in = look_at(planes, own, left, top, side);
    struct look about = look_at(planes, own, left - margin, top - margin, side + 2 * margin);
    double cost = unevenness(planes, left, top, side, in.deviation);
    if (in.alike < INSIDE || in.away > AWAY || about.alike < AROUND || cost > UNEVEN)
        return false;
    cost += FOREIGN * (1 - in.alike + (1 - about.alike) / 2) + FAR_OFF * in.away * in.away;
    double dx = (x - face->x) / face->side, dy = (y - face->y) / face->side;
    double across = dx * face->right[0] + dy * face->right[1] - SUREST_X;
    double down = dx * face->chin[0] + dy * face->chin[1] - SUREST_Y;
    cost += OUTER * (across * across + down * down);
    *candidate = (struct candidate){left, top, in.L, cost};
    return true;
}

static size_t list_candidates(const struct carn_thumbnail *planes, const struct square *face,
                              const struct own *own, double side, struct candidate *list)
{
    double step = fmax(1, side / 4);
    size_t count = 0;
    for (int s = 0; s < SPOTS; s++) {
        int columns = (int)((spots[s][2] - spots[s][0]) * face->side / step);
        int rows = (int)((spots[s][3] - spots[s][1]) * face->side / step);
        for (int i = 0; i < (columns + 1) * (rows + 1) && count < MOST; i++) {
            int row = i / (columns + 1), column = i % (columns + 1);
            double u = spots[s][0] * face->side + column * step;
            double v = spots[s][1] * face->side + row * step;
            double x = face->x + u * face->right[0] + v * face->chin[0];
            double y = face->y + u * face->right[1] + v * face->chin[1];
            count += judge(planes, face, own, x, y, side, &list[count]);
        }
    }
    return count;
}

static int by_light(const void *x, const void *y)
{
    const struct candidate *a = x, *b = y;
    return a->L < b->L ? -1 : a->L > b->L;
}

static bool apart(const struct candidate *c, const struct candidate *others[], int count,
                  double side)
{
    for (int i = 0; i < count; i++)
        if (others[i] != NULL && fabs(c->x - others[i]->x) < side &&
            fabs(c->y - others[i]->y) < side)
            return false;
    return true;
}

/* The one of least cost with L* within low..high that is apart from those taken. */
static const struct candidate *best(const struct candidate *list, size_t count, double low,
                                    double high, const struct candidate *taken[], int taken_count,
                                    double side)
{
    const struct candidate *chosen = NULL;
    for (size_t i = 0; i < count; i++) {
        const struct candidate *c = &list[i];
        if (c->L >= low && c->L <= high && (chosen == NULL || c->cost < chosen->cost) &&
            apart(c, taken, taken_count, side))
            chosen = c;
    }
    return chosen;
}

/* The patch for the middle tone: the least sum of its cost and of its distance from the face's own
 * L*, so that all frames of a person are measured at one tone. */
static const struct candidate *middling(const struct candidate *list, size_t count, double L)
{
    const struct candidate *chosen = NULL;
    double least = HUGE_VAL;
    for (size_t i = 0; i < count; i++) {
        double cost = list[i].cost + OFF_TONE * fabs(list[i].L - L);
        if (cost < least)
            chosen = &list[i];
        least = fmin(least, cost);
    }
    return chosen;
}

int carn_skin_patches(const struct carn_thumbnail *planes, const struct carn_face *face, int count,
                      struct carn_skin_patch found[CARN_SKIN_PATCHES], struct carn_error *err)
{
    static const char *const tones[CARN_SKIN_PATCHES] = {"light", "middle", "shade"};
    struct own own;
    struct square square = square_of(&face->outline);
    int is = own_colour(planes, &face->outline, &own, err);
    if (is <= 0)
        return is;
    struct candidate *list = carn_alloc(MOST, sizeof *list, err);
    if (list == NULL)
        return -1;
    double side = fmax(3, SIDE * square.side);
    size_t n = list_candidates(planes, &square, &own, side, list);
    const struct candidate *taken[CARN_SKIN_PATCHES] = {NULL, NULL, NULL};
    if (n > 0) {
        qsort(list, n, sizeof *list, by_light);
        double middle = list[n / 2].L;
        size_t from = n * 3 / 10;
        taken[1] = middling(list + from, n * 7 / 10 - from + 1, own.L);
        if (count > 1)
            taken[0] =
                best(list, n, fmax(list[n * 8 / 10].L, middle + LIGHTER), 100, taken, 2, side);
        if (count > 2)
            taken[2] = best(list, n, 0, fmin(list[n * 2 / 10].L, middle - LIGHTER), taken, 2, side);
    }
    double likely = face->confidence;
    int made = 0;
    for (int i = 0; i < CARN_SKIN_PATCHES; i++) {
        const struct candidate *c = taken[i];
        if (c != NULL && (i == 1 || (c->cost <= DOUBTFUL && likely >= LIKELY)))
            found[made++] =
                (struct carn_skin_patch){tones[i], c->x, c->y, side, likely * exp(-LOSS * c->cost)};
    }
    free(list);
    return made;
}
