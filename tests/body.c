/* Bare skin where no face is: a drawn arm is proposed at its place, of any depth; what is small,
 * rough, painted flat, of many colours or of another form is not. Likeness to skin and steepness
 * are drawn, not computed. */
#include "skin/body.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SIDE = 256, CELL = 4 }; /* CELL: pixels a cell in a picture of this side */

struct drawing {
    float L[SIDE * SIDE], a[SIDE * SIDE], b[SIDE * SIDE], skin[SIDE * SIDE], edge[SIDE * SIDE];
    struct carn_thumbnail planes;
};

/* What is drawn unless a test changes it. */
struct arm {
    double tilt, half_long, half_wide, L;
    double like, steep; /* mean steepness by L* + 16 */
    double painted;     /* share of the pixels whose steepness is `flat` */
    double flat;
    double red; /* a* of half of it by so much higher, b* lower, as a share of the chroma */
    double gap; /* half the width of a stripe across it, without skin */
    double steep_gap;
};

static const struct arm usual = {
    .tilt = 30, .half_long = 70, .half_wide = 24, .L = 60, .like = 0.9, .steep = 0.03};

static double along_of(const struct arm *arm, double x, double y, double *across)
{
    double t = arm->tilt * acos(-1) / 180, dx = x - 120, dy = y - 130;
    *across = dx * cos(t) + dy * sin(t);
    return dy * cos(t) - dx * sin(t);
}

static void draw(struct drawing *d, const struct arm *arm)
{
    memset(d, 0, sizeof *d);
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            size_t at = (size_t)y * SIDE + (size_t)x;
            double across, along = along_of(arm, x + 0.5, y + 0.5, &across);
            double light = (arm->L + 16) * (1 + 0.3 * across / arm->half_wide);
            bool in = fabs(across) < arm->half_wide && fabs(along) < arm->half_long;
            bool gap = fabs(along) < arm->gap,
                 painted = (x * 37 + y * 61) % 100 < 100 * arm->painted;
            double turned = along > 0 ? arm->red : -arm->red;
            d->L[at] = in ? (float)(light - 16) : 20;
            d->skin[at] = in ? (float)arm->like : 0;
            d->a[at] = in ? (float)(light * (0.28 + 0.45 * turned)) : 0;
            d->b[at] = in ? (float)(light * (0.35 - 0.36 * turned)) : 0;
            d->edge[at] = (float)(in && gap ? arm->steep_gap * light
                                  : painted ? arm->flat
                                            : arm->steep * light);
        }
    d->planes = (struct carn_thumbnail){.width = SIDE, .height = SIDE};
    d->planes.L = d->L;
    d->planes.a = d->a;
    d->planes.b = d->b;
    d->planes.skin = d->skin;
    d->planes.edge = d->edge;
}

static int find(const struct arm *arm, struct carn_body *body)
{
    static struct drawing d;
    struct carn_error err = {0};
    draw(&d, arm);
    return carn_body_find(&d.planes, body, &err);
}

static bool is_found(const struct arm *arm)
{
    struct carn_body body;
    return find(arm, &body) == 1;
}

/* The oval lies on the arm, along it, and is as large as one that is drawn into it. */
static bool lies_well(const struct arm *arm, const struct carn_body *body)
{
    const struct carn_outline *o = &body->outline;
    double turned = fabs(remainder(o->tilt - arm->tilt, 180)), middle;
    double along = along_of(arm, o->x, o->y, &middle);
    return turned < 2 && hypot(along, middle) < 3 && o->across < arm->half_wide &&
           o->across > 0.7 * arm->half_wide && o->down < arm->half_long &&
           o->down > 0.7 * arm->half_long;
}

static void test_place(void)
{
    static const double depths[] = {75, 50, 22}, tilts[] = {0, 30, -60, 90};
    bool well = true;
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 4; k++) {
            struct arm arm = usual;
            struct carn_body body;
            arm.L = depths[i];
            arm.tilt = tilts[k];
            well = well && find(&arm, &body) == 1 && lies_well(&arm, &body);
            well = well && fabs(body.share - 4 * 70 * 24.0 / SIDE / SIDE) < 0.02;
        }
    tap_ok(well, "an arm of light, medium and deep skin, whatever its tilt: an oval within it");
    tap_ok(carn_body_confidence > 0 && carn_body_confidence < 0.2,
           "its confidence is under what a face needs to be proposed");
}

/* Each number is met from both sides. */
static void test_bounds(void)
{
    struct arm low = usual, high = usual;
    low.half_long = 14; /* 0.0205 of the picture, less what is in cells at its edge */
    low.half_wide = 14;
    high.half_long = 26;
    high.half_wide = 22;
    tap_ok(!is_found(&low) && is_found(&high), "a hundredth of the picture is too little");
    low = high = usual;
    low.like = 0.45;
    high.like = 0.55;
    tap_ok(!is_found(&low) && is_found(&high), "it has to be like skin by a half");
    low = high = usual;
    low.steep = 0.055;
    high.steep = 0.045;
    tap_ok(!is_found(&low) && is_found(&high), "what is rough is wood or stone");
    low = high = usual;
    low.painted = 0.25;
    high.painted = 0.15;
    tap_ok(!is_found(&low) && is_found(&high), "what has flat areas is painted");
    low.flat = 0.24;
    high = low;
    high.flat = 0.26;
    tap_ok(!is_found(&low) && is_found(&high), "flat is under 0.25 of L* in two pixels");
    low = high = usual;
    low.red = 0.22;
    high.red = 0.18;
    tap_ok(!is_found(&low) && is_found(&high), "it has one colour");
}

/* An upright arm, 48 pixels wide and 140 high, with a hole in its middle. */
static int find_with_hole(int width, int height, struct carn_body *body)
{
    static struct drawing d;
    struct carn_error err = {0};
    struct arm frame = usual;
    frame.tilt = 0;
    draw(&d, &frame);
    for (int y = 130 - height / 2; y < 130 + height / 2; y++)
        for (int x = 120 - width / 2; x < 120 + width / 2; x++)
            d.skin[y * SIDE + x] = 0;
    return carn_body_find(&d.planes, body, &err);
}

static void test_groups(void)
{
    struct arm whole = usual, parted = usual;
    struct carn_body one = {.share = 0}, part = one;
    whole.gap = parted.gap = 6;
    whole.steep_gap = 0.09;
    parted.steep_gap = 0.13;
    bool both = find(&whole, &one) == 1 && find(&parted, &part) == 1;
    tap_ok(both && part.share < 0.6 * one.share, "an edge across parts it; the larger part counts");
    /* They leave 0.64 and 0.73 of the ellipse of the second moments. */
    tap_ok(find_with_hole(16, 84, &one) == 0 && find_with_hole(16, 56, &one) == 1,
           "what has a large hole is none");
    static struct drawing d;
    struct carn_error err = {0};
    draw(&d, &usual);
    d.planes.width = d.planes.height = 1;
    tap_ok(carn_body_find(&d.planes, &one, &err) == 0, "nor is one pixel");
}

int main(void)
{
    test_place();
    test_bounds();
    test_groups();
    return tap_end();
}
