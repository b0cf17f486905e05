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
};

static double noise(unsigned *state)
{
    *state = *state * 1664525U + 1013904223U;
    return (double)(*state >> 8) / (1 << 24) - 0.5;
}

/* Cloth, skin and wall, with grain, and the thing in front. */
static void draw(const struct thing *t)
{
    unsigned state = 1;
    double c = cos(t->tilt * DEGREE), d = sin(t->tilt * DEGREE);
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
        double u = c * (x - t->x) + d * (y - t->y), v = c * (y - t->y) - d * (x - t->x);
        bool in =
            t->round ? pow(u / t->w, 2) + pow(v / t->h, 2) < 1 : fabs(u) <= t->w && fabs(v) <= t->h;
        if (in) {
            L = t->L + t->slope * u / t->w / 2;
            a = t->a;
            b = t->b;
        }
        planes[0][i] = (float)(L + 1.5 * noise(&state));
        planes[1][i] = (float)(a + noise(&state));
        planes[2][i] = (float)(b + noise(&state));
    }
}

static bool inside(const struct thing *t, const struct carn_card *card)
{
    double c = cos(t->tilt * DEGREE), d = sin(t->tilt * DEGREE);
    for (int i = 0; i < 4; i++) {
        double x = card->x + (i % 2 == 0 ? 0 : card->w), y = card->y + (i < 2 ? 0 : card->h);
        double u = c * (x - t->x) + d * (y - t->y), v = c * (y - t->y) - d * (x - t->x);
        if (fabs(u) > t->w || fabs(v) > t->h)
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
    tap_ok(good == all, "%d of %d cards are found, and the box lies inside", good, all);
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

int main(void)
{
    found();
    none();
    return tap_end();
}
