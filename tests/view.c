/* What the face detector is shown: a mean brought near to grey and to a middle light, within
 * bounds; encoded as sRGB; fine grain averaged; places where they are. */
#include "skin/view.h"
#include "base/error.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>

enum { SIDE = 512, SEEN = 64 };

static float L[SIDE * SIDE], a[SIDE * SIDE], b[SIDE * SIDE], pixels[SEEN * SEEN * 3];
static bool unfit[SIDE * SIDE];

static void fill(int x0, int y0, int x1, int y1, struct carn_lab lab)
{
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++) {
            L[y * SIDE + x] = (float)lab.L;
            a[y * SIDE + x] = (float)lab.a;
            b[y * SIDE + x] = (float)lab.b;
            unfit[y * SIDE + x] = false;
        }
}

/* Shows a square to the detector. */
static void look(const struct carn_square *square)
{
    struct carn_error err = {0};
    struct carn_thumbnail planes = {.width = SIDE, .height = SIDE};
    planes.L = L;
    planes.a = a;
    planes.b = b;
    planes.unfit = unfit;
    struct carn_view *view = carn_view_open(&planes, &err);
    if (view == NULL)
        abort();
    carn_view_square(view, square, SEEN, pixels);
    carn_view_close(view);
}

/* IEC 61966-2-1, of a pixel's red, green or blue. */
static double linear(int x, int y, int c)
{
    double v = ((double)pixels[(y * SEEN + x) * 3 + c] + 1) / 2;
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

static double lightness(double Y)
{
    return Y > 216.0 / 24389 ? 116 * cbrt(Y) - 16 : Y * 24389 / 27;
}

static const struct carn_square whole = {SIDE / 2.0, SIDE / 2.0, SIDE, 0};

static double shown(double Y)
{
    fill(0, 0, SIDE, SIDE, (struct carn_lab){lightness(Y), 0, 0});
    look(&whole);
    return linear(SEEN / 2, SEEN / 2, 1);
}

static void test_exposure(void)
{
    double dark = shown(0.07), middle = shown(0.2), light = shown(0.58);
    tap_ok(fabs(dark - 0.2) < 0.002 && fabs(middle - 0.2) < 0.002 && fabs(light - 0.2) < 0.002,
           "what is 3 times as dark or light is shown in the middle (%.3f %.3f %.3f)", dark, middle,
           light);
    double darker = shown(0.04), lighter = shown(0.9);
    tap_ok(fabs(darker - 0.12) < 0.002 && fabs(lighter - 0.3) < 0.002,
           "what is farther off is brought nearer by 3 (%.3f %.3f)", darker, lighter);
}

/* A colour at the upper left of a grey that is shown as it is; then all over. Red, green and blue
 * of both. */
static void show(struct carn_lab lab, double own[3], double alone[3])
{
    fill(0, 0, SIDE, SIDE, (struct carn_lab){lightness(0.2), 0, 0});
    fill(0, 0, 24, 24, lab);
    look(&whole);
    for (int c = 0; c < 3; c++)
        own[c] = linear(1, 1, c);
    fill(0, 0, SIDE, SIDE, lab);
    look(&whole);
    for (int c = 0; c < 3; c++)
        alone[c] = linear(1, 1, c);
}

static void test_cast(void)
{
    double own[3], alone[3], L0 = lightness(0.2);
    show((struct carn_lab){L0, 10, 12}, own, alone);
    double left = log(alone[0] / alone[2]) / log(own[0] / own[2]);
    tap_ok(left > 0.25 && left < 0.35, "of a cast three tenths are left (%.2f)", left);
    show((struct carn_lab){L0, 60, 42}, own, alone);
    double less = alone[0] / own[0], more = alone[2] / own[2];
    tap_ok(fabs(less - 1 / 1.6) < 0.02 && fabs(more - 1.6) < 0.06,
           "no channel is changed by more than 1.6 (%.2f %.2f)", less, more);
    fill(SIDE / 2, 0, SIDE, SIDE, (struct carn_lab){90, 0, -30});
    for (int i = 0; i < SIDE * SIDE; i++)
        unfit[i] = i % SIDE >= SIDE / 2;
    look(&whole);
    tap_ok(fabs(linear(1, 1, 0) / alone[0] - 1) < 0.01, "clipped pixels do not count");
}

/* Deep skin in shadow is not lost in steps. */
static void test_codes(void)
{
    double worst = 0;
    fill(0, 0, SIDE, SIDE, (struct carn_lab){lightness(0.2), 0, 0});
    for (int i = 0; i < 15; i++) {
        double Y = 0.0005 * pow(1.5, i);
        fill(0, 0, 24, 24, (struct carn_lab){lightness(Y), 0, 0});
        look(&whole);
        worst = fmax(worst, fabs(cbrt(linear(1, 1, 1)) - cbrt(Y)));
    }
    tap_ok(worst < 0.004, "darks are shown as they are (%.4f)", worst);
}

static void test_grain(void)
{
    unsigned state = 1;
    fill(0, 0, SIDE, SIDE, (struct carn_lab){0, 0, 0});
    for (int i = 0; i < SIDE * SIDE; i++) {
        state = state * 1664525U + 1013904223U;
        L[i] = (float)(35 + (state >> 8) % 32);
    }
    look(&whole);
    double sum = 0, squares = 0, n = SEEN * SEEN;
    for (int i = 0; i < SEEN * SEEN; i++) {
        sum += (double)pixels[3 * i];
        squares += (double)(pixels[3 * i] * pixels[3 * i]);
    }
    double deviation = sqrt(squares / n - sum / n * sum / n);
    tap_ok(deviation < 0.03, "grain of one pixel is averaged (%.4f)", deviation);
}

/* A light spot is seen where it is, also in a turned square that reaches over the edge. */
static void test_place(void)
{
    static const struct carn_square squares[] = {
        {256, 256, 512, 0}, {100, 120, 260, 0}, {60, 400, 300, 30}, {300, 250, 128, -75}};
    int right = 0;
    for (size_t i = 0; i < sizeof squares / sizeof *squares; i++) {
        double place[2], sum = 0, x = 0, y = 0;
        carn_square_place(&squares[i], 0.7, 0.4, place);
        fill(0, 0, SIDE, SIDE, (struct carn_lab){1, 0, 0});
        fill((int)place[0] - 4, (int)place[1] - 4, (int)place[0] + 4, (int)place[1] + 4,
             (struct carn_lab){60, 0, 0});
        look(&squares[i]);
        for (int k = 0; k < SEEN * SEEN; k++) {
            int row = k / SEEN;
            double light = fmax((double)pixels[3 * k] + 0.8, 0);
            sum += light;
            x += light * (k % SEEN + 0.5) / SEEN;
            y += light * (row + 0.5) / SEEN;
        }
        right += sum > 0 && hypot(x / sum - 0.7, y / sum - 0.4) * squares[i].side < 1.5;
    }
    tap_ok(right == 4, "a spot is seen where it is (%d of 4)", right);
}

int main(void)
{
    test_exposure();
    test_cast();
    test_codes();
    test_grain();
    test_place();
    return tap_end();
}
