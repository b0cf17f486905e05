/* The oval of a face from points and boxes, and which of its pixels are its own skin, on a drawn
 * face: skin in light and shade, black hair on the forehead, brown hair of the skin's own hue, a
 * beard, shine, paint. */
#include "skin/face_skin.h"
#include "correct/measure.h"
#include "skin/place.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>

enum { SIDE = 200 };

static bool near(double x, double y, double within)
{
    return fabs(x - y) <= within;
}

/* Eyes 54 apart, the mouth 60 under them, ears at the sides; turned clockwise about 100, 100. */
static void face_points(double tilt, double to[CARN_POINTS][2])
{
    static const double upright[CARN_POINTS][2] = {{73, 84},   {127, 84}, {100, 117},
                                                   {100, 144}, {45, 93},  {155, 93}};
    double t = tilt * acos(-1) / 180;
    for (int i = 0; i < CARN_POINTS; i++) {
        double x = upright[i][0] - 100, y = upright[i][1] - 100;
        to[i][0] = 100 + x * cos(t) - y * sin(t);
        to[i][1] = 100 + x * sin(t) + y * cos(t);
    }
}

/* A face turned to its left: the left eye near the edge of the face with the ear behind it, the
 * right ear at the back of the head. */
static void turn_aside(double to[CARN_POINTS][2])
{
    static const double aside[CARN_POINTS][2] = {{96, 84},   {136, 84}, {134, 117},
                                                 {124, 144}, {48, 93},  {140, 93}};
    for (int i = 0; i < CARN_POINTS; i++)
        for (int k = 0; k < 2; k++)
            to[i][k] = aside[i][k];
}

static void test_outline(void)
{
    double points[CARN_POINTS][2];
    bool turned = true;
    for (int tilt = -40; tilt <= 40; tilt += 20) {
        face_points(tilt, points);
        struct carn_outline o = carn_outline_of_points((const double(*)[2])points);
        turned = turned && near(o.tilt, tilt, 1e-6) && near(o.across, 50.6, 0.1) &&
                 near(o.down, 81.6, 0.1) && near(hypot(o.x - 100, o.y - 100), 3.8, 0.1);
    }
    tap_ok(turned, "the oval turns with the points, clockwise");
    turn_aside(points);
    struct carn_outline aside = carn_outline_of_points((const double(*)[2])points);
    tap_ok(near(aside.x, 107.2, 0.1) && near(aside.y, 104.6, 0.1) && near(aside.across, 45.4, 0.1),
           "of a face turned aside it lies between eyes and ears (%.1f %.1f)", aside.x, aside.y);
    tap_ok(carn_outline_region(&aside, 134, 112) == CARN_ELSEWHERE &&
               carn_outline_region(&aside, 126, 112) == CARN_SUREST &&
               carn_outline_region(&aside, 86, 112) == CARN_SUREST &&
               carn_outline_region(&aside, 72, 112) == CARN_ELSEWHERE,
           "surest ends before the far cheek and half way to the near ear");
    face_points(0, points);
    struct carn_outline a = carn_outline_of_points((const double(*)[2])points);
    struct carn_outline b =
        carn_outline_of_box(a.x - a.across, a.y - a.down, 2 * a.across, 2 * a.down, 0);
    double worst = 0;
    for (int i = 0; i < CARN_POINTS; i++)
        worst =
            fmax(worst, hypot(a.points[i][0] - b.points[i][0], a.points[i][1] - b.points[i][1]));
    tap_ok(worst < 4, "a box has eyes, nose and mouth about where the points are (%.1f)", worst);
    tap_ok(carn_outline_region(&a, 73, 84) == CARN_FEATURE &&
               carn_outline_region(&a, 127, 66) == CARN_FEATURE &&
               carn_outline_region(&a, 100, 150) == CARN_FEATURE &&
               carn_outline_region(&a, 80, 115) == CARN_SUREST &&
               carn_outline_region(&a, 100, 35) == CARN_ELSEWHERE &&
               carn_outline_region(&a, 160, 100) == CARN_OUTSIDE,
           "eye, brow and mouth are features, a cheek is surest, an ear is outside");
    tap_ok(carn_outline_region(&a, 100, 95) == CARN_ELSEWHERE &&
               carn_outline_region(&a, 100, 99) == CARN_SUREST &&
               carn_outline_region(&a, 75, 128) == CARN_SUREST &&
               carn_outline_region(&a, 75, 132) == CARN_ELSEWHERE,
           "surest begins under the eyes and ends over the mouth");
}

struct drawing {
    struct carn_thumbnail planes;
    unsigned char cover[SIDE * SIDE];
};

static int open_drawing(struct drawing *d, struct carn_error *err)
{
    struct carn_thumbnail *p = &d->planes;
    p->width = p->height = SIDE;
    p->L = carn_alloc(SIDE * SIDE, sizeof *p->L, err);
    p->a = carn_alloc(SIDE * SIDE, sizeof *p->a, err);
    p->b = carn_alloc(SIDE * SIDE, sizeof *p->b, err);
    p->rgb = carn_alloc(SIDE * SIDE, 3 * sizeof *p->rgb, err);
    p->unfit = carn_alloc(SIDE * SIDE, sizeof *p->unfit, err);
    return p->L != NULL && p->a != NULL && p->b != NULL && p->rgb != NULL && p->unfit != NULL ? 0
                                                                                              : -1;
}

static void close_drawing(struct drawing *d)
{
    free(d->planes.L);
    free(d->planes.a);
    free(d->planes.b);
    free(d->planes.rgb);
    free(d->planes.unfit);
}

static void dot(struct drawing *d, int x, int y, double L, double a, double b)
{
    size_t at = (size_t)y * SIDE + (size_t)x;
    d->planes.L[at] = (float)L;
    d->planes.a[at] = (float)a;
    d->planes.b[at] = (float)b;
    for (size_t c = 0; c < 3; c++)
        d->planes.rgb[3 * at + c] = (uint16_t)(600 * L);
}

/* Skin all over, its light falling from the left to the right by a half. */
static void draw_skin(struct drawing *d, struct carn_lab skin)
{
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            double share = 1.2 - 0.4 * x / SIDE;
            dot(d, x, y, share * (skin.L + 16) - 16, share * skin.a, share * skin.b);
        }
}

static void draw_box(struct drawing *d, int x0, int y0, int x1, int y1, struct carn_lab lab)
{
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            dot(d, x, y, lab.L + (x % 3) * 0.5, lab.a, lab.b);
}

static size_t own_in(const struct drawing *d, int x0, int y0, int x1, int y1)
{
    size_t count = 0;
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            count += d->cover[y * SIDE + x] == CARN_OWN_SKIN;
    return count;
}

static const struct {
    const char *depth;
    struct carn_lab lab;
} skins[] = {{"light", {74, 18, 21}}, {"medium", {54, 21, 25}}, {"deep", {32, 21, 25}}};

static void test_skin(struct drawing *d, const char *depth, struct carn_lab skin)
{
    struct carn_error err = {0};
    struct carn_face_tones clean, tones;
    double points[CARN_POINTS][2];
    face_points(0, points);
    struct carn_outline o = carn_outline_of_points((const double(*)[2])points);
    draw_skin(d, skin);
    int rc = carn_face_tones(&d->planes, &o, &clean, d->cover, &err);
    tap_ok(rc == 0 && clean.share > 0.99 && clean.greened == 0 && clean.hue_spread < 0.1 &&
               clean.tone[CARN_TONE_LIGHT].rgb[0] > clean.tone[CARN_TONE_MIDDLE].rgb[0] + 0.01 &&
               clean.tone[CARN_TONE_MIDDLE].rgb[0] > clean.tone[CARN_TONE_SHADE].rgb[0] + 0.01,
           "%s: all of a plain face is its skin, in three tones (share %.2f)", depth, clean.share);
    double dark = 0.3 * (skin.L + 16) - 12;
    draw_box(d, 0, 0, SIDE, 50, (struct carn_lab){dark, 1, 1}); /* black hair */
    carn_face_tones(&d->planes, &o, &tones, d->cover, &err);
    size_t hair = own_in(d, 0, 0, SIDE, 50);
    draw_box(d, 60, 105, 75, 120, (struct carn_lab){92, 2, 4});             /* shine */
    draw_box(d, 118, 100, 135, 115, (struct carn_lab){skin.L, -20, 20});    /* paint */
    draw_box(d, 70, 158, 130, SIDE, (struct carn_lab){0.8 * skin.L, 5, 9}); /* beard */
    draw_box(d, 45, 110, 58, 150, (struct carn_lab){dark, 0.3 * skin.a, 0.3 * skin.b});
    rc = carn_face_tones(&d->planes, &o, &tones, d->cover, &err);
    tap_ok(rc == 0 && hair == 0 && own_in(d, 60, 105, 75, 120) == 0 &&
               own_in(d, 118, 100, 135, 115) == 0 && own_in(d, 70, 158, 130, SIDE) == 0 &&
               own_in(d, 45, 110, 58, 150) == 0,
           "%s: hair, hair of the skin's hue, shine, paint and beard are none of it", depth);
    tap_ok(tones.share > 0.5 && near(tones.tone[CARN_TONE_MIDDLE].rgb[0],
                                     clean.tone[CARN_TONE_MIDDLE].rgb[0], 0.015),
           "%s: and the middle stays (%.4f, %.4f)", depth, tones.tone[CARN_TONE_MIDDLE].rgb[0],
           clean.tone[CARN_TONE_MIDDLE].rgb[0]);
    tap_ok(near(tones.greened, 100 * 255.0 / (255 + (double)tones.pixels), 1e-6),
           "%s: green paint of 255 pixels counts as greened (%.2f)", depth, tones.greened);
}

/* Half of the face is lighter than its middle. Pixels alone among other colours are no skin. Hair
 * of skin's hue is told by its darkness. Faint green counts. */
static void test_limits(struct drawing *d, const char *depth, struct carn_lab skin)
{
    struct carn_error err = {0};
    struct carn_face_tones tones;
    double points[CARN_POINTS][2], greened[2];
    size_t alone, own[2];
    face_points(0, points);
    struct carn_outline o = carn_outline_of_points((const double(*)[2])points);
    draw_skin(d, skin);
    for (int i = 0; i < 30 * 16; i++)
        if ((i % 30 + i / 30) % 2 == 0)
            dot(d, 85 + i % 30, 40 + i / 30, skin.L, -15, -25);
    int rc = carn_face_tones(&d->planes, &o, &tones, d->cover, &err);
    alone = own_in(d, 86, 41, 114, 55);
    double middle = tones.tone[CARN_TONE_MIDDLE].rgb[0] * 65535 / 600;
    tap_ok(rc == 0 && near(middle, skin.L, 1.2), "%s: the middle is of L* %.1f, %.1f expected",
           depth, middle, skin.L);
    tap_ok(alone < 10, "%s: every other pixel of skin is none (%zu of 196)", depth, alone);
    for (int i = 0; i < 2; i++) { /* a fringe */
        double share = i == 0 ? 0.66 : 0.86;
        draw_skin(d, skin);
        draw_box(d, 60, 36, 140, 56,
                 (struct carn_lab){share * (skin.L + 16) - 16, share * skin.a, share * skin.b});
        rc |= carn_face_tones(&d->planes, &o, &tones, d->cover, &err);
        own[i] = own_in(d, 62, 38, 138, 54);
    }
    tap_ok(rc == 0 && own[0] == 0 && own[1] > 800,
           "%s: a third darker it is hair, a seventh shade (%zu, %zu)", depth, own[0], own[1]);
    for (int i = 0; i < 2; i++) {
        draw_skin(d, skin);
        draw_box(d, 118, 100, 135, 115, (struct carn_lab){skin.L, -1, i == 0 ? 2.5 : 4});
        rc |= carn_face_tones(&d->planes, &o, &tones, d->cover, &err);
        greened[i] = tones.greened;
    }
    tap_ok(rc == 0 && greened[0] == 0 && greened[1] > 1,
           "%s: green of chroma 4 is green, of 2.7 grey (%.2f)", depth, greened[1]);
}

/* Skin in this share of its light, its hue turned so that it lies off by this share of its chroma.
 */
static struct carn_lab skin_off(struct carn_lab skin, double share, double off)
{
    return (struct carn_lab){share * (skin.L + 16) - 16, share * (skin.a - off * skin.b),
                             share * (skin.b + off * skin.a)};
}

/* Skin in this share of its light, with this share of its chroma there. */
static struct carn_lab skin_paler(struct carn_lab skin, double share, double chroma)
{
    return (struct carn_lab){share * (skin.L + 16) - 16, chroma * share * skin.a,
                             chroma * share * skin.b};
}

/* A third of the pixels is off to either side. */
static void draw_scattered(struct drawing *d, struct carn_lab skin, double off)
{
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            struct carn_lab lab = skin_off(skin, 1, off * ((x + y) % 3 - 1));
            dot(d, x, y, lab.L, lab.a, lab.b);
        }
}

/* Whether a spot of this colour on the forehead is own skin. */
static bool spot(struct drawing *d, struct carn_lab lab)
{
    struct carn_error err = {0};
    struct carn_face_tones tones;
    double points[CARN_POINTS][2];
    face_points(0, points);
    struct carn_outline o = carn_outline_of_points((const double(*)[2])points);
    draw_box(d, 85, 36, 115, 56, lab);
    return carn_face_tones(&d->planes, &o, &tones, d->cover, &err) == 0 &&
           own_in(d, 88, 39, 112, 53) > 300;
}

/* How far from a face's own colour its skin may be: the more, the more its colours scatter, between
 * two bounds. What is farther off does not move the own colour, however much of it there is. */
static void test_distance(struct drawing *d, const char *depth, struct carn_lab skin)
{
    bool inside, outside;
    draw_skin(d, skin);
    inside = spot(d, skin_off(skin, 1, 0.15));
    outside = spot(d, skin_off(skin, 1, 0.25));
    tap_ok(inside && !outside, "%s: on even skin 0.15 off is skin, 0.25 is none", depth);
    draw_scattered(d, skin, 0.1);
    inside = spot(d, skin_off(skin, 1, 0.23));
    outside = spot(d, skin_off(skin, 1, 0.28));
    tap_ok(inside && !outside, "%s: where colours scatter, 0.23 off is skin, 0.28 is none", depth);
    draw_scattered(d, skin, 0.2);
    inside = spot(d, skin_off(skin, 1, 0.37));
    outside = spot(d, skin_off(skin, 1, 0.45));
    tap_ok(inside && !outside, "%s: however they scatter, 0.37 off is skin, 0.45 is none", depth);
    draw_skin(d, skin);
    draw_box(d, 0, 0, SIDE, 92, skin_off(skin, 1, 0.6));
    draw_box(d, 0, 134, SIDE, SIDE, skin_off(skin, 1, 0.6));
    outside = spot(d, skin_off(skin, 1, 0.6));
    tap_ok(!outside && own_in(d, 66, 100, 134, 125) == 68 * 25,
           "%s: paint around cheeks and nose is none, whatever its area", depth);
    draw_skin(d, skin);
    draw_box(d, 60, 90, 79, 140, skin_off(skin, 0.7, 0));
    spot(d, skin);
    tap_ok(own_in(d, 64, 98, 75, 125) == 11 * 27, "%s: shadow on a part of a cheek is skin", depth);
    draw_skin(d, skin);
    draw_box(d, 0, 0, SIDE, 92, skin_off(skin, 0.85, 0.4));
    inside = spot(d, skin_off(skin, 0.85, 0.4));
    outside = spot(d, skin_off(skin, 0.85, 0.55));
    tap_ok(inside && !outside, "%s: shade may be 0.4 off in hue, not 0.55", depth);
    draw_skin(d, skin);
    draw_box(d, 0, 0, SIDE, 92, skin_paler(skin, 0.85, 0.6));
    outside = spot(d, skin_paler(skin, 0.85, 0.5));
    draw_skin(d, skin);
    draw_box(d, 0, 0, SIDE, 92, skin_paler(skin, 0.85, 1.35));
    inside = spot(d, skin_paler(skin, 0.85, 1.35));
    tap_ok(inside && !outside, "%s: shade may be more coloured by a third, not as much paler",
           depth);
}

/* A quarter of the face more or less coloured than light and shade explain: own colour follows up
 * to these limits, and what is as far from it again is none. */
static void test_follows(struct drawing *d, const char *depth, struct carn_lab skin)
{
    bool own[4];
    static const double area[4] = {1.56, 1.56, 0.76, 0.76}, tried[4] = {1.56, 2.05, 0.63, 0.55};
    for (int i = 0; i < 4; i++) {
        draw_box(d, 0, 0, SIDE, SIDE, skin);
        draw_box(d, 0, 0, SIDE, 72, skin_paler(skin, 0.87, area[i]));
        own[i] = spot(d, skin_paler(skin, 0.87, tried[i]));
    }
    tap_ok(own[0] && !own[1] && own[2] && !own[3],
           "%s: more coloured by a half it is followed, paler by a quarter (%d %d %d %d)", depth,
           own[0], own[1], own[2], own[3]);
}

/* Skin in this share of its light. */
static struct carn_lab lit(struct carn_lab skin, double share)
{
    return skin_paler(skin, share, 1);
}

/* So many of 100 pixels of cheeks and nose are in another light. */
static void light_cheeks(struct drawing *d, struct carn_lab skin, int of100, double share)
{
    for (int y = 94; y < 134; y++)
        for (int x = 0; x < SIDE; x++)
            if ((x * 37 + y * 61) % 100 < of100) {
                struct carn_lab lab = lit(skin, share);
                dot(d, x, y, lab.L, lab.a, lab.b);
            }
}

/* Where skin ends by its light: half as light again as most of the cheeks, a fifth darker than
 * their darkest. A few pixels of the cheeks change nothing. */
static void test_light(struct drawing *d, const char *depth, struct carn_lab skin)
{
    bool own[5] = {true, false, true, false, false};
    if (skin.L < 60) { /* no skin is half as light again as light skin */
        draw_box(d, 0, 0, SIDE, SIDE, skin);
        own[0] = spot(d, lit(skin, 1.42));
        own[1] = spot(d, lit(skin, 1.58));
    }
    draw_box(d, 0, 0, SIDE, SIDE, skin);
    light_cheeks(d, skin, 60, 0.78);
    own[2] = spot(d, lit(skin, 1.22));
    if (skin.L < 40) {
        draw_box(d, 0, 0, SIDE, SIDE, skin);
        light_cheeks(d, skin, 10, 1.4);
        own[3] = spot(d, lit(skin, 1.6));
    }
    draw_box(d, 0, 0, SIDE, SIDE, skin);
    light_cheeks(d, skin, 2, 0.85);
    own[4] = spot(d, lit(skin, 0.78));
    tap_ok(own[0] && !own[1], "%s: lighter by 0.42 is skin, by 0.58 none", depth);
    tap_ok(own[2] && !own[3], "%s: than cheeks in the light, not than shine on them", depth);
    tap_ok(!own[4], "%s: a few dark pixels on them do not make hair skin", depth);
}

/* Two kinds of light, so many of 100 pixels in the lighter one: what is the tone made of? */
static bool ranks(struct drawing *d, struct carn_lab skin, enum carn_tone tone, int from, int to)
{
    static const struct {
        int beyond;
        bool darker, lighter; /* whether any of it is in the tone */
    } looks[4] = {{-2, true, false}, {2, true, true}, {-2, true, true}, {2, false, true}};
    struct carn_error err = {0};
    struct carn_face_tones tones;
    double points[CARN_POINTS][2];
    face_points(0, points);
    struct carn_outline o = carn_outline_of_points((const double(*)[2])points);
    struct carn_lab light = lit(skin, 1.07);
    bool right = true;
    for (int i = 0; i < 4; i++) {
        int of100 = 100 - (i < 2 ? to : from) + looks[i].beyond;
        for (int y = 0; y < SIDE; y++)
            for (int x = 0; x < SIDE; x++) {
                const struct carn_lab *lab = (x * 37 + y * 61) % 100 < of100 ? &light : &skin;
                dot(d, x, y, lab->L, lab->a, lab->b);
            }
        right = right && carn_face_tones(&d->planes, &o, &tones, NULL, &err) == 0;
        double L = tones.tone[tone].rgb[0] * 65535 / 600;
        right = right && (L < light.L - 0.01) == looks[i].darker &&
                (L > skin.L + 0.01) == looks[i].lighter;
    }
    return right;
}

/* Skin so dark, or so pale, that hardly a colour is left. */
static bool has_skin(struct drawing *d, struct carn_lab skin)
{
    draw_skin(d, skin);
    return spot(d, skin);
}

static void test_ends(struct drawing *d)
{
    tap_ok(has_skin(d, (struct carn_lab){14, 12, 14}) && !has_skin(d, (struct carn_lab){4, 10, 12}),
           "a face of L* 14 has skin, of L* 4 none that is seen");
    tap_ok(has_skin(d, (struct carn_lab){85, 3.2, 4}) &&
               !has_skin(d, (struct carn_lab){85, 1.8, 2.4}),
           "a face of chroma 5 has skin, of chroma 3 none");
}

/* A face turned aside before a ground of its own hue, as deep skin has before a sunlit wall: the
 * ground lies in the oval beside the far cheek and behind the near one. */
static void test_ground(struct drawing *d, const char *depth, struct carn_lab skin)
{
    struct carn_error err = {0};
    struct carn_face_tones tones;
    double points[CARN_POINTS][2], light = 2 * (skin.L + 16) - 16;
    if (light > 96)
        return; /* no ground is as much brighter */
    turn_aside(points);
    struct carn_outline o = carn_outline_of_points((const double(*)[2])points);
    draw_skin(d, skin);
    draw_box(d, 138, 0, SIDE, SIDE, (struct carn_lab){light, 2 * skin.a, 2 * skin.b});
    draw_box(d, 0, 0, 68, SIDE, (struct carn_lab){light, 2 * skin.a, 2 * skin.b});
    int rc = carn_face_tones(&d->planes, &o, &tones, d->cover, &err);
    tap_ok(rc == 0 && own_in(d, 138, 0, SIDE, SIDE) == 0 && own_in(d, 0, 0, 68, SIDE) == 0 &&
               own_in(d, 69, 0, 137, SIDE) > 5000,
           "%s: a brighter ground of its hue is none of it (%zu)", depth,
           own_in(d, 69, 0, 137, SIDE));
}

/* Strands of hair so many pixels wide, one every eight. */
static size_t between_strands(struct drawing *d, struct carn_lab skin, int wide)
{
    struct carn_error err = {0};
    struct carn_face_tones tones;
    double points[CARN_POINTS][2];
    face_points(0, points);
    struct carn_outline o = carn_outline_of_points((const double(*)[2])points);
    draw_box(d, 0, 0, SIDE, SIDE, skin);
    for (int x = 72; x < 128; x += 8)
        draw_box(d, x, 30, x + wide, 60, lit(skin, 0.4));
    return carn_face_tones(&d->planes, &o, &tones, d->cover, &err) == 0 ? own_in(d, 80, 38, 120, 52)
                                                                        : 0;
}

/* How much of the face has to be skin: its lower part is, the rest is a grey mask. */
static size_t skin_below(struct drawing *d, const struct carn_outline *o, struct carn_lab skin,
                         int line)
{
    struct carn_error err = {0};
    struct carn_face_tones tones;
    draw_box(d, 0, 0, SIDE, line, (struct carn_lab){50, 0.5, 0.5});
    draw_box(d, 0, line, SIDE, SIDE, skin);
    return carn_face_tones(&d->planes, o, &tones, NULL, &err) == 0 ? tones.pixels : 0;
}

static void test_least(struct drawing *d, const char *depth, struct carn_lab skin)
{
    double points[CARN_POINTS][2];
    face_points(0, points);
    struct carn_outline whole = carn_outline_of_points((const double(*)[2])points);
    struct carn_outline small = carn_outline_of_box(96, 94, 8, 11, 0);
    size_t share[2], few[2], hair[2];
    for (int i = 0; i < 2; i++) {
        hair[i] = between_strands(d, skin, i == 0 ? 1 : 4);
        share[i] = skin_below(d, &whole, skin, i == 0 ? 158 : 164);
        few[i] = skin_below(d, &small, skin, i == 0 ? 100 : 101);
    }
    tap_ok(hair[0] > 400 && hair[1] == 0, "%s: between strands of hair is none", depth);
    tap_ok(share[0] > 1000 && share[1] == 0, "%s: with a tenth of skin a face has none", depth);
    tap_ok(few[0] >= 16 && few[1] == 0, "%s: nor has one of a few pixels", depth);
}

/* A face in one colour, darker and paler with the light, and colours of another kind beside it. */
static double toning(struct drawing *d, int from, int to)
{
    struct carn_error err = {0};
    struct carn_face_tones tones = {.toning = -1};
    struct carn_outline o = carn_outline_of_box(70, 60, 60, 80, 0);
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++)
            dot(d, x, y, 20 + 0.3 * x, 5 + 0.05 * x, 20 - 0.05 * x);
    for (int x = from; x < to; x++)
        for (int y = 0; y < SIDE; y++)
            dot(d, x, y, 20 + 0.3 * (SIDE - x), -20, 20);
    carn_face_tones(&d->planes, &o, &tones, NULL, &err);
    return tones.toning;
}

static void test_toning(struct drawing *d)
{
    double none = toning(d, 0, 0), near = toning(d, 143, 147), far = toning(d, 150, SIDE);
    tap_ok(none >= 0 && none < 0.3 && near > 2 && near < 12 && far < 0.3,
           "other colours count beside the face, not farther (%.2f %.2f %.2f)", none, near, far);
}

static void test_none(struct drawing *d)
{
    struct carn_error err = {0};
    struct carn_face_tones tones;
    struct carn_outline o = carn_outline_of_box(50, 20, 100, 160, 0);
    draw_box(d, 0, 0, SIDE, SIDE, (struct carn_lab){60, 0.5, 0.5});
    int rc = carn_face_tones(&d->planes, &o, &tones, NULL, &err);
    tap_ok(rc == 0 && tones.pixels == 0 && tones.tone[CARN_TONE_MIDDLE].pixels > 1000,
           "grey holds no skin, and is read whole");
    o = carn_outline_of_box(500, 20, 100, 160, 0);
    tap_ok(carn_face_tones(&d->planes, &o, &tones, NULL, &err) == -1,
           "an oval outside the picture is refused");
}

/* As many clipped samples as flag a patch do not flag a face's tone. */
static void test_doubts(void)
{
    struct carn_reading r = {.lab = {60, 15, 18}};
    const struct {
        double clipped;
        bool patch, tone;
    } wanted[] = {{0.4, false, false}, {0.6, true, false}, {4.9, true, false}, {5.1, true, true}};
    int right = 0;
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++) {
        r.clipped = wanted[i].clipped;
        right += carn_measure_doubts(&r, 1000, false) == (wanted[i].patch ? CARN_CLIPPED : 0U);
        right += carn_measure_doubts(&r, 1000, true) == (wanted[i].tone ? CARN_CLIPPED : 0U);
    }
    tap_ok(right == 8, "a patch is clipped from 0.5 %% of samples, a face's tone from 5 (%d of 8)",
           right);
}

/* A box so many half axes beside the detected face, and so many times as tall: which of the two? */
static bool means_face(double beside, double taller)
{
    struct carn_detection face = {.score = 1};
    face_points(0, face.points);
    struct carn_outline o = carn_outline_of_points((const double(*)[2])face.points);
    double across = o.across, down = taller * o.down, x = o.x + beside * across;
    struct carn_box box = {.x = (x - across) / SIDE,
                           .y = (o.y - down) / SIDE,
                           .w = 2 * across / SIDE,
                           .h = 2 * down / SIDE};
    struct carn_outline placed = carn_place(SIDE, SIDE, &box, &face, 1);
    bool found = near(placed.x, o.x, 1e-6) && near(placed.down, o.down, 1e-6);
    tap_ok(found || (near(placed.x, x, 1e-6) && near(placed.down, down, 1e-6)),
           "a box %.2f beside and %.1f as tall is the face's or its own", beside, taller);
    return found;
}

static void test_place(void)
{
    tap_ok(means_face(0, 1.2) && means_face(0.7, 1) && means_face(0.1, 1.9) &&
               means_face(0.1, 1 / 1.9),
           "a box drawn a little off means the face that is there");
    tap_ok(!means_face(0.8, 1) && !means_face(0.1, 2.1) && !means_face(0.1, 1 / 2.1),
           "one that is far off, or of another size, means what it encloses");
}

int main(void)
{
    test_doubts();
    test_place();
    static struct drawing d;
    struct carn_error err = {0};
    test_outline();
    if (open_drawing(&d, &err) == 0) {
        for (size_t i = 0; i < sizeof skins / sizeof *skins; i++)
            test_ground(&d, skins[i].depth, skins[i].lab);
        for (size_t i = 0; i < sizeof skins / sizeof *skins; i++)
            test_skin(&d, skins[i].depth, skins[i].lab);
        for (size_t i = 0; i < sizeof skins / sizeof *skins; i++)
            test_limits(&d, skins[i].depth, skins[i].lab);
        for (size_t i = 0; i < sizeof skins / sizeof *skins; i++)
            test_distance(&d, skins[i].depth, skins[i].lab);
        for (size_t i = 0; i < sizeof skins / sizeof *skins; i++) {
            test_follows(&d, skins[i].depth, skins[i].lab);
            test_light(&d, skins[i].depth, skins[i].lab);
            test_least(&d, skins[i].depth, skins[i].lab);
            tap_ok(ranks(&d, skins[i].lab, CARN_TONE_LIGHT, 70, 95) &&
                       ranks(&d, skins[i].lab, CARN_TONE_MIDDLE, 38, 62) &&
                       ranks(&d, skins[i].lab, CARN_TONE_SHADE, 5, 30),
                   "%s: light, middle and shade are of the ranks that the header says",
                   skins[i].depth);
        }
        test_ends(&d);
        test_toning(&d);
        test_none(&d);
    }
    close_drawing(&d);
    return tap_end();
}
