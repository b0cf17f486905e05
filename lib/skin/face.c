#include "skin/face.h"

#include "skin/face_fit.h"

#include <math.h>
#include <stdlib.h>

/* Squares that are tried: side of the smallest, ratio of one size to the next, steps a side; the
 * largest is this much of the picture's shorter side. A face may reach a little over the edges. */
static const double SMALLEST = 22, RATIO = 1.2, STEPS = 10, LARGEST = 1.25;

/* Less of what could be skin than this in a square is no face whatever else is there. */
static const double SKIN = 0.06;

/* Both eyes hold some detail: less than this mean steepness of L* (per two pixels), times the
 * pixels of the square's side, is no face. Faces in photographs have 150 and more, whatever their
 * complexion; flat fields that are blurred into each other have up to 70. */
static const double EYES = 120;

/* A picture has a face or a few whatever their size, but of squares of half the size four times as
 * many are tried, so that each is the less a face: what the odds (natural) lose by the size, under
 * this share of the picture's shorter side. */
static const double PRIOR = 0.75, USUAL = 0.25;

/* Beside the surest face of a picture, others need odds better by this and this much of its size.
 */
static const double MORE = 3.0, FAR = 0.7;

enum { PARTS = 17, CANDIDATES = 4096 };

/* Left, top, right, bottom of the parts in a square of 1. */
static const double parts[PARTS][4] = {
    {0.18, 0.31, 0.44, 0.47},   /* eyes */
    {0.56, 0.31, 0.82, 0.47},   /**/
    {0.44, 0.30, 0.56, 0.48},   /* between them */
    {0.16, 0.53, 0.36, 0.71},   /* cheeks */
    {0.64, 0.53, 0.84, 0.71},   /**/
    {0.40, 0.48, 0.60, 0.64},   /* nose */
    {0.32, 0.72, 0.68, 0.84},   /* mouth */
    {0.38, 0.88, 0.62, 1.00},   /* chin */
    {0.28, 0.06, 0.72, 0.25},   /* forehead */
    {-0.25, 0.30, 0.02, 0.75},  /* beside the face */
    {0.98, 0.30, 1.25, 0.75},   /**/
    {0.20, -0.45, 0.80, -0.20}, /* above */
    {-0.25, 0.92, 0.05, 1.20},  /* beside the neck */
    {0.95, 0.92, 1.25, 1.20},   /**/
    {-0.25, -0.30, 0.05, 0.05}, /* above at the sides */
    {0.95, -0.30, 1.25, 0.05},  /**/
    {0.20, 1.12, 0.80, 1.35},   /* below */
};

void carn_face_features(const struct carn_thumbnail *planes, double x, double y, double size,
                        double features[CARN_FACE_FEATURES])
{
    double L = carn_thumbnail_mean(planes, CARN_SUM_L, x, y, x + size, y + size, 0);
    double LL = carn_thumbnail_mean(planes, CARN_SUM_LL, x, y, x + size, y + size, 0);
    double skin = carn_thumbnail_mean(planes, CARN_SUM_SKIN, x, y, x + size, y + size, 0);
    double edge = carn_thumbnail_mean(planes, CARN_SUM_EDGE, x, y, x + size, y + size, 0);
    double deviation = sqrt(fmax(LL - L * L, 0)), *f = features;
    for (int i = 0; i < PARTS; i++) {
        double x0 = x + parts[i][0] * size, y0 = y + parts[i][1] * size;
        double x1 = x + parts[i][2] * size, y1 = y + parts[i][3] * size;
        *f++ = (carn_thumbnail_mean(planes, CARN_SUM_L, x0, y0, x1, y1, L) - L) / (deviation + 3);
        *f++ = carn_thumbnail_mean(planes, CARN_SUM_SKIN, x0, y0, x1, y1, 0);
        *f++ = log((carn_thumbnail_mean(planes, CARN_SUM_EDGE, x0, y0, x1, y1, edge) + 0.5) /
                   (edge + 0.5));
    }
    *f++ = skin;
    *f++ = deviation / 20;
    /* The eyes are alike, the cheeks are alike, and both cheeks, forehead and nose are skin. */
    for (int i = 0; i < 3; i++)
        *f++ = fabs(features[i] - features[3 + i]);
    *f++ = fabs(features[10] - features[13]);
    *f++ = fabs(features[11] - features[14]);
    *f++ = fmin(features[10], features[13]);
    *f = fmin(features[25], features[7]);
}

double carn_face_odds(const double features[CARN_FACE_FEATURES])
{
    double odds = carn_face_out[CARN_FACE_UNITS];
    for (int u = 0; u < CARN_FACE_UNITS; u++) {
        double sum = carn_face_in[u][CARN_FACE_FEATURES];
        for (int i = 0; i < CARN_FACE_FEATURES; i++) {
            double v = (features[i] - carn_face_scale[i][0]) * carn_face_scale[i][1];
            sum += carn_face_in[u][i] * (v < -4 ? -4 : v > 4 ? 4 : v);
        }
        odds += carn_face_out[u] * tanh(sum);
    }
    return odds;
}

/* The best squares so far, unordered; worst is the place of the least of them once full. */
struct heap {
    struct carn_face *faces;
    size_t count;
};

static int by_odds(const void *x, const void *y)
{
    const struct carn_face *a = x, *b = y;
    return a->odds < b->odds ? 1 : a->odds > b->odds ? -1 : 0;
}

static int by_size(const void *x, const void *y)
{
    const struct carn_face *a = x, *b = y;
    return a->size < b->size ? 1 : a->size > b->size ? -1 : 0;
}

/* When the list is full, its better half stays. */
static void keep(struct heap *heap, struct carn_face face)
{
    if (heap->count == CANDIDATES) {
        qsort(heap->faces, heap->count, sizeof *heap->faces, by_odds);
        heap->count /= 2;
    }
    heap->faces[heap->count++] = face;
}

static bool could_be_face(const struct carn_thumbnail *planes, double x, double y, double size)
{
    if (carn_thumbnail_mean(planes, CARN_SUM_SKIN, x, y, x + size, y + size, 0) < SKIN)
        return false;
    for (int eye = 0; eye < 2; eye++) {
        const double *p = parts[eye];
        if (carn_thumbnail_mean(planes, CARN_SUM_EDGE, x + p[0] * size, y + p[1] * size,
                                x + p[2] * size, y + p[3] * size, 40) *
                size <
            EYES)
            return false;
    }
    return true;
}

static void try_size(const struct carn_thumbnail *planes, double size, double least,
                     struct heap *heap)
{
    double step = fmax(1, size / STEPS);
    double shorter = (double)(planes->width < planes->height ? planes->width : planes->height);
    double prior = PRIOR * fmin(log(size / (USUAL * shorter)), 0);
    double right = (double)planes->width - 0.85 * size,
           bottom = (double)planes->height - 0.8 * size;
    for (int row = 0;; row++) {
        double y = -0.12 * size + row * step;
        if (y >= bottom)
            return;
        for (int column = 0;; column++) {
            struct carn_face face = {-0.15 * size + column * step, y, size, 0};
            if (face.x >= right)
                break;
            double features[CARN_FACE_FEATURES] = {0};
            if (!could_be_face(planes, face.x, y, size))
                continue;
            carn_face_features(planes, face.x, y, size, features);
            face.odds = carn_face_odds(features) + prior;
            if (face.odds >= least)
                keep(heap, face);
        }
    }
}

/* What two squares share, of all that both cover. */
static double shared(const struct carn_face *a, const struct carn_face *b)
{
    double w = fmin(a->x + a->size, b->x + b->size) - fmax(a->x, b->x);
    double h = fmin(a->y + a->size, b->y + b->size) - fmax(a->y, b->y);
    double both = fmax(w, 0) * fmax(h, 0);
    return both / (a->size * a->size + b->size * b->size - both);
}

static bool centre_inside(const struct carn_face *inner, const struct carn_face *outer)
{
    double x = inner->x + inner->size / 2, y = inner->y + inner->size / 2;
    return x > outer->x && x < outer->x + outer->size && y > outer->y && y < outer->y + outer->size;
}

/* The mean of a square with those that share half with it, by how much better than e^-2 of its own
 * odds they are. */
static struct carn_face settle(const struct carn_face *best, const struct heap *heap)
{
    struct carn_face sum = {0, 0, 0, best->odds};
    double weights = 0;
    for (size_t i = 0; i < heap->count; i++) {
        const struct carn_face *face = &heap->faces[i];
        double weight = fmax(face->odds - best->odds + 2, 0);
        if (shared(best, face) < 0.5)
            continue;
        sum.x += weight * face->x;
        sum.y += weight * face->y;
        sum.size += weight * face->size;
        weights += weight;
    }
    return (struct carn_face){sum.x / weights, sum.y / weights, sum.size / weights, best->odds};
}

int carn_faces(const struct carn_thumbnail *planes, double least, struct carn_face *faces,
               struct carn_error *err)
{
    struct heap heap = {.faces = carn_alloc(CANDIDATES, sizeof *heap.faces, err)};
    if (heap.faces == NULL)
        return -1;
    double shorter = (double)(planes->width < planes->height ? planes->width : planes->height);
    double size = SMALLEST;
    while (size < LARGEST * shorter) {
        try_size(planes, size, least, &heap);
        size *= RATIO;
    }
    qsort(heap.faces, heap.count, sizeof *heap.faces, by_odds);
    int count = 0;
    for (size_t i = 0; i < heap.count && count < CARN_FACES; i++) {
        const struct carn_face *face = &heap.faces[i];
        bool apart =
            count == 0 || (face->odds >= least + MORE && face->size >= FAR * heap.faces[0].size);
        for (int k = 0; apart && k < count; k++)
            apart = shared(face, &faces[k]) < 0.2 && !centre_inside(face, &faces[k]) &&
                    !centre_inside(&faces[k], face);
        if (apart)
            faces[count++] = settle(face, &heap);
    }
    free(heap.faces);
    qsort(faces, (size_t)count, sizeof *faces, by_size);
    return count;
}
