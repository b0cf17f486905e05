/* The weight of skin on drawn frames: edges stay sharp, what is half like skin weighs half, skin's
 * colour far from a face weighs less, and between two persons the weight changes smoothly. */
#include "skin/weight.h"
#include "colour/lab_lookup.h"
#include "colour/profile.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>

enum { WIDTH = 300, HEIGHT = 300 };

static struct carn_profile *profile;
static struct carn_lab_lookup *quick;
static uint16_t pixels[HEIGHT][3 * WIDTH];
static double weights[HEIGHT][WIDTH];
static const struct carn_lab SKIN = {60, 18, 22}, WALL = {60, 0, -20};

static void fill(size_t x0, size_t y0, size_t x1, size_t y1, struct carn_lab lab)
{
    struct carn_error err = {0};
    double rgb[3];
    if (carn_profile_from_lab(profile, lab, rgb, &err) != 0)
        abort();
    for (size_t y = y0; y < y1; y++)
        for (size_t x = x0; x < x1; x++)
            for (size_t c = 0; c < 3; c++)
                pixels[y][3 * x + c] = (uint16_t)lround(65535 * rgb[c]);
}

static void weigh(const struct carn_person *persons, size_t count, size_t only)
{
    struct carn_error err = {0};
    struct carn_frame frame = {.width = WIDTH, .height = HEIGHT, .colours = 3};
    struct carn_weight *w = carn_weight_open(&frame, quick, persons, count, only, &err);
    size_t taken = 0;
    for (size_t y = 0; w != NULL && y < HEIGHT; y++) {
        carn_weight_push(w, pixels[y]);
        for (const uint16_t *row; (row = carn_weight_pull(w)) != NULL; taken++)
            for (size_t x = 0; x < WIDTH; x++)
                weights[taken][x] = row[4 * x + 3] / 65535.0;
    }
    carn_weight_close(w);
    if (taken != HEIGHT)
        abort();
}

/* A person of this skin, of a reading with a spread of 1. */
static void take_skin(struct carn_person *person)
{
    carn_reference_of_reading(&person->like, SKIN, 1);
}

static void place(struct carn_person *person, double x, double y, double w, double h)
{
    person->placed = true;
    person->face = carn_outline_of_box(x, y, w, h, 0);
}

static void test_edges(void)
{
    static struct carn_person person;
    take_skin(&person);
    fill(0, 0, WIDTH, HEIGHT, WALL);
    fill(0, 0, WIDTH / 2, HEIGHT, SKIN);
    weigh(&person, 1, 1);
    double in = weights[150][WIDTH / 2 - 1], out = weights[150][WIDTH / 2];
    tap_ok(in > 0.85 && out < 0.15, "skin weighs up to its own edge (%.2f, %.2f)", in, out);
    tap_ok(weights[150][20] > 0.999 && weights[150][280] < 0.001,
           "wholly in it, and not at all away from it (%.3f, %.3f)", weights[150][20],
           weights[150][280]);
}

/* The colour between skin and grey that has this likeness. */
static struct carn_lab as_like(const struct carn_person *person, double likeness)
{
    double low = 0, high = 1;
    for (int i = 0; i < 20; i++) {
        double t = (low + high) / 2;
        float row[3] = {(float)SKIN.L, (float)(SKIN.a * (1 - t)), (float)(SKIN.b * (1 - t))};
        uint16_t like = 0;
        carn_likeness_row(&person->like, &row[0], &row[1], &row[2], &like, 1);
        *(like > likeness * 65535 ? &low : &high) = t;
    }
    return (struct carn_lab){SKIN.L, SKIN.a * (1 - low), SKIN.b * (1 - low)};
}

static void test_noise(void)
{
    static struct carn_person person;
    take_skin(&person);
    fill(0, 0, WIDTH, HEIGHT, as_like(&person, 0.5));
    weigh(&person, 1, 1);
    tap_ok(fabs(weights[150][150] - 0.5) < 0.1, "what is half like skin weighs half (%.2f)",
           weights[150][150]);
    fill(WIDTH / 2, 0, WIDTH, HEIGHT, WALL);
    weigh(&person, 1, 1);
    double edge = weights[150][WIDTH / 2 - 1];
    tap_ok(edge > 0.37, "up to its edge (%.2f)", edge);
    for (size_t y = 0; y < HEIGHT; y++)
        for (size_t x = 0; x < WIDTH; x++)
            fill(x, y, x + 1, y + 1, as_like(&person, (x + y) % 2 == 0 ? 0.35 : 0.65));
    weigh(&person, 1, 1);
    double apart = fabs(weights[150][150] - weights[150][151]);
    tap_ok(apart > 0.05 && apart < 0.16, "noise of 0.15 either way is halved (%.2f apart)", apart);
    for (size_t y = 0; y < HEIGHT; y += 10)
        for (size_t x = 0; x < WIDTH; x += 10)
            fill(x, y, x + 10, y + 10, as_like(&person, (x + y) % 20 == 0 ? 0.35 : 0.65));
    weigh(&person, 1, 1);
    apart = fabs(weights[155][155] - weights[155][165]);
    tap_ok(apart > 0.24, "squares of 10 pixels are no noise (%.2f apart)", apart);
}

static void test_places(void)
{
    static struct carn_person persons[2];
    fill(0, 0, WIDTH, HEIGHT, SKIN);
    take_skin(&persons[0]);
    place(&persons[0], 130, 20, 24, 34);
    weigh(persons, 1, 1);
    double face = weights[37][142], hand = weights[110][150], far = weights[37][280];
    tap_ok(face > 0.99 && hand > 0.99 && far < 0.5,
           "face and hands weigh in full, the same colour far off less (%.2f %.2f %.2f)", face,
           hand, far);
    /* Half of what a place far off loses, above the face and beside the body, and all of it. */
    place(&persons[0], 130, 80, 40, 50);
    weigh(persons, 1, 1);
    double above = weights[61][150], higher = weights[48][150];
    double shoulder = weights[142][215], hip = weights[230][240];
    tap_ok(fabs(above - 0.7) < 0.05 && fabs(higher - 0.4) < 0.02 && fabs(shoulder - 0.7) < 0.05 &&
               fabs(hip - 0.7) < 0.05,
           "a person reaches as far as the numbers say (%.2f %.2f, %.2f %.2f)", above, higher,
           shoulder, hip);
    take_skin(&persons[1]);
    place(&persons[0], 88, 60, 60, 80);
    place(&persons[1], 152, 60, 60, 80);
    weigh(persons, 2, 0);
    double own = weights[100][100], other = weights[100][200], between = weights[100][150];
    double nearer = weights[100][140];
    tap_ok(own > 0.99 && other < 0.05 && fabs(between - 0.5) < 0.1 && nearer > 0.65,
           "of two persons each has the own side, and half between (%.2f %.2f %.2f %.2f)", own,
           nearer, between, other);
}

int main(void)
{
    struct carn_error err = {0};
    profile = carn_profile_open(NULL, 0, 3, &err);
    quick = profile != NULL ? carn_lab_lookup_open(profile, &err) : NULL;
    if (quick == NULL) {
        printf("Bail out! %s\n", err.text);
        return 1;
    }
    test_edges();
    test_noise();
    test_places();
    carn_lab_lookup_close(quick);
    carn_profile_close(profile);
    return tap_end();
}
