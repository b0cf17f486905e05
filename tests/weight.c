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
    double nearer = weights[100][147];
    tap_ok(own > 0.99 && other < 0.05 && fabs(between - 0.5) < 0.1 && fabs(nearer - 0.76) < 0.05,
           "of two persons each has the own side, and half between (%.2f %.2f %.2f %.2f)", own,
           nearer, between, other);
}

/* A frame in one colour, with a face of this oval; upright places in its half axes from its middle.
 */
static const double FACE_X = 150, FACE_Y = 130, ACROSS = 50, DOWN = 70;

static double at(double u, double v)
{
    return weights[(size_t)(FACE_Y + DOWN * v)][(size_t)(FACE_X + ACROSS * u)];
}

/* The same in distances from the eyes to the mouth, from one of the points of the face. */
static double by(const struct carn_person *person, enum carn_point point, double u, double v)
{
    const double *from = person->face.points[point], unit = carn_outline_unit(&person->face);
    return weights[(size_t)(from[1] + unit * v)][(size_t)(from[0] + unit * u)];
}

static bool near(double x, double y, double within)
{
    return fabs(x - y) <= within;
}

static void test_beside(void)
{
    static struct carn_person person;
    take_skin(&person);
    place(&person, FACE_X - ACROSS, FACE_Y - DOWN, 2 * ACROSS, 2 * DOWN);
    fill(0, 0, WIDTH, HEIGHT, SKIN);
    weigh(&person, 1, 1);
    tap_ok(at(1.1, 0.7) > 0.98 && near(at(1.4, 0.7), 0.71, 0.06) && near(at(1.6, 0.7), 0.4, 0.02),
           "beside the jaw, where hair hangs, a face ends soon (%.2f %.2f %.2f)", at(1.1, 0.7),
           at(1.4, 0.7), at(1.6, 0.7));
    tap_ok(near(at(1.6, 1.05), 0.64, 0.08) && at(1.6, 1.4) > 0.98,
           "at the throat this fades; shoulders count in full (%.2f %.2f)", at(1.6, 1.05),
           at(1.6, 1.4));
    tap_ok(at(1.4, -0.13) > 0.98, "and so do ears (%.2f)", at(1.4, -0.13));
}

/* What is like the inside of a face alone: the weight is how far a place is inside. */
static void test_inside(const char *depth, struct carn_lab lab)
{
    static struct carn_person person;
    const struct carn_lab tones[CARN_TONES] = {
        {lab.L + 8, lab.a, lab.b}, lab, {lab.L - 8, lab.a, lab.b}};
    carn_reference_of_reading(&person.like, WALL, 1);
    carn_reference_of_face(&person.inside, tones, 2, true);
    person.has_inside = true;
    place(&person, FACE_X - ACROSS, FACE_Y - DOWN, 2 * ACROSS, 2 * DOWN);
    fill(0, 0, WIDTH, HEIGHT, lab);
    weigh(&person, 1, 1);
    tap_ok(at(0, 0.97) > 0.97 && near(at(0, 1.225), 0.5, 0.06) && at(0, 1.48) < 0.02,
           "%s: it fades under the chin (%.2f %.2f %.2f)", depth, at(0, 0.97), at(0, 1.225),
           at(0, 1.48));
    double ear = by(&person, CARN_RIGHT_EAR, -0.32, 0);
    double above = by(&person, CARN_RIGHT_EAR, -0.15, -0.5);
    double off = by(&person, CARN_RIGHT_EAR, -0.6, 0);
    tap_ok(ear > 0.97 && above > 0.95 && off < 0.05, "%s: ears belong to it (%.2f %.2f %.2f)",
           depth, ear, above, off);
    double eye = 0, round = 1, edge = by(&person, CARN_LEFT_EYE, 0, -0.12 - 0.3 * 1.025);
    for (int side = -1; side <= 1; side += 2) {
        eye = fmax(eye, fmax(by(&person, CARN_LEFT_EYE, 0.25 * side, -0.12),
                             by(&person, CARN_LEFT_EYE, 0, 0.22 * side - 0.12)));
        round = fmin(round, fmin(by(&person, CARN_LEFT_EYE, 0.48 * side, -0.12),
                                 by(&person, CARN_LEFT_EYE, 0, 0.4 * side - 0.12)));
    }
    tap_ok(eye < 0.05 && round > 0.95 && near(edge, 0.5, 0.1),
           "%s: eyes with their brows do not (%.2f, %.2f, %.2f)", depth, eye, edge, round);
    double lips = 0, least = 1, skin = 1;
    for (int side = -1; side <= 1; side += 2) {
        lips = fmax(lips, fmax(by(&person, CARN_MOUTH, 0.3 * side, 0),
                               by(&person, CARN_MOUTH, 0, 0.13 * side)));
        least = fmin(least, by(&person, CARN_MOUTH, 0.3 * side, 0));
        skin = fmin(skin, fmin(by(&person, CARN_MOUTH, 0.55 * side, 0),
                               by(&person, CARN_MOUTH, 0, 0.28 * side)));
    }
    tap_ok(lips < 0.52 && least > 0.4 && skin > 0.95,
           "%s: lips count about a half (%.2f to %.2f, %.2f)", depth, least, lips, skin);
}

/* Colours that are hardly like skin stay so beside it. */
static void test_halo(void)
{
    static struct carn_person person;
    double most = 0;
    take_skin(&person);
    fill(0, 0, WIDTH, HEIGHT, as_like(&person, 0.01));
    fill(0, 0, WIDTH / 2, HEIGHT, SKIN);
    weigh(&person, 1, 1);
    for (size_t x = WIDTH / 2; x < WIDTH; x++)
        most = fmax(most, weights[150][x]);
    tap_ok(most < 0.035, "no halo beside skin (%.3f)", most);
}

/* Squares of noise, of so many pixels in a frame of this side: how far apart their weights are. */
static double noise_apart(size_t side, size_t square)
{
    enum { MOST = 1000 };
    static struct carn_person person;
    static uint16_t row[3 * MOST], colour[2][3];
    struct carn_error err = {0};
    struct carn_frame frame = {.width = side, .height = side, .colours = 3};
    take_skin(&person);
    for (int i = 0; i < 2; i++) {
        fill(0, 0, 1, 1, as_like(&person, i == 0 ? 0.35 : 0.65));
        for (size_t c = 0; c < 3; c++)
            colour[i][c] = pixels[0][c];
    }
    struct carn_weight *w = carn_weight_open(&frame, quick, &person, 1, 1, &err);
    double low = 1, high = 0;
    for (size_t y = 0, taken = 0; w != NULL && y < side; y++) {
        for (size_t x = 0; x < 3 * side; x++)
            row[x] = colour[(x / 3 / square + y / square) % 2][x % 3];
        carn_weight_push(w, row);
        for (const uint16_t *got; (got = carn_weight_pull(w)) != NULL; taken++)
            for (size_t x = side / 2; taken == side / 2 && x < side / 2 + 4 * square; x++) {
                low = fmin(low, got[4 * x + 3] / 65535.0);
                high = fmax(high, got[4 * x + 3] / 65535.0);
            }
    }
    carn_weight_close(w);
    return high - low;
}

static void test_size(void)
{
    double same = noise_apart(300, 8), large = noise_apart(1000, 8);
    tap_ok(same > 0.2 && large < 0.18,
           "noise is what is small by the frame: in one of 1000 pixels what is none in 300 "
           "(%.2f, %.2f)",
           large, same);
}

static const struct {
    const char *depth;
    struct carn_lab lab;
} skins[] = {{"light", {74, 18, 21}}, {"medium", {54, 21, 25}}, {"deep", {32, 21, 25}}};

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
    test_beside();
    for (size_t i = 0; i < sizeof skins / sizeof *skins; i++)
        test_inside(skins[i].depth, skins[i].lab);
    test_halo();
    test_size();
    carn_lab_lookup_close(quick);
    carn_profile_close(profile);
    return tap_end();
}
