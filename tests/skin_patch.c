/* Squares on drawn faces: they avoid what is not of the face's colour, prefer even skin to rough,
 * have the face's own lightness in the middle tone, and lower the confidence by their cost. */
#include "skin/skin_patch.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The picture's side. With eyes 60 above the mouth a square is 18 pixels wide. */
enum { SIDE = 200 };

struct drawing {
    float L[SIDE * SIDE], a[SIDE * SIDE], b[SIDE * SIDE], skin[SIDE * SIDE];
    bool unfit[SIDE * SIDE];
    double edge[(SIDE + 1) * (SIDE + 1)];
    struct carn_thumbnail planes;
    struct carn_face face;
};

static void dot(struct drawing *d, int x, int y, double L, double a, double b)
{
    size_t at = (size_t)y * SIDE + (size_t)x;
    d->L[at] = (float)L;
    d->a[at] = (float)a;
    d->b[at] = (float)b;
    d->skin[at] = b > 0 ? 1 : 0;
}

/* Skin of one colour, lighter or darker by light alone. */
static void skin(struct drawing *d, int x, int y, double L)
{
    dot(d, x, y, L, 20 * (L + 16) / 76, 24 * (L + 16) / 76);
}

static void fill(struct drawing *d, int x0, int y0, int x1, int y1, double L)
{
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            skin(d, x, y, L);
}

static void cover(struct drawing *d, int x0, int y0, int x1, int y1)
{
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            dot(d, x, y, 40, 0, -20);
}

/* Fields of 4 pixels, by `by` lighter and darker than L. */
static void roughen(struct drawing *d, int x0, int y0, int x1, int y1, double L, double by)
{
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            skin(d, x, y, L + ((x / 4 + y / 4) % 2 == 0 ? by : -by));
}

/* A whole face of even skin at L* 60. */
static struct drawing *begin(void)
{
    static const double points[CARN_POINTS][2] = {{73, 84},   {127, 84}, {100, 117},
                                                  {100, 144}, {45, 93},  {155, 93}};
    static struct drawing d;
    memset(&d, 0, sizeof d);
    d.planes = (struct carn_thumbnail){.width = SIDE, .height = SIDE};
    d.planes.L = d.L;
    d.planes.a = d.a;
    d.planes.b = d.b;
    d.planes.skin = d.skin;
    d.planes.unfit = d.unfit;
    d.planes.edges = d.edge;
    d.face.outline = carn_outline_of_points(points);
    d.face.confidence = 0.9;
    fill(&d, 0, 0, SIDE, SIDE, 60);
    return &d;
}

/* The squares of what was drawn; of the steepness of L* as thumbnail.h has it. */
static int find(struct drawing *d, int count, struct carn_skin_patch found[CARN_SKIN_PATCHES])
{
    struct carn_error err = {0};
    for (size_t y = 0; y < SIDE; y++) {
        double line = 0;
        for (size_t x = 0; x < SIDE; x++) {
            size_t at = y * SIDE + x, corner = (y + 1) * (SIDE + 1) + x + 1;
            double across = x > 0 && x + 1 < SIDE ? (double)(d->L[at + 1] - d->L[at - 1]) : 0;
            double down = y > 0 && y + 1 < SIDE ? (double)(d->L[at + SIDE] - d->L[at - SIDE]) : 0;
            line += fmin(hypot(across, down), 40);
            d->edge[corner] = d->edge[corner - SIDE - 1] + line;
        }
    }
    return carn_skin_patches(&d->planes, &d->face, count, found, &err);
}

static void test_around(void)
{
    struct carn_skin_patch found[CARN_SKIN_PATCHES];
    int count[2];
    for (int i = 0; i < 2; i++) { /* an island of skin on the forehead, cheeks of stripes */
        struct drawing *d = begin();
        int half = i == 0 ? 10 : 14;
        for (int x = 0; x < SIDE; x += 4)
            cover(d, x, 0, x + 2, SIDE);
        cover(d, 0, 0, SIDE, 80);
        fill(d, 100 - half, 55 - half, 100 + half, 55 + half, 60);
        count[i] = find(d, 1, found);
    }
    tap_ok(count[0] == 0 && count[1] == 1,
           "skin of the square's own size is too little, of half as much again is enough (%d %d)",
           count[0], count[1]);
}

static void test_even(void)
{
    struct carn_skin_patch found[CARN_SKIN_PATCHES];
    double kept[2] = {0, 0};
    int count[3];
    for (int i = 0; i < 3; i++) {
        struct drawing *d = begin();
        roughen(d, 0, 0, SIDE, SIDE, 60, i == 0 ? 0 : i == 1 ? 6 : 15);
        count[i] = find(d, 1, found);
        if (i < 2)
            kept[i] = count[i] == 1 ? found[0].confidence / d->face.confidence : 0;
    }
    tap_ok(count[0] == 1 && kept[0] > 0.985, "an even square keeps the face's confidence (%.3f)",
           kept[0]);
    tap_ok(count[1] == 1 && kept[1] > 0.94 && kept[1] < 0.985, "a rough one a little less (%.3f)",
           kept[1]);
    tap_ok(count[2] == 0, "fields 15 lighter and darker are refused (%d)", count[2]);
}

static void test_place(void)
{
    struct carn_skin_patch found[CARN_SKIN_PATCHES];
    struct drawing *d = begin();
    double x = 0;
    if (find(d, 1, found) == 1)
        x = fabs(found[0].x + found[0].side / 2 - 100);
    tap_ok(x > 12 && x < 24, "of a face as even everywhere, the inner edge of a cheek (%.1f)", x);
}

/* One cheek has the face's own lightness and is a little rough, the other is even and lighter. */
static void test_tone(void)
{
    struct carn_skin_patch found[CARN_SKIN_PATCHES];
    double x[2] = {0, 0};
    for (int i = 0; i < 2; i++) {
        struct drawing *d = begin();
        cover(d, 0, 0, SIDE, 80);
        fill(d, 0, 80, 88, SIDE, i == 0 ? 72 : 62);
        roughen(d, 112, 80, SIDE, SIDE, 60, 3);
        if (find(d, 1, found) == 1)
            x[i] = found[0].x + found[0].side / 2;
    }
    tap_ok(x[0] > 100, "the middle is of the face's own L* before it is even (%.0f)", x[0]);
    tap_ok(x[1] > 0 && x[1] < 100, "but 2 in L* are not worth rough skin (%.0f)", x[1]);
}

static void test_light(void)
{
    struct carn_skin_patch found[CARN_SKIN_PATCHES];
    int count[3];
    for (int i = 0; i < 3; i++) {
        struct drawing *d = begin();
        fill(d, 0, 0, SIDE, 80, i == 0 ? 62 : 68);
        d->face.confidence = i == 2 ? 0.4 : 0.9;
        count[i] = find(d, 3, found);
    }
    tap_ok(count[0] == 1 && count[1] == 2 && strcmp(found[0].tone, "middle") == 0,
           "a forehead 2 lighter is no light, 8 lighter it is (%d %d)", count[0], count[1]);
    tap_ok(count[2] == 1, "of a face that may be none there is the middle alone (%d)", count[2]);
}

int main(void)
{
    test_around();
    test_even();
    test_place();
    test_tone();
    test_light();
    return tap_end();
}
