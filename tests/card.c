/* The grey card: found at sizes, tilts and places; what is only nearly one is none. */
#include "tap.h"

#include "skin/card.h"

#include <math.h>
#include <stdlib.h>

enum { WIDTH = 384, HEIGHT = 512 };
static const double DEGREE = 3.14159265358979323846 / 180;

static float planes[3][WIDTH * HEIGHT];
static bool unfit[WIDTH * HEIGHT];
static const struct carn_thumbnail picture = {.width = WIDTH,
                                              .height = HEIGHT,
                                              .L = planes[0],
                                              .a = planes[1],
                                              .b = planes[2],
                                              .unfit = unfit};

/* What is drawn: a card, or something that is none. */
struct thing {
    double x, y, w, h, tilt; /* half sides */
    double L, a, b;
    double slope; /* rise of L* from side to side */
    bool round;
    double hole;         /* its sides, in the thing's */
    double wide, deep;   /* a finger over its upper side: a share of the side; pixels */
    double slant;        /* pixels by which the upper side leans */
    double waves, spots; /* their height, in L* and a* */
    double grain;        /* times the usual, 0: once */
    /* Behind it, along so much of so many sides, lies what differs so much in L*; the thing has a
     * thin edge there. */
    double along, differs;
    int sides;
};

static double noise(unsigned *state)
{
    *state = *state * 1664525U + 1013904223U;
    return (double)(*state >> 8) / (1 << 24) - 0.5;
}

/* Whether the thing is seen at a place, from its middle, in pixels. */
static bool is_seen(const struct thing *t, double u, double v)
{
    if (t->round)
        return pow(u / t->w, 2) + pow(v / t->h, 2) < 1;
    bool hole = fabs(u) < t->hole * t->w && fabs(v) < t->hole * t->h;
    bool finger = fabs(u) < t->wide * t->w && v < -t->h + t->deep;
    double top = -t->h + t->slant * (u / t->w + 1) / 2;
    return fabs(u) <= t->w && v >= top && v <= t->h && !hole && !finger;
}

/* Whether a place is beside one of the sides that have something behind them; 0.5: its edge. */
static double is_beside(const struct thing *t, double u, double v)
{
    for (int side = 0; side < t->sides; side++) {
        double x = side < 2 ? u : v, y = side < 2 ? v : u;
        double w = side < 2 ? t->w : t->h, h = side < 2 ? t->h : t->w;
        double out = (side % 2 == 0 ? -y : y) - h;
        if (fabs(x) < t->along * w && out > 0 && out < 12)
            return out < 1.5 ? 0.5 : 1;
    }
    return 0;
}

static void draw_thing(const struct thing *t, double u, double v, double *L, double *a, double *b)
{
    double beside = is_beside(t, u, v);
    if (beside > 0) {
        *L = t->L + (beside < 1 ? -8 : t->differs);
        *a = t->a;
        *b = t->b;
    } else if (is_seen(t, u, v)) {
        *L = t->L + t->slope * u / t->w / 2 + t->waves * sin(u / 5);
        *a = t->a + t->spots * sin(u / 5);
        *b = t->b;
    }
}

/* Cloth, skin and wall, with grain, and the thing in front. */
static void draw(const struct thing *t)
{
    unsigned state = 1;
    double c = cos(t->tilt * DEGREE), d = sin(t->tilt * DEGREE),
           grain = t->grain > 0 ? t->grain : 1;
    for (size_t i = 0; i < (size_t)WIDTH * HEIGHT; i++) {
        size_t row = i / WIDTH;
        double x = (double)(i % WIDTH), y = (double)row, L = 82 - y / 40, a = 0, b = 3;
        if (y > 300) { /* cloth */
            L = 25 + 6 * sin(x / 9) * sin(y / 7);
            a = 8;
            b = -12;
        }
        if (pow((x - 190) / 80, 2) + pow((y - 190) / 110, 2) < 1) { /* a face */
            L = 60 - x / 20;
            a = 15;
            b = 18;
        }
        draw_thing(t, c * (x - t->x) + d * (y - t->y), c * (y - t->y) - d * (x - t->x), &L, &a, &b);
        planes[0][i] = (float)(L + 1.5 * grain * noise(&state));
        planes[1][i] = (float)(a + grain * noise(&state));
        planes[2][i] = (float)(b + grain * noise(&state));
    }
}

/* Off the card's edges too, which may be blurred or frayed. */
static bool inside(const struct thing *t, const struct carn_card *card)
{
    const double edge = 0.94;
    double c = cos(t->tilt * DEGREE), d = sin(t->tilt * DEGREE);
    for (int i = 0; i < 4; i++) {
        double x = card->x + (i % 2 == 0 ? 0 : card->w), y = card->y + (i < 2 ? 0 : card->h);
        double u = c * (x - t->x) + d * (y - t->y), v = c * (y - t->y) - d * (x - t->x);
        if (fabs(u) > edge * t->w || fabs(v) > edge * t->h)
            return false;
    }
    return card->w > t->h / 2 && card->h > t->h / 2;
}

static void found(void)
{
    static const double sizes[] = {18, 24, 36, 52, 70}, tilts[] = {0, 4, -11, 25, 44};
    static const double places[][2] = {{190, 400}, {110, 410}, {280, 380}, {270, 200}, {120, 130}};
    int all = 0, good = 0;
    for (int i = 0; i < 25; i++) {
        struct thing t = {.w = sizes[i / 5],
                          .h = sizes[i / 5] * 0.65,
                          .tilt = tilts[i % 5],
                          .x = places[(i + i / 5) % 5][0],
                          .y = places[(i + i / 5) % 5][1],
                          .L = 50,
                          .a = -1,
                          .b = 4,
                          .slope = 3};
        struct carn_card card;
        struct carn_error err = {0};
        draw(&t);
        all++;
        bool hit = carn_card_find(&picture, 0.9, &card, &err) == 1 && inside(&t, &card) &&
                   fabs(card.L - 50) < 0.5;
        good += hit ? 1 : 0;
        if (!hit)
            printf("# half side %g, tilt %g, at %g %g: %.3f\n", t.w, t.tilt, t.x, t.y,
                   card.confidence);
    }
    tap_ok(good == all, "%d of %d cards are found, and the box lies inside, off the edges", good,
           all);
}

static void none(void)
{
    static const struct {
        const char *what;
        struct thing thing;
    } things[] = {
        {"nothing", {.x = -90, .w = 1, .h = 1}},
        {"paper", {.x = 190, .y = 400, .w = 50, .h = 34, .L = 90, .b = 2}},
        {"a black sheet", {.x = 190, .y = 200, .w = 50, .h = 34, .L = 16}},
        {"a coloured sheet", {.x = 190, .y = 400, .w = 50, .h = 34, .L = 50, .a = 10, .b = 30}},
        {"a disc", {.x = 190, .y = 400, .w = 40, .h = 40, .L = 50, .round = true}},
        {"a board three times as long", {.x = 190, .y = 400, .w = 75, .h = 25, .L = 50}},
        {"a strip", {.x = 190, .y = 400, .w = 90, .h = 16, .L = 50}},
        {"a panel half in the light", {.x = 190, .y = 400, .w = 60, .h = 40, .L = 50, .slope = 30}},
        {"a sheet that the picture cuts", {.x = 380, .y = 400, .w = 50, .h = 34, .L = 50}},
        {"a tag", {.x = 190, .y = 400, .w = 9, .h = 7.5, .L = 50}},
        {"a speck", {.x = 190, .y = 400, .w = 7, .h = 5, .L = 50}},
    };
    for (size_t i = 0; i < sizeof things / sizeof *things; i++) {
        struct carn_card card = {0};
        struct carn_error err = {0};
        draw(&things[i].thing);
        tap_ok(carn_card_find(&picture, 0.9, &card, &err) == 0, "%s is no card (%.3f)",
               things[i].what, card.confidence);
    }
}

#define CARD .x = 190, .y = 400, .w = 50, .h = 34, .L = 50
#define LARGE .x = 190, .y = 390, .w = 80, .h = 60, .L = 50

/* Each feature just good enough, and not. */
static void features(void)
{
    static const struct {
        const char *what;
        struct thing good, bad;
    } pairs[] = {
        {"a hole", {CARD, .hole = 0.3}, {CARD, .hole = 0.62}},
        {"its colour behind one side",
         {CARD, .along = 0.4, .sides = 1},
         {CARD, .along = 0.7, .sides = 1}},
        {"its colour behind each side",
         {CARD, .along = 0.18, .sides = 4},
         {CARD, .along = 0.42, .sides = 4}},
        {"nearly its colour behind",
         {CARD, .along = 1, .sides = 2, .differs = -8},
         {CARD, .along = 1, .sides = 2, .differs = -2}},
        {"a side that leans", {LARGE, .slant = 6}, {LARGE, .slant = 15}},
        {"a finger over a side",
         {LARGE, .wide = 0.2, .deep = 24},
         {LARGE, .wide = 0.45, .deep = 30}},
        {"waves", {CARD, .waves = 1.2}, {CARD, .waves = 4}},
        {"spots", {CARD, .spots = 1.2}, {CARD, .spots = 4}},
        {"a slope", {CARD, .slope = 9}, {CARD, .slope = 18}},
        {"dark",
         {.x = 190, .y = 200, .w = 50, .h = 34, .L = 36},
         {.x = 190, .y = 200, .w = 50, .h = 34, .L = 20}},
        {"light",
         {.x = 190, .y = 400, .w = 50, .h = 34, .L = 74},
         {.x = 190, .y = 400, .w = 50, .h = 34, .L = 84}},
        {"a cast", {CARD, .a = 8, .b = 14}, {CARD, .a = 12, .b = 22}},
        {"large",
         {.x = 190, .y = 256, .w = 140, .h = 95, .L = 50},
         {.x = 190, .y = 256, .w = 170, .h = 160, .L = 50}},
        {"a corner outside of the picture",
         {.x = 334, .y = 400, .w = 50, .h = 34, .tilt = 45, .L = 50},
         {.x = 341, .y = 400, .w = 50, .h = 34, .tilt = 45, .L = 50}},
        {"grain", {CARD, .grain = 5}, {CARD, .grain = 12}},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        struct carn_card good, bad;
        struct carn_error err = {0};
        draw(&pairs[i].good);
        bool found = carn_card_find(&picture, 0.9, &good, &err) == 1;
        draw(&pairs[i].bad);
        bool none = carn_card_find(&picture, 0.9, &bad, &err) == 0;
        tap_ok(found && none && bad.confidence < 0.1,
               "%s: a little is let pass, more is no card (%.3f, %.3f)", pairs[i].what,
               good.confidence, bad.confidence);
    }
}

/* A picture so small that only its pixels limit a card: a wall with one in its middle. */
static int small(double w, double h)
{
    enum { W = 60, H = 80 };
    struct carn_thumbnail little = picture;
    struct carn_card card;
    struct carn_error err = {0};
    unsigned state = 1;
    little.width = W;
    little.height = H;
    for (int i = 0; i < W * H; i++) {
        int row = i / W;
        bool in = fabs(i % W - 30.0) < w && fabs(row - 40.0) < h;
        planes[0][i] = (float)((in ? 50 : 80) + noise(&state));
        planes[1][i] = (float)noise(&state);
        planes[2][i] = (float)noise(&state);
    }
    return carn_card_find(&little, 0.9, &card, &err);
}

/* A finger reaches into the card, but not into the box. */
static void finger(void)
{
    static const struct thing thing = {LARGE, .wide = 0.24, .deep = 30};
    struct carn_card card;
    struct carn_error err = {0};
    draw(&thing);
    int found = carn_card_find(&picture, 0.9, &card, &err);
    double wide = 2 * thing.wide * thing.w, deep = thing.y - thing.h + thing.deep - card.y;
    double share = deep > 0 ? wide * deep / (card.w * card.h) : 0;
    tap_ok(found == 1 && card.w > thing.w && share < 0.03,
           "the box leaves a finger on the card out (%.3f of it)", share);
}

int main(void)
{
    found();
    none();
    features();
    finger();
    tap_ok(small(13, 8) == 1 && small(7, 5) == 0, "of a few pixels it is none");
    return tap_end();
}
