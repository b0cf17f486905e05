#include "skin/detector.h"

#include "base/maths.h"
#include "skin/network.h"
#include "skin/view.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Two detections are one face when their intersection is over SAME of their union or over INSIDE of
 * the smaller one. */
static const double SAME = 0.3, INSIDE = 0.7;

/* A candidate of at least this score is looked at again by itself. */
static const double WORTH = 0.25;

/* Looks at a candidate by itself: its square's side as a share of the look's. The mean of the looks
 * is taken. */
enum { ALONE_LOOKS = 2 };
static const double ALONE[ALONE_LOOKS] = {0.40, 0.30};

/* Looks at parts: their side as a share of the picture's longer one, how many across. */
static const double BORDER = 1.6, PART = 0.6, SMALL_PART = 0.3;

/* Small parts are looked at when no face has a score of SEEN, or when one that has is smaller than
 * SMALL_FACE of the longer side. */
static const double SEEN = 0.5, SMALL_FACE = 0.1;

enum { CELLS_FINE = 16, FINE = 2, CELLS_COARSE = 8, COARSE = 6, CANDIDATES = 4096 };

struct carn_detector {
    struct carn_network *network;
    struct carn_look look;
    float anchor[CARN_ANCHORS][2]; /* middles, 0..1 */
    float pixels[CARN_LOOK_SIDE * CARN_LOOK_SIDE * 3];
    struct carn_detection seen[CANDIDATES], kept[CARN_DETECTIONS];
    size_t seen_count, kept_count;
};

/* Anchors stand at the middles of cells, rows first: 16 x 16 cells with two each, then 8 x 8 with
 * six. */
static void place_anchors(struct carn_detector *d)
{
    float(*to)[2] = d->anchor;
    for (int grid = 0; grid < 2; grid++) {
        int cells = grid == 0 ? CELLS_FINE : CELLS_COARSE, each = grid == 0 ? FINE : COARSE;
        for (int i = 0; i < cells * cells * each; i++, to++) {
            int row = i / each / cells, column = i / each % cells;
            (*to)[0] = ((float)column + 0.5F) / (float)cells;
            (*to)[1] = ((float)row + 0.5F) / (float)cells;
        }
    }
}

struct carn_detector *carn_detector_open(const char *path, struct carn_error *err)
{
    struct carn_detector *d = carn_alloc(1, sizeof *d, err);
    if (d == NULL)
        return NULL;
    d->network = carn_network_open(path, err);
    if (d->network == NULL) {
        free(d);
        return NULL;
    }
    place_anchors(d);
    return d;
}

void carn_detector_close(struct carn_detector *detector)
{
    if (detector == NULL)
        return;
    carn_network_close(detector->network);
    free(detector);
}

static double degrees(double y, double x)
{
    return atan2(y, x) * 180 / CARN_PI;
}

static struct carn_detection read_anchor(const struct carn_detector *d, int anchor, double score,
                                         const struct carn_square *square)
{
    const float *r = d->look.regressor[anchor];
    double x = (double)d->anchor[anchor][0], y = (double)d->anchor[anchor][1], place[2];
    struct carn_detection found = {.score = score};
    carn_square_place(square, x + (double)r[0] / CARN_LOOK_SIDE, y + (double)r[1] / CARN_LOOK_SIDE,
                      place);
    found.x = place[0];
    found.y = place[1];
    found.side = square->side * (double)(r[2] + r[3]) / 2 / CARN_LOOK_SIDE;
    for (int i = 0; i < CARN_POINTS; i++)
        carn_square_place(square, x + (double)r[4 + 2 * i] / CARN_LOOK_SIDE,
                          y + (double)r[5 + 2 * i] / CARN_LOOK_SIDE, found.points[i]);
    return found;
}

/* Looks at a square of the picture; what is seen there joins d->seen. */
static void look_at(struct carn_detector *d, const struct carn_view *view,
                    const struct carn_square *square, double least)
{
    carn_view_square(view, square, CARN_LOOK_SIDE, d->pixels);
    carn_network_look(d->network, d->pixels, &d->look);
    for (int i = 0; i < CARN_ANCHORS && d->seen_count < CANDIDATES; i++) {
        double score = 1 / (1 + exp(-(double)d->look.logit[i]));
        if (score >= least)
            d->seen[d->seen_count++] = read_anchor(d, i, score, square);
    }
}

static bool same_face(const struct carn_detection *a, const struct carn_detection *b)
{
    double reach = (a->side + b->side) / 2, less = fmin(a->side, b->side);
    double across = fmin(reach - fabs(a->x - b->x), less);
    double down = fmin(reach - fabs(a->y - b->y), less);
    if (across <= 0 || down <= 0)
        return false;
    double both = across * down;
    return both > SAME * (a->side * a->side + b->side * b->side - both) ||
           both > INSIDE * less * less;
}

static int by_score(const void *x, const void *y)
{
    const struct carn_detection *a = x, *b = y;
    return a->score < b->score ? 1 : a->score > b->score ? -1 : 0;
}

/* Adds weight times what places `from`. */
static void add(struct carn_detection *sum, const struct carn_detection *from, double weight)
{
    sum->x += weight * from->x;
    sum->y += weight * from->y;
    sum->side += weight * from->side;
    for (int i = 0; i < CARN_POINTS; i++)
        for (int k = 0; k < 2; k++)
            sum->points[i][k] += weight * from->points[i][k];
}

static struct carn_detection divided(struct carn_detection sum, double by, double score)
{
    struct carn_detection mean = {.score = score};
    add(&mean, &sum, 1 / by);
    const double *right = mean.points[CARN_RIGHT_EYE], *left = mean.points[CARN_LEFT_EYE];
    mean.tilt = degrees(left[1] - right[1], left[0] - right[0]);
    return mean;
}

/* The mean by score of what is the same face as `best` among count. */
static struct carn_detection blend(const struct carn_detection *best,
                                   const struct carn_detection *list, size_t count)
{
    struct carn_detection sum = {0};
    double weights = 0;
    for (size_t i = 0; i < count; i++)
        if (same_face(best, &list[i])) {
            add(&sum, &list[i], list[i].score);
            weights += list[i].score;
        }
    return divided(sum, weights, best->score);
}

/* What was seen, each face once: the best of it, placed by all looks at it. */
static void merge_seen(struct carn_detector *d)
{
    qsort(d->seen, d->seen_count, sizeof *d->seen, by_score);
    for (size_t i = 0; i < d->seen_count && d->kept_count < CARN_DETECTIONS; i++) {
        bool other = true;
        for (size_t k = 0; other && k < d->kept_count; k++)
            other = !same_face(&d->seen[i], &d->kept[k]);
        if (other)
            d->kept[d->kept_count++] = blend(&d->seen[i], d->seen, d->seen_count);
    }
}

/* The most by which place or size differ, in sides. */
static double between(const struct carn_detection *a, const struct carn_detection *b)
{
    double moved = hypot(a->x - b->x, a->y - b->y) / a->side;
    return fmax(moved, fabs(b->side / a->side - 1));
}

/* Looks at a face by itself until its place settles. A face that is not seen so is none. */
static bool settle(struct carn_detector *d, const struct carn_view *view,
                   struct carn_detection *face)
{
    struct carn_detection sum = {0}, seen = {0}, before;
    double weights = 0, best = 0, apart = 1;
    for (size_t i = 0; i < 1 + ALONE_LOOKS; i++) {
        double share = ALONE[i == 0 ? 0 : i - 1];
        struct carn_square square = {face->x, face->y, face->side / share, face->tilt};
        d->seen_count = 0;
        look_at(d, view, &square, WORTH);
        qsort(d->seen, d->seen_count, sizeof *d->seen, by_score);
        size_t k = 0;
        while (k < d->seen_count && !same_face(face, &d->seen[k]))
            k++;
        if (k == d->seen_count)
            continue;
        before = seen;
        seen = blend(&d->seen[k], d->seen, d->seen_count);
        if (i == 0) { /* only to find the middle, size and tilt for the others */
            *face = seen;
            continue;
        }
        if (weights > 0)
            apart = between(&seen, &before);
        add(&sum, &seen, seen.score);
        weights += seen.score;
        best += seen.score;
    }
    if (weights == 0)
        return false;
    *face = divided(sum, weights, best / ALONE_LOOKS);
    face->apart = apart;
    return true;
}

/* Overlapping squares of `share` of the longer side that cover the picture. */
static void look_at_parts(struct carn_detector *d, const struct carn_view *view, double share)
{
    double width = (double)carn_view_width(view), height = (double)carn_view_height(view);
    double side = share * fmax(width, height), step = 0.6 * side;
    int columns = 1 + (int)ceil(fmax(width - side, 0) / step - 0.2);
    int rows = 1 + (int)ceil(fmax(height - side, 0) / step - 0.2);
    for (int row = 0; row < rows; row++)
        for (int column = 0; column < columns; column++) {
            struct carn_square square = {width / 2, height / 2, side, 0};
            if (columns > 1)
                square.x = side / 2 + (width - side) * column / (columns - 1);
            if (rows > 1)
                square.y = side / 2 + (height - side) * row / (rows - 1);
            look_at(d, view, &square, WORTH);
        }
}

int carn_detect(struct carn_detector *detector, const struct carn_thumbnail *planes, double least,
                struct carn_detection found[CARN_DETECTIONS], struct carn_error *err)
{
    struct carn_view *view = carn_view_open(planes, err);
    if (view == NULL)
        return -1;
    double width = (double)planes->width, height = (double)planes->height;
    double longer = fmax(width, height), least_side = 2 * longer;
    struct carn_square whole = {width / 2, height / 2, longer, 0};
    struct carn_square bordered = {width / 2, height / 2, BORDER * longer, 0};
    detector->seen_count = detector->kept_count = 0;
    look_at(detector, view, &whole, WORTH);
    look_at(detector, view, &bordered, WORTH);
    look_at_parts(detector, view, PART);
    for (size_t i = 0; i < detector->seen_count; i++)
        if (detector->seen[i].score >= SEEN)
            least_side = fmin(least_side, detector->seen[i].side);
    if (least_side < SMALL_FACE * longer || least_side > longer)
        look_at_parts(detector, view, SMALL_PART);
    merge_seen(detector);
    int count = 0;
    for (size_t i = 0; i < detector->kept_count; i++) {
        struct carn_detection face = detector->kept[i];
        bool other = settle(detector, view, &face) && face.score >= least;
        for (int k = 0; other && k < count; k++)
            other = !same_face(&face, &found[k]);
        if (other)
            found[count++] = face;
    }
    qsort(found, (size_t)count, sizeof *found, by_score);
    carn_view_close(view);
    return count;
}
