/* Splines, curves and look-up tables: what they promise in spline.h, channels.h and lut.h. */
#include "correct/channels.h"
#include "correct/spline.h"
#include "frame/keys.h"
#include "frame/lut.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void test_spline(void)
{
    double worst_through = 0, lowest = 9, highest = 0, falling = 1;
    unsigned seed = 1;
    size_t tried = 0, unlike = 0;
    for (int round = 0; round < 2000; round++) {
        double x[3], y[3];
        size_t n = 1 + (size_t)round % 3, piece = 0;
        for (size_t i = 0; i < n; i++) {
            seed = seed * 1103515245U + 12345U;
            x[i] = ((double)i + 0.3 + 0.4 * (double)(seed >> 16 & 1023) / 1023) / (double)n;
            seed = seed * 1103515245U + 12345U;
            y[i] = x[i] + 0.12 * ((double)(seed >> 16 & 1023) / 1023 - 0.5);
            if (round % 4 == 3) /* far off, but rising */
                y[i] = ((double)i + (double)(seed >> 20 & 63) / 64) / (double)n * 0.98 + 0.01;
        }
        struct carn_spline f;
        double low, high, worst;
        carn_spline_build(&f, x, y, n);
        carn_spline_slopes(&f, &low, &high, &worst);
        falling = fmin(falling, low);
        if (low < CARN_SLOPE_LOW || high > CARN_SLOPE_HIGH)
            continue;
        tried++;
        for (size_t i = 0; i < n; i++) {
            size_t fresh = 0;
            worst_through = fmax(worst_through, fabs(carn_spline_at(&f, x[i], &fresh) - y[i]));
        }
        double line[64], rough[64]; /* the same bits a row at a time, rising or not */
        for (size_t i = 0; i < 64; i++) {
            line[i] = (double)i / 63;
            rough[i] = (double)(i * 37 % 64) / 63;
        }
        carn_spline_row(&f, line, 64);
        carn_spline_row(&f, rough, 64);
        for (size_t i = 0; i < 64; i++) {
            size_t fresh = 0;
            double alone = carn_spline_at(&f, (double)i / 63, &fresh);
            unlike += alone < line[i] || alone > line[i];
            unlike += line[i * 37 % 64] < rough[i] || line[i * 37 % 64] > rough[i];
        }
        double before = carn_spline_at(&f, 0, &piece);
        for (int i = 1; i <= 4000; i++) {
            double now = carn_spline_at(&f, i / 4000.0, &piece), slope = (now - before) * 4000;
            lowest = fmin(lowest, slope);
            highest = fmax(highest, slope);
            before = now;
        }
    }
    tap_ok(tried > 1000, "over 1000 splines stay within the slopes (%zu)", tried);
    tap_ok(falling >= -1e-9, "through rising knots no spline ever falls (%.3g)", falling);
    tap_ok(unlike == 0, "a row of arguments gives the bits of one at a time");
    tap_ok(worst_through < 1e-12, "a spline runs through its knots (%.2g)", worst_through);
    tap_ok(lowest >= CARN_SLOPE_LOW - 1e-6 && highest <= CARN_SLOPE_HIGH + 1e-6,
           "and is never flatter or steeper than it says (%.4f to %.4f)", lowest, highest);
}

/* The colours of an 18 % card under casts, deep to light, and skin beside it. */
static void test_neutral(void)
{
    struct carn_error err = {0};
    struct carn_profile *profile = carn_profile_open(NULL, 0, 3, &err);
    static struct carn_lut lut;
    static const struct carn_lab cards[] = {
        {61.9, -1.3, 4.2}, {50, 6, -9}, {75, -4, 12}, {30, 3, 3}};
    for (size_t i = 0; i < sizeof cards / sizeof *cards; i++) {
        struct carn_move move = {.kind = CARN_NEUTRAL, .from = cards[i], .to = {cards[i].L, 0, 0}};
        struct carn_curve curve = {"card.curve", 1, &move};
        struct carn_gains gains;
        double rgb[3];
        struct carn_lab got;
        bool good = carn_channels_compose(&curve, 1, profile, &lut, &gains, &err) == 0 &&
                    carn_profile_from_lab(profile, cards[i], rgb, &err) == 0;
        for (size_t c = 0; c < 3 && good; c++)
            rgb[c] = lut.entry[c][(size_t)lround(rgb[c] * 65535)] / 65535.0;
        carn_profile_to_lab(profile, rgb, &got, 1);
        tap_ok(good && fabs(got.L - cards[i].L) < 0.01 && hypot(got.a, got.b) < 0.02,
               "a card of %.1f %.1f %.1f becomes %.3f %.3f %.3f %s", cards[i].L, cards[i].a,
               cards[i].b, got.L, got.a, got.b, err.text);
        bool ends = true, straight = true, rising = true;
        for (size_t c = 0; c < 3; c++) {
            const uint16_t *t = lut.entry[c];
            ends = ends && t[0] == 0 && t[65535] == 65535;
            double slope = (65535.0 - t[65000]) / 535;
            straight =
                straight && (fabs(gains.gain[c] - 1) < 1e-9 || (slope > 0.33 && slope < 3.01));
            for (size_t v = 1; v < 65536; v++)
                rising = rising && t[v] >= t[v - 1];
        }
        tap_ok(ends && straight && rising,
               "black and white stay, the run to white keeps its slope, all rises (whole %.3f %.3f "
               "%.3f)",
               gains.whole[0], gains.whole[1], gains.whole[2]);
        /* Half way down the whole gain applies: linear light is multiplied by it. */
        double v = 0.4, lin = carn_profile_linear(profile, 2, v) * gains.gain[2];
        double want = carn_profile_encoded(profile, 2, lin, -1);
        tap_ok(fabs(lut.entry[2][(size_t)lround(v * 65535)] / 65535.0 - want) < 3e-5,
               "the gain is one of linear light");
    }
    carn_profile_close(profile);
}

static void test_compose(void)
{
    struct carn_error err = {0};
    struct carn_profile *profile = carn_profile_open(NULL, 0, 3, &err);
    static struct carn_lut one, two, both;
    struct carn_gains gains;
    struct carn_move a = {.kind = CARN_KNOT, .channel = 1, .x = 0.5, .y = 0.55};
    struct carn_move b = {.kind = CARN_KNOT, .channel = 1, .x = 0.6, .y = 0.57};
    struct carn_curve curves[2] = {{"a", 1, &a}, {"b", 1, &b}};
    bool good = carn_channels_compose(&curves[0], 1, profile, &one, &gains, &err) == 0 &&
                carn_channels_compose(&curves[1], 1, profile, &two, &gains, &err) == 0 &&
                carn_channels_compose(curves, 2, profile, &both, &gains, &err) == 0;
    int worst = 0;
    for (size_t v = 0; v < 65536; v++) {
        int d = abs((int)both.entry[1][v] - (int)two.entry[1][one.entry[1][v]]);
        worst = d > worst ? d : worst;
    }
    tap_ok(good && worst <= 2, "two curves compose in their order (%d codes)", worst);
    tap_ok(memcmp(both.entry[0], one.entry[0], sizeof one.entry[0]) == 0 && both.entry[0][77] == 77,
           "a channel without knots stays");
    carn_profile_close(profile);
}

static void test_lut(void)
{
    static struct carn_lut lut;
    struct carn_error err = {0};
    for (size_t c = 0; c < 3; c++)
        for (size_t v = 0; v < 65536; v++)
            lut.entry[c][v] = (uint16_t)(65535 - v);
    struct carn_frame frame = {.width = 3, .height = 1, .colours = 3, .weight = true};
    uint16_t weighted[12] = {1000, 2000, 3000, 65535, 1000,  2000,
                             3000, 0,    1000, 2000,  60000, 32768};
    carn_lut_row(&lut, &frame, weighted);
    tap_ok(weighted[0] == 64535 && weighted[3] == 65535, "weight 1: the table, the weight stays");
    tap_ok(weighted[4] == 1000 && weighted[5] == 2000 && weighted[7] == 0, "weight 0: as it was");
    /* in + w (out - in), rounded: 1000 + 63535 * 32768 / 65535 and 60000 - 54465 * 32768 / 65535 */
    tap_ok(weighted[8] == 32768 && weighted[10] == 32767, "weight 1/2: half way (%d %d)",
           weighted[8], weighted[10]);
    frame = (struct carn_frame){.width = 2, .height = 1, .colours = 3, .alpha = true};
    carn_frame_set(&frame, "alpha", "associated", &err);
    uint16_t multiplied[8] = {16384, 32768, 0, 32768, 0, 0, 0, 0};
    carn_lut_row(&lut, &frame, multiplied);
    tap_ok(abs(multiplied[0] - 16384) <= 1 && multiplied[1] == 0 && multiplied[2] == 32768 &&
               multiplied[3] == 32768,
           "samples multiplied with alpha are looked up as their colours (%d %d)", multiplied[0],
           multiplied[2]);
    tap_ok(multiplied[4] == 0 && multiplied[7] == 0, "nothing shows where alpha is 0");
    carn_frame_clear(&frame);
    frame = (struct carn_frame){.width = 1, .height = 1, .colours = 3, .alpha = true};
    uint16_t straight[4] = {1000, 2000, 3000, 5};
    carn_lut_row(&lut, &frame, straight);
    tap_ok(straight[0] == 64535 && straight[3] == 5, "straight alpha passes");
}

int main(void)
{
    test_spline();
    test_neutral();
    test_compose();
    test_lut();
    return tap_end();
}
