/* What a measured patch is doubted for: each limit from both sides; and what its mean leaves out.
 */
#include "correct/measure.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>

enum { SIDE = 20, MOST = SIDE * SIDE };

/* A patch of SIDE by SIDE opaque pixels. */
struct patch {
    uint16_t pixels[SIDE][3 * SIDE];
    size_t width, height;
    const char *tone;
};

static struct carn_profile *profile;

static void paint(struct patch *p, size_t x, size_t y, struct carn_lab lab)
{
    struct carn_error err = {0};
    double rgb[3];
    if (carn_profile_from_lab(profile, lab, rgb, &err) != 0)
        abort();
    for (size_t c = 0; c < 3; c++)
        p->pixels[y][3 * x + c] = (uint16_t)lround(65535 * rgb[c]);
}

static struct carn_lab polar(double L, double chroma, double hue)
{
    double angle = hue * acos(-1) / 180;
    return (struct carn_lab){L, chroma * cos(angle), chroma * sin(angle)};
}

/* The left half of one colour, the right half of another. */
static struct patch halves(const char *tone, struct carn_lab left, struct carn_lab right)
{
    struct patch p = {.width = SIDE, .height = SIDE, .tone = tone};
    for (size_t y = 0; y < SIDE; y++)
        for (size_t x = 0; x < SIDE; x++)
            paint(&p, x, y, x < SIDE / 2 ? left : right);
    return p;
}

static struct carn_reading measured(struct patch *p)
{
    struct carn_error err = {0};
    struct carn_frame frame = {.width = SIDE, .height = SIDE, .colours = 3};
    struct carn_box box = {.patch = "x", .tone = p->tone, .x1 = p->width, .y1 = p->height};
    struct carn_reading r = {0};
    box.scale = 1;
    struct carn_measure *m = carn_measure_open(&box, &frame, &err);
    for (size_t y = 0; m != NULL && y < SIDE; y++)
        carn_measure_row(m, y, p->pixels[y]);
    if (m == NULL || carn_measure_finish(m, profile, NULL, CARN_TRIMMED, &r, &err) != 0)
        abort();
    carn_measure_close(m);
    return r;
}

/* What is right has no flag but `but`, what is too much has it. */
static void edge(const char *name, unsigned flag, struct patch right, struct patch much)
{
    unsigned a = measured(&right).flags, b = measured(&much).flags;
    tap_ok((a & flag) == 0 && (b & flag) != 0, "%s (%u, %u)", name, a, b);
}

static struct patch even(const char *tone, struct carn_lab lab)
{
    return halves(tone, lab, lab);
}

/* count samples of the patch at the end of the scale. */
static struct patch clipped(size_t count)
{
    struct patch p = even("-", polar(60, 30, 55));
    for (size_t i = 0; i < count; i++)
        p.pixels[i / SIDE][3 * (i % SIDE)] = UINT16_MAX;
    return p;
}

static struct patch small(size_t width, size_t height)
{
    struct patch p = even("-", polar(60, 30, 55));
    p.width = width;
    p.height = height;
    return p;
}

/* A card whose left half has this luminance of the right half's. */
static struct patch lit(double share)
{
    double Y = pow((60 + 16) / 116.0, 3) * share;
    return halves("card", (struct carn_lab){116 * cbrt(Y) - 16, 0, 0}, (struct carn_lab){60, 0, 0});
}

static void test_flags(void)
{
    edge("14 degrees of hue are one skin, 17 are two", CARN_MIXED,
         halves("-", polar(60, 30, 48), polar(60, 30, 62)),
         halves("-", polar(60, 30, 47), polar(60, 30, 64)));
    edge("chroma 25 and 36 are one skin, 22 and 36 are two", CARN_MIXED,
         halves("-", polar(60, 25, 55), polar(60, 36, 55)),
         halves("-", polar(60, 22, 55), polar(60, 36, 55)));
    edge("skin of L* 15.3 can be judged, of 14.7 not", CARN_DARK, even("-", polar(15.3, 8, 50)),
         even("-", polar(14.7, 8, 50)));
    edge("5 clipped samples of 1200 are few, 7 are not", CARN_CLIPPED, clipped(5), clipped(7));
    edge("100 pixels are enough, 99 are not", CARN_SMALL, small(10, 10), small(11, 9));
    edge("a card may be 2.8 % brighter on one side, not 3.2 %", CARN_UNEVEN, lit(0.972),
         lit(0.968));
    edge("a card may have chroma 19, not 21", CARN_COLOURED, even("card", polar(60, 19, 90)),
         even("card", polar(60, 21, 90)));
}

/* Of 400 pixels 36 to 44 are far off, lighter or darker. */
static void test_mean(void)
{
    double far[2];
    for (int i = 0; i < 2; i++) {
        struct patch p = even("-", polar(60, 30, 55));
        size_t count = i == 0 ? 38 : 60;
        for (size_t k = 0; k < count; k++)
            paint(&p, k % SIDE, k / SIDE, polar(75, 10, 55));
        far[i] = carn_cie76(measured(&p).lab, polar(60, 30, 55));
    }
    tap_ok(far[0] < 0.02, "what is off in under a tenth of the pixels does not count (%.3f)",
           far[0]);
    tap_ok(far[1] > 0.5, "what is off in more does (%.3f)", far[1]);
}

/* A face's tone may have more samples cut off than a patch. */
static void test_tones(void)
{
    struct carn_reading r = {.lab = {60, 18, 20}, .clipped = 4};
    bool few = carn_measure_doubts(&r, 1000, true) == 0 &&
               carn_measure_doubts(&r, 1000, false) == CARN_CLIPPED;
    r.clipped = 6;
    tap_ok(few && carn_measure_doubts(&r, 1000, true) == CARN_CLIPPED,
           "4 clipped samples of 100 are few in a face, 6 are not");
}

int main(void)
{
    struct carn_error err = {0};
    profile = carn_profile_open(NULL, 0, 3, &err);
    if (profile == NULL) {
        printf("Bail out! %s\n", err.text);
        return 1;
    }
    test_flags();
    test_mean();
    test_tones();
    carn_profile_close(profile);
    return tap_end();
}
