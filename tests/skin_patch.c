/* Squares on drawn faces: they lie on forehead and cheeks, avoid what is not of the face's colour,
 * prefer even skin to rough, have the face's own lightness in the middle tone, and lower the
 * confidence by their cost. */
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

/* What is drawn as skin: this, unless a test is run on skin of each depth. */
static struct carn_lab own = {60, 20, 24};

/* Own skin, lighter or darker by light alone, its hue turned so that it lies off by this share of
 * its chroma. */
static void turned(struct drawing *d, int x, int y, double L, double off)
{
    double light = (L + 16) / (own.L + 16);
    dot(d, x, y, L, light * (own.a - off * own.b), light * (own.b + off * own.a));
}

static void skin(struct drawing *d, int x, int y, double L)
{
    turned(d, x, y, L, 0);
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

/* Every other pixel is off by the first share, the others by the second. */
static void chequer(struct drawing *d, int x0, int y0, int x1, int y1, double first, double second)
{
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            turned(d, x, y, own.L, (x + y) % 2 == 0 ? first : second);
}

/* So many of 40 pixels are of other colours, whose mean is skin's. */
static void sprinkle(struct drawing *d, int x0, int y0, int x1, int y1, int of40)
{
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            if ((x + 7 * y) % 40 < of40)
                turned(d, x, y, (double)d->L[y * SIDE + x], x % 2 == 0 ? 0.7 : -0.7);
}

/* The forehead is lit from above: ranked by lightness, its squares do not fall apart by what else
 * is drawn. */
static void light_from_above(struct drawing *d)
{
    for (size_t at = 0; at < (size_t)80 * SIDE; at++) {
        float share = 1.04F - (float)at / SIDE / 1000;
        d->L[at] = share * (d->L[at] + 16) - 16;
        d->a[at] *= share;
        d->b[at] *= share;
    }
}

/* So many of 20 pixels stay skin: too few for a square, which has to lie elsewhere. */
static void thin_out(struct drawing *d, int x0, int y0, int x1, int y1, int of20)
{
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            if ((x + 7 * y) % 20 >= of20)
                cover(d, x, y, x + 1, y + 1);
}

/* A whole face of even skin. */
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
    fill(&d, 0, 0, SIDE, SIDE, own.L);
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
        int half = i == 0 ? 10 : 12;
        for (int x = 0; x < SIDE; x += 4)
            cover(d, x, 0, x + 2, SIDE);
        cover(d, 0, 0, SIDE, 80);
        fill(d, 100 - half, 55 - half, 100 + half, 55 + half, 60);
        count[i] = find(d, 1, found);
    }
    tap_ok(count[0] == 0 && count[1] == 1,
           "skin of the square's own size is too little, of a third wider is enough (%d %d)",
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

/* A third of the face is lighter than the rest by this, or darker: 1 patch or 2. */
static int tones(double lighter, double confidence, const char *name)
{
    struct carn_skin_patch found[CARN_SKIN_PATCHES];
    struct drawing *d = begin();
    fill(d, 112, 0, SIDE, SIDE, own.L + lighter);
    d->face.confidence = confidence;
    int count = find(d, 3, found);
    return count == 1 || strcmp(found[lighter > 0 ? 0 : 1].tone, name) == 0 ? count : -1;
}

static void test_light(const char *depth)
{
    tap_ok(tones(2.5, 0.9, "light") == 1 && tones(4, 0.9, "light") == 2,
           "%s: a side 2.5 lighter is no light, 4 lighter it is", depth);
    tap_ok(tones(-2.5, 0.9, "shade") == 1 && tones(-4, 0.9, "shade") == 2,
           "%s: nor is it shade 2.5 darker, 4 darker it is", depth);
    tap_ok(tones(8, 0.45, "light") == 1 && tones(8, 0.55, "light") == 2,
           "%s: of a face that may be none there is the middle alone", depth);
    int count[2];
    for (int i = 0; i < 2; i++) {
        struct carn_skin_patch found[CARN_SKIN_PATCHES];
        struct drawing *d = begin();
        roughen(d, 112, 0, SIDE, SIDE, own.L + 8, i == 0 ? 2 : 6);
        sprinkle(d, 112, 0, SIDE, SIDE, 6);
        count[i] = find(d, 3, found);
    }
    tap_ok(count[0] == 2 && count[1] == 1, "%s: nor has it a light that is poor (%d %d)", depth,
           count[0], count[1]);
}

/* Whether there is a square on a forehead so far off the cheeks in hue, which cannot hold one. */
static bool on_forehead(double first, double second)
{
    struct carn_skin_patch found[CARN_SKIN_PATCHES];
    struct drawing *d = begin();
    thin_out(d, 0, 0, SIDE, SIDE, 5);
    chequer(d, 0, 0, SIDE, 80, first, second);
    return find(d, 1, found) == 1;
}

static void test_alike(const char *depth)
{
    tap_ok(on_forehead(0.3, -0.3) && !on_forehead(0.34, -0.34),
           "%s: colours up to 0.32 of the chroma off are the face's", depth);
    tap_ok(on_forehead(0.25, 0.25) && !on_forehead(0.29, 0.29), "%s: their mean has to be nearer",
           depth);
    bool few[2], seen[2], like[2];
    for (int i = 0; i < 2; i++) {
        struct carn_skin_patch found[CARN_SKIN_PATCHES];
        struct drawing *d = begin();
        thin_out(d, 0, 80, SIDE, SIDE, 5);
        sprinkle(d, 0, 0, SIDE, 80, i == 0 ? 7 : 9);
        few[i] = find(d, 1, found) == 1;
        d = begin();
        thin_out(d, 0, 80, SIDE, SIDE, i == 0 ? 5 : 3);
        seen[i] = find(d, 1, found) == 1;
        d = begin();
        for (size_t k = 0; k < (size_t)SIDE * SIDE; k++)
            d->skin[k] = i == 0 ? 0.15F : 0.05F;
        like[i] = find(d, 1, found) == 1;
    }
    tap_ok(few[0] && !few[1], "%s: a fifth of other colours is the most", depth);
    tap_ok(seen[0] && !seen[1], "%s: a fifth of the cheeks has to be seen", depth);
    tap_ok(like[0] && !like[1], "%s: and to be a little like skin", depth);
}

/* Hardly a colour is left: a share of it is less than noise. */
static void test_pale(void)
{
    own = (struct carn_lab){70, 5, 7};
    double chroma = hypot(own.a, own.b);
    tap_ok(on_forehead(5.5 / chroma, -5.5 / chroma) && !on_forehead(6.5 / chroma, -6.5 / chroma),
           "of pale skin what is 6 off is the face's");
}

/* The forehead's left half has other colours, its right half is rough by so much: is the square on
 * the left? */
static bool left_of_rough(int of40, double off, double rough)
{
    struct carn_skin_patch found[CARN_SKIN_PATCHES];
    struct drawing *d = begin();
    thin_out(d, 0, 0, SIDE, SIDE, 5);
    chequer(d, 0, 0, 96, 80, off, off);
    sprinkle(d, 0, 0, 96, 80, of40);
    roughen(d, 104, 0, SIDE, 80, own.L, rough);
    light_from_above(d);
    int count = find(d, 1, found);
    return count == 1 && found[0].x + found[0].side / 2 < 100;
}

static void test_cost(const char *depth)
{
    tap_ok(!left_of_rough(4, 0, 2.5) && left_of_rough(4, 0, 6),
           "%s: a tenth of other colours is worse than a little rough, better than very", depth);
    tap_ok(!left_of_rough(0, 0.24, 2) && left_of_rough(0, 0.24, 5),
           "%s: so is skin a little off the face's colour", depth);
}

/* A face with one island of even skin, in the unit of the face's square: is a square there? */
static bool island(double u, double v)
{
    struct carn_skin_patch found[CARN_SKIN_PATCHES];
    struct drawing *d = begin();
    int x = (int)(100 + 153.6 * (u - 0.5)), y = (int)(84 + 153.6 * (v - 0.39));
    thin_out(d, 0, 0, SIDE, SIDE, 5);
    fill(d, x - 14, y - 14, x + 14, y + 14, own.L);
    return find(d, 1, found) == 1;
}

static void test_spots(void)
{
    tap_ok(island(0.29, 0.2) && island(0.71, 0.2) && island(0.5, 0.11) && island(0.5, 0.27),
           "a square may be anywhere on the forehead");
    tap_ok(!island(0.19, 0.2) && !island(0.81, 0.2) && !island(0.5, 0.01) && !island(0.5, 0.37),
           "not in the hair, at the temples or between the eyes");
    tap_ok(island(0.23, 0.54) && island(0.3, 0.65) && island(0.77, 0.54) && island(0.7, 0.65),
           "and on the cheeks");
    tap_ok(!island(0.13, 0.6) && !island(0.87, 0.6) && !island(0.3, 0.75) && !island(0.7, 0.75) &&
               !island(0.5, 0.6) && !island(0.3, 0.43) && !island(0.7, 0.43),
           "not at the ears, the jaw, the nose or the eyes");
}

static const struct {
    const char *depth;
    struct carn_lab lab;
} skins[] = {{"light", {74, 18, 21}}, {"medium", {54, 21, 25}}, {"deep", {32, 21, 25}}};

int main(void)
{
    test_around();
    test_even();
    test_place();
    test_tone();
    test_spots();
    for (size_t i = 0; i < sizeof skins / sizeof *skins; i++) {
        own = skins[i].lab;
        test_light(skins[i].depth);
        test_alike(skins[i].depth);
        test_cost(skins[i].depth);
    }
    test_pale();
    return tap_end();
}
