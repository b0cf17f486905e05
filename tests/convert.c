/* Whole-frame conversion through our tables against lcms2's unoptimised floating-point way. */
#include "colour/convert.h"
#include "colour/profile.h"
#include "colour/space.h"
#include "frame/keys.h"
#include "tap.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { WIDTH = 4096, ROWS = 16, BOUND = 4 /* codes of 65535: 1 in 2^14 */ };

static const char *const names[] = {"srgb", "oprgb", "p3-d65", "bt709", "bt2020", "romm"};
enum { SPACES = sizeof names / sizeof *names };

static uint16_t row[5 * WIDTH], out[5 * WIDTH];
static float in[3 * WIDTH], exact[3 * WIDTH];

static struct carn_profile *open_space(const char *name)
{
    struct carn_error err = {0};
    size_t size = 0;
    void *bytes = carn_space_profile(name, &size, &err);
    struct carn_profile *profile = bytes != NULL ? carn_profile_open(bytes, size, 3, &err) : NULL;
    if (profile == NULL)
        tap_ok(false, "%s opens: %s", name, err.text);
    free(bytes);
    return profile;
}

/* By round: greys, dark greys, dark colours, any colours. The same each run. */
static void fill(size_t round)
{
    static uint64_t state = 1;
    for (size_t i = 0; i < 3 * (size_t)WIDTH; i++) {
        state = state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        uint16_t chance = (uint16_t)(state >> 48);
        row[i] = round == 0   ? (uint16_t)(i / 3 * 16)
                 : round == 1 ? (uint16_t)(i / 3 % 4096)
                 : round == 2 ? chance >> 6
                              : chance;
        in[i] = (float)row[i] / 65535;
    }
}

static void test_pair(const char *name, const struct carn_profile *from,
                      const struct carn_profile *to)
{
    struct carn_error err = {0};
    struct carn_frame frame = {.width = WIDTH, .height = 1, .colours = 3};
    struct carn_convert *convert = carn_convert_open(from, to, CARN_RELATIVE, true, &err);
    struct carn_link *link = carn_link_open(from, to, CARN_RELATIVE, true, &err);
    double worst = 0;
    for (size_t round = 0; convert != NULL && link != NULL && round < ROWS; round++) {
        fill(round);
        (void)carn_convert_row(convert, &frame, row, out);
        carn_link_apply(link, in, exact, WIDTH);
        for (size_t i = 0; i < 3 * (size_t)WIDTH; i++) {
            double want = fmin(fmax((double)exact[i], 0), 1) * 65535;
            worst = fmax(worst, fabs(out[i] - want));
        }
    }
    tap_ok(convert != NULL && carn_convert_is_quick(convert) && worst <= BOUND,
           "%s: %d colours within %.2f codes of 65535, of %d allowed", name, WIDTH * ROWS, worst,
           BOUND);
    carn_convert_close(convert);
    carn_link_close(link);
}

/* ITU-R BT.2087: linear BT.709 to BT.2020. */
static void test_matrix(const struct carn_profile *from, const struct carn_profile *to)
{
    static const double published[3][3] = {
        {0.6274, 0.3293, 0.0433}, {0.0691, 0.9195, 0.0114}, {0.0164, 0.0880, 0.8956}};
    double m[3][3], worst = 0;
    bool found = carn_profile_matrix(from, to, CARN_RELATIVE, m);
    for (int i = 0; found && i < 3; i++)
        for (int j = 0; j < 3; j++)
            worst = fmax(worst, fabs(m[i][j] - published[i][j]));
    tap_ok(found && worst < 1.5e-4, "BT.709 to BT.2020 as BT.2087 publishes it (%.6f)", worst);
    tap_ok(!carn_profile_matrix(from, to, CARN_ABSOLUTE, m), "absolute is another matter");
}

/* Alpha and weight pass; associated alpha is divided out, converted and multiplied again. */
static void test_channels(const struct carn_profile *from, const struct carn_profile *to)
{
    struct carn_error err = {0};
    struct carn_frame frame = {
        .width = 3, .height = 1, .colours = 3, .alpha = true, .weight = true};
    struct carn_convert *convert = carn_convert_open(from, to, CARN_RELATIVE, true, &err);
    static const uint16_t straight[15] = {30000, 20000, 10000, 65535, 7, 30000, 20000, 10000,
                                          32768, 8,     0,     0,     0, 0,     9};
    static const uint16_t multiplied[15] = {30000, 20000, 10000, 65535, 7,  15000, 10000, 5000,
                                            32768, 8,     11,    12,    13, 0,     9};
    uint16_t a[15], b[15];
    if (convert == NULL || carn_frame_set(&frame, "name", "x", &err) != 0)
        return;
    (void)carn_convert_row(convert, &frame, straight, a);
    (void)carn_frame_set(&frame, "alpha", "associated", &err);
    (void)carn_convert_row(convert, &frame, multiplied, b);
    bool pass = true, half = true;
    for (int x = 0; x < 3; x++)
        pass = pass && a[5 * x + 3] == straight[5 * x + 3] && a[5 * x + 4] == 7 + x &&
               b[5 * x + 3] == a[5 * x + 3] && b[5 * x + 4] == 7 + x;
    for (int c = 0; c < 3; c++)
        half = half && a[5 + c] == a[c] && b[c] == a[c] && abs(2 * b[5 + c] - a[c]) <= 2;
    tap_ok(pass, "alpha and weight pass");
    tap_ok(half, "colours multiplied with alpha are converted as what they stand for");
    tap_ok(b[10] == 11 && b[11] == 12 && b[12] == 13, "fully transparent ones pass");
    carn_frame_clear(&frame);
    carn_convert_close(convert);
}

static void test_grey(const struct carn_profile *to)
{
    struct carn_error err = {0};
    struct carn_frame frame = {.width = 300, .height = 1, .colours = 1, .alpha = true};
    struct carn_profile *grey = carn_profile_open(NULL, 0, 1, &err);
    struct carn_convert *convert =
        grey != NULL ? carn_convert_open(grey, to, CARN_RELATIVE, true, &err) : NULL;
    bool good = convert != NULL && carn_frame_set(&frame, "alpha", "associated", &err) == 0;
    for (size_t x = 0; x < 300; x++) {
        row[2 * x] = (uint16_t)(x * 100);
        row[2 * x + 1] = (uint16_t)(x == 0 ? 0 : 65535);
    }
    if (good)
        (void)carn_convert_row(convert, &frame, row, out);
    for (size_t x = 0; good && x < 300; x++) /* to sRGB: the same curve, grey by grey */
        for (size_t c = 0; c < 3; c++)
            good = good && abs(out[4 * x + c] - row[2 * x]) <= BOUND &&
                   out[4 * x + 3] == row[2 * x + 1];
    tap_ok(good, "a grey frame becomes the same greys in sRGB");
    carn_frame_clear(&frame);
    carn_convert_close(convert);
    carn_profile_close(grey);
}

/* A red of the wider space that leaves sRGB slowly: what ends at 0 is counted as clipped. */
static void test_clipped(const struct carn_profile *from, const struct carn_profile *to)
{
    enum { PIXELS = 300 };
    struct carn_error err = {0};
    struct carn_frame frame = {.width = PIXELS, .height = 1, .colours = 3};
    struct carn_convert *convert = carn_convert_open(from, to, CARN_RELATIVE, true, &err);
    size_t clipped = 0, low = 0;
    for (size_t x = 0; x < PIXELS; x++) {
        row[3 * x] = 40000;
        row[3 * x + 1] = row[3 * x + 2] = (uint16_t)(15000 - 40 * x);
    }
    if (convert != NULL)
        clipped = carn_convert_row(convert, &frame, row, out);
    for (size_t x = 0; x < PIXELS; x++)
        low += out[3 * x + 1] == 0;
    tap_ok(low > 20 && low < PIXELS && clipped <= low && low - clipped <= 3,
           "%zu of %d pixels leave the space, and %zu are counted", low, PIXELS, clipped);
    carn_convert_close(convert);
}

int main(void)
{
    struct carn_profile *spaces[SPACES];
    bool open = true;
    for (size_t i = 0; i < SPACES; i++) {
        spaces[i] = open_space(names[i]);
        open = open && spaces[i] != NULL;
    }
    for (size_t i = 0; open && i < SPACES; i++)
        for (size_t j = 0; j < SPACES; j++) {
            char name[64];
            snprintf(name, sizeof name, "%s to %s", names[i], names[j]);
            test_pair(name, spaces[i], spaces[j]);
        }
    if (open) {
        test_matrix(spaces[3], spaces[4]);
        test_channels(spaces[0], spaces[4]);
        test_grey(spaces[0]);
        test_clipped(spaces[2], spaces[0]);
    }
    for (size_t i = 0; i < SPACES; i++)
        carn_profile_close(spaces[i]);
    return tap_end();
}
