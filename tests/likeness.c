/* Quick CIELAB against the profile's, and what is like skin at every lightness. */
#include "skin/likeness.h"
#include "colour/lab_lookup.h"
#include "colour/profile.h"
#include "frame/keys.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>

enum { COLOURS = 20000 };

static uint32_t state = 1;

/* A fixed sequence (Numerical Recipes' constants, from memory). */
static uint16_t next(void)
{
    state = state * 1664525U + 1013904223U;
    return (uint16_t)(state >> 16);
}

static void test_quick(void)
{
    static uint16_t row[3 * COLOURS];
    static float L[COLOURS], a[COLOURS], b[COLOURS];
    static double encoded[3 * COLOURS];
    static struct carn_lab exact[COLOURS];
    struct carn_error err = {0};
    struct carn_frame frame = {.width = COLOURS, .height = 1, .colours = 3};
    struct carn_profile *profile = carn_profile_open(NULL, 0, 3, &err);
    struct carn_lab_lookup *quick = profile != NULL ? carn_lab_lookup_open(profile, &err) : NULL;
    double worst = 0;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        row[i] = next();
        encoded[i] = row[i] / 65535.0;
    }
    if (quick != NULL) {
        carn_lab_lookup_row(quick, &frame, row, L, a, b);
        carn_profile_to_lab(profile, encoded, exact, COLOURS);
    }
    for (size_t i = 0; quick != NULL && i < COLOURS; i++) {
        struct carn_lab near = {(double)L[i], (double)a[i], (double)b[i]};
        if (exact[i].L >= 5)
            worst = fmax(worst, carn_cie76(near, exact[i]));
    }
    tap_ok(quick != NULL && worst <= 0.3, "quick CIELAB is within 0.3 of the measured (%.3f)",
           worst);
    carn_lab_lookup_close(quick);
    carn_profile_close(profile);
}

static uint16_t likeness(const struct carn_reference *reference, double L, double a, double b)
{
    float row[3] = {(float)L, (float)a, (float)b};
    uint16_t like = 0;
    carn_likeness_row(reference, &row[0], &row[1], &row[2], &like, 1);
    return like;
}

/* A row of colours gives each the likeness that it has by itself. */
static void test_rows(struct carn_lab lab)
{
    enum { COUNT = 1001 };
    static struct carn_reference reference;
    static float L[COUNT], a[COUNT], b[COUNT];
    static uint16_t row[COUNT];
    carn_reference_of_reading(&reference, lab, 1);
    size_t same = 0, some = 0;
    for (size_t i = 0; i < COUNT; i++) {
        L[i] = (float)(lab.L - 20 + next() / 1638.0);
        a[i] = (float)(lab.a - 20 + next() / 1638.0);
        b[i] = (float)(lab.b - 20 + next() / 1638.0);
        row[i] = i % 7 == 0 ? 9000 : 0;
    }
    carn_likeness_row(&reference, L, a, b, row, COUNT);
    for (size_t i = 0; i < COUNT; i++) {
        uint16_t one = likeness(&reference, (double)L[i], (double)a[i], (double)b[i]);
        uint16_t least = i % 7 == 0 ? 9000 : 0;
        same += row[i] == (one > least ? one : least);
        some += row[i] > 9000;
    }
    tap_ok(same == COUNT && some > 100 && some < 900,
           "a row of %d colours gives each its own likeness (%zu, %zu alike)", COUNT, same, some);
}

/* Associated alpha is divided out. */
static void test_multiplied(void)
{
    enum { COUNT = 100 };
    struct carn_error err = {0};
    struct carn_frame plain = {.width = COUNT, .height = 1, .colours = 3};
    struct carn_frame frame = {.width = COUNT, .height = 1, .colours = 3, .alpha = true};
    struct carn_profile *profile = carn_profile_open(NULL, 0, 3, &err);
    struct carn_lab_lookup *quick = profile != NULL ? carn_lab_lookup_open(profile, &err) : NULL;
    static uint16_t row[3 * COUNT], half[4 * COUNT];
    static float L[2][COUNT], a[2][COUNT], b[2][COUNT];
    double worst = quick != NULL && carn_frame_set_alpha(&frame, true, &err) == 0 ? 0 : 99;
    for (size_t i = 0; i < COUNT; i++) {
        half[4 * i + 3] = 32768;
        for (size_t c = 0; c < 3; c++) {
            row[3 * i + c] = next() | 0x2000;
            half[4 * i + c] = (uint16_t)((row[3 * i + c] * 32768U + 32767) / 65535);
        }
    }
    if (quick != NULL) {
        carn_lab_lookup_row(quick, &plain, row, L[0], a[0], b[0]);
        carn_lab_lookup_row(quick, &frame, half, L[1], a[1], b[1]);
    }
    for (size_t i = 0; i < COUNT; i++)
        worst = fmax(worst, fabs((double)(L[0][i] - L[1][i])) + fabs((double)(a[0][i] - a[1][i])) +
                                fabs((double)(b[0][i] - b[1][i])));
    tap_ok(worst < 0.5, "multiplied samples are taken as their colours (%.2f)", worst);
    carn_frame_clear(&frame);
    carn_lab_lookup_close(quick);
    carn_profile_close(profile);
}

/* Middle tones of light, medium and deep skin in photographs. */
static const struct {
    const char *depth;
    struct carn_lab lab;
} skins[] = {{"light", {74, 18, 21}}, {"medium", {54, 21, 25}}, {"deep", {32, 21, 25}}};

static void test_reading(const char *depth, struct carn_lab lab)
{
    const double spread = 1.5;
    static struct carn_reference reference;
    carn_reference_of_reading(&reference, lab, spread);
    int inside = 0, outside = 0;
    for (int i = 0; i < 5000; i++) {
        double d[3], length = 0;
        for (int c = 0; c < 3; c++) {
            d[c] = next() / 32767.5 - 1;
            length += d[c] * d[c];
        }
        length = sqrt(length);
        for (int c = 0; c < 3; c++)
            d[c] *= 3 * spread / length;
        inside += likeness(&reference, lab.L + 0.99 * d[0], lab.a + 0.99 * d[1],
                           lab.b + 0.99 * d[2]) == 65535;
        outside += likeness(&reference, lab.L + 1.01 * d[0], lab.a + 1.01 * d[1],
                            lab.b + 1.01 * d[2]) == 65535;
    }
    tap_ok(inside == 5000 && outside == 0,
           "%s: wholly skin within three times the spread and not beyond (%d, %d of 5000)", depth,
           inside, outside);
    uint16_t shaded = 65535, toned = 65535, grey = 0;
    for (int L = (int)fmax(15, 0.55 * (lab.L + 16) - 15); L <= 90; L++) {
        double share = (L + 16) / (lab.L + 16);
        uint16_t like = likeness(&reference, L, lab.a * share, lab.b * share);
        shaded = like < shaded ? like : shaded;
        like = likeness(&reference, L, lab.a, lab.b);
        toned = like < toned ? like : toned;
        like = likeness(&reference, L, 0, 1.5);
        grey = like > grey ? like : grey;
    }
    tap_ok(shaded >= 65000,
           "%s: skin in its own light and shade from 0.55 of L* + 16 to L* 90 (%d)", depth, shaded);
    tap_ok(toned >= 65000, "%s: and with the same chroma at every L* (%d)", depth, toned);
    tap_ok(grey == 0, "%s: near neutral is nothing at every L* (%d)", depth, grey);
}

static void test_skin(void)
{
    static struct carn_reference reference;
    carn_reference_of_skin(&reference);
    const double hue = 49 * acos(-1) / 180;
    uint16_t least = 65535, grey = 0;
    for (int L = 15; L <= 90; L++) {
        for (int chroma = 22; chroma <= 34; chroma += 4) {
            uint16_t like = likeness(&reference, L, chroma * cos(hue), chroma * sin(hue));
            least = like < least ? like : least;
        }
        uint16_t like = likeness(&reference, L, 0.4, 0.8);
        grey = like > grey ? like : grey;
    }
    tap_ok(least >= 65000 && grey == 0, "skin as such from L* 15 to 90 (%d), neutrals never (%d)",
           least, grey);
}

/* Skin as such, before anything is known of the picture: none of it, partly, wholly. */
static void test_skin_limits(void)
{
    static struct carn_reference reference;
    carn_reference_of_skin(&reference);
    static const struct {
        double L, chroma, off; /* degrees off the middle hue */
        int least, most;
    } looks[] = {
        {60, 2.3, 0, 0, 0},          {60, 7, 0, 20000, 45000},    {60, 12.2, 0, 64000, 65535},
        {60, 49, 0, 64000, 65535},   {60, 61, 0, 20000, 45000},   {60, 72, 0, 0, 0},
        {90, 56, 0, 64000, 65535},   {90, 82, 0, 0, 0},           {20, 1.1, 0, 0, 0},
        {20, 6.2, 0, 64000, 65535},  {3.8, 10, 0, 0, 0},          {9, 10, 0, 25000, 40000},
        {14.2, 10, 0, 64000, 65535}, {60, 30, 1.9, 64000, 65535}, {60, 30, -1.9, 64000, 65535},
        {60, 30, 12, 25000, 42000},  {60, 30, -12, 25000, 42000}, {60, 30, 22.5, 0, 0},
        {60, 30, -22.5, 0, 0},
    };
    int right = 0, count = sizeof looks / sizeof *looks;
    for (int i = 0; i < count; i++) {
        double hue = (49 + looks[i].off) * acos(-1) / 180, C = looks[i].chroma;
        int like = likeness(&reference, looks[i].L, C * cos(hue), C * sin(hue));
        bool in = like >= looks[i].least && like <= looks[i].most;
        right += in;
        if (!in)
            printf("# L* %g, chroma %g, %g off: %d\n", looks[i].L, C, looks[i].off, like);
    }
    tap_ok(right == count, "its bounds of chroma, hue and dark (%d of %d)", right, count);
}

/* How far around a reading all is skin, at least and at most, whatever its spread. */
static void test_radius(void)
{
    static struct carn_reference reference;
    carn_reference_of_reading(&reference, (struct carn_lab){60, 18, 22}, 0);
    tap_ok(likeness(&reference, 61.9, 18, 22) == 65535 &&
               likeness(&reference, 62.1, 18, 22) < 65535,
           "a reading without spread has 2 around it");
    carn_reference_of_reading(&reference, (struct carn_lab){60, 3, 4}, 3);
    tap_ok(likeness(&reference, 62.9, 3, 4) == 65535 && likeness(&reference, 63.1, 3, 4) < 65535,
           "a pale one 0.6 of its chroma, so that grey is none");
}

static uint16_t turned(const struct carn_reference *reference, struct carn_lab lab, double degrees,
                       double chroma)
{
    double hue = (carn_hue(lab) + degrees) * acos(-1) / 180, C = chroma * carn_chroma(lab);
    return likeness(reference, lab.L, C * cos(hue), C * sin(hue));
}

static bool near_half(uint16_t like)
{
    return like > 22000 && like < 44000;
}

/* Off the hue only the distance from the reading counts: likeness is a half at 3 beyond its radius,
 * and 0 from 6. By hue alone it is 0 from 16 degrees. */
static void test_near(const char *depth, struct carn_lab lab)
{
    static struct carn_reference reference, sharp;
    carn_reference_of_reading(&reference, lab, 1.5);
    carn_reference_of_reading(&sharp, lab, 0.5);
    double chroma = carn_chroma(lab);
    int half[2], none = 0, off = 0, between = 0, on = 65535;
    for (int i = 0; i < 2; i++) {
        double side = i == 0 ? 1 : -1, a = -side * lab.b / chroma, b = side * lab.a / chroma;
        half[i] = likeness(&reference, lab.L, lab.a + 7.5 * a, lab.b + 7.5 * b);
        int like = likeness(&reference, lab.L, lab.a + 10.6 * a, lab.b + 10.6 * b);
        none = like > none ? like : none;
        like = turned(&sharp, lab, 18 * side, 1);
        off = like > off ? like : off;
        like = turned(&sharp, lab, 9 * side, 1);
        between = like > between ? like : between;
        like = turned(&sharp, lab, 2 * side, 1);
        on = like < on ? like : on;
    }
    tap_ok(none == 0 && abs(half[0] - 32767) < 3000 && abs(half[1] - 32767) < 3000,
           "%s: half at 3 outside of a reading's own colours, nothing at 6 (%d, %d; %d)", depth,
           half[0], half[1], none);
    tap_ok(off == 0 && on > 64000 && between < 45000,
           "%s: its hue to 2 degrees, a half at 9, nothing of it at 18 (%d, %d, %d)", depth, on,
           between, off);
    const struct carn_lab shade = {0.8 * (lab.L + 16) - 16, 0.8 * lab.a, 0.8 * lab.b};
    tap_ok(near_half(turned(&sharp, shade, 9, 1)) && near_half(turned(&sharp, shade, -9, 1)),
           "%s: a half at 9 in its shade too", depth);
    const struct carn_lab dark = {0.4 * (lab.L + 16) - 16, 0.4 * lab.a, 0.4 * lab.b};
    int darker = likeness(&sharp, dark.L, dark.a, dark.b);
    tap_ok(darker < 40000, "%s: in 0.4 of its light it fades out, as hair (%d)", depth, darker);
}

/* Off the hue of a colour by so much at a right angle to it. */
static uint16_t beside(const struct carn_reference *reference, struct carn_lab lab, double off)
{
    double chroma = carn_chroma(lab), a = -lab.b / chroma, b = lab.a / chroma;
    return likeness(reference, lab.L, lab.a + off * a, lab.b + off * b);
}

/* Where chroma is low a few degrees are less than noise. */
static void test_noise(void)
{
    static struct carn_reference skin, face;
    const double hue = 49 * acos(-1) / 180;
    const struct carn_lab dark = {15, 5.2 * cos(hue), 5.2 * sin(hue)}, pale = {70, 3, 4};
    const struct carn_lab tones[CARN_TONES] = {pale, pale, pale};
    carn_reference_of_skin(&skin);
    carn_reference_of_face(&face, tones, 1, false);
    bool right = true;
    for (int side = -1; side <= 1; side += 2)
        right = right && beside(&skin, dark, 1.4 * side) > 64000 &&
                near_half(beside(&skin, dark, 3.25 * side)) &&
                beside(&skin, dark, 5.1 * side) == 0 && beside(&face, pale, 0.9 * side) > 64000 &&
                near_half(beside(&face, pale, 2 * side)) && beside(&face, pale, 3.1 * side) == 0;
    tap_ok(right, "where chroma is low, 1.5 off the hue is nothing, 1 in a face");
}

/* A face of three tones, its shade of constant chroma. */
static void test_face(const char *depth, struct carn_lab lab)
{
    static struct carn_reference face, wide, widest, inside;
    const struct carn_lab tones[CARN_TONES] = {
        {lab.L + 8, 0.95 * lab.a, 0.95 * lab.b}, lab, {lab.L - 12, lab.a, lab.b}};
    carn_reference_of_face(&face, tones, 2, false);
    carn_reference_of_face(&wide, tones, 6, false);
    carn_reference_of_face(&widest, tones, 32, false);
    carn_reference_of_face(&inside, tones, 2, true);
    uint16_t own = 65535, shine = 65535;
    for (int t = 0; t < CARN_TONES; t++) {
        uint16_t like = turned(&face, tones[t], 0, 1);
        own = like < own ? like : own;
    }
    for (int i = 0; i <= 8; i++) {
        double L = lab.L + (95 - lab.L) * i / 10, share = (100 - L) / (100 - lab.L);
        uint16_t like = likeness(&face, L, share * lab.a, share * lab.b);
        shine = like < shine ? like : shine;
    }
    tap_ok(own >= 65000 && shine >= 65000,
           "%s: a face's tones are skin, and its colour mixed with white up to L* 90 (%d, %d)",
           depth, own, shine);
    tap_ok(turned(&face, lab, 2.5, 1) > 64000 && turned(&face, lab, -2.5, 1) > 64000 &&
               turned(&face, lab, 6, 1) > 20000 && turned(&face, lab, 6, 1) < 40000 &&
               turned(&face, lab, 10, 1) < 600 && turned(&wide, lab, 6, 1) > 64000 &&
               turned(&wide, lab, 22, 1) < 600 && turned(&widest, lab, -30, 1) < 600,
           "%s: as far off the hue as its spread of hue says (%d, %d at 6 degrees)", depth,
           turned(&face, lab, 6, 1), turned(&wide, lab, 6, 1));
    double white = 2 / carn_chroma(lab);
    tap_ok(likeness(&face, 98, white * lab.a, white * lab.b) == 0,
           "%s: near white a hue is no skin", depth);
    const struct carn_lab dark = {0.45 * (lab.L + 4) - 16, 0.45 * lab.a, 0.45 * lab.b};
    tap_ok(turned(&face, tones[CARN_TONE_SHADE], 0, 0.65) < 32767 &&
               likeness(&face, dark.L, dark.a, dark.b) < 600,
           "%s: what is paler at its L*, and much darker than its shade, is not (%d, %d)", depth,
           turned(&face, tones[CARN_TONE_SHADE], 0, 0.65), likeness(&face, dark.L, dark.a, dark.b));
    tap_ok(turned(&inside, lab, -20, 1) > 64000 && turned(&inside, lab, 8, 1) > 64000 &&
               turned(&inside, lab, 16, 1) < 600 && turned(&inside, lab, -28, 1) < 600 &&
               turned(&inside, tones[CARN_TONE_SHADE], 0, 0.65) > 64000,
           "%s: inside of the face redder and paler is skin too, yellower a little", depth);
    tap_ok(near_half(turned(&face, lab, 0, 0.735)) && near_half(turned(&inside, lab, 0, 0.4)) &&
               near_half(turned(&inside, lab, 0, 2.2)),
           "%s: half where chroma is between", depth);
    tap_ok(turned(&inside, lab, 0, 1.75) > 64000 && turned(&inside, lab, 0, 2.7) < 600 &&
               turned(&face, lab, 0, 1.75) < 600,
           "%s: and what is more coloured, as ears with light behind them", depth);
    const struct carn_lab far = {0.68 * (lab.L + 4) - 16, 0.68 * lab.a, 0.68 * lab.b};
    const struct carn_lab hair = {0.39 * (lab.L + 4) - 16, 0.39 * lab.a, 0.39 * lab.b};
    tap_ok((far.L < 15 || likeness(&inside, far.L, far.a, far.b) > 64000) &&
               likeness(&face, far.L, far.a, far.b) < 50000 &&
               likeness(&inside, hair.L, hair.a, hair.b) < 600,
           "%s: and its far side, darker than its shade, but not hair", depth);
}

/* The Monk scale (E. Monk, 2022; hex values from a copy of its published table, CIELAB D50 from
 * sRGB), whose tones are as far apart in hue and chroma as skin is shown anywhere. */
static const struct carn_lab monk[] = {
    {94.3, 2, 5.5},  {92.4, 2.7, 7.4},   {93.2, 1.5, 14.3},  {87.7, 2, 17.9},  {78.1, 5.3, 23.3},
    {55.4, 9.7, 27}, {42.7, 13.7, 20.9}, {30.9, 12.6, 13.6}, {21.1, 3.2, 6.1}, {14.7, 1.8, 3.6},
};

static void test_can_be(void)
{
    int taken = 0;
    for (size_t i = 0; i < sizeof monk / sizeof *monk; i++)
        taken += carn_skin_can_be(monk[i], false);
    tap_ok(taken == 10, "all ten tones of the Monk scale can be skin (%d)", taken);
    const double degree = acos(-1) / 180;
    /* Just inside and just outside of each bound, at L* 60 and 20. */
    const struct {
        double L, chroma, hue;
        bool can;
    } edges[] = {{60, 20, 8.5, true},   {60, 20, 7.5, false}, {60, 20, 85.5, true},
                 {60, 20, 86.5, false}, {20, 3.1, 50, true},  {20, 2.9, 50, false},
                 {90, 4.9, 50, true},   {90, 4.6, 50, false}, {20, 43, 50, true},
                 {20, 43.5, 50, false}};
    int right = 0;
    for (size_t i = 0; i < sizeof edges / sizeof *edges; i++) {
        struct carn_lab lab = {edges[i].L, edges[i].chroma * cos(edges[i].hue * degree),
                               edges[i].chroma * sin(edges[i].hue * degree)};
        right += carn_skin_can_be(lab, false) == edges[i].can;
    }
    tap_ok(right == 10, "the bounds of hue and chroma are where the header says (%d of 10)", right);
    tap_ok(!carn_skin_can_be((struct carn_lab){45, -25, 30}, false) &&
               !carn_skin_can_be((struct carn_lab){60, -5, -30}, false) &&
               !carn_skin_can_be((struct carn_lab){92, 0.2, 1}, false),
           "grass, sky and a white shirt can not");
    struct carn_lab cold = {60, 10 * cos(29 * degree), -10 * sin(29 * degree)};
    struct carn_lab colder = {60, 10 * cos(31 * degree), -10 * sin(31 * degree)};
    tap_ok(carn_skin_can_be(cold, true) && !carn_skin_can_be(cold, false) &&
               !carn_skin_can_be(colder, true),
           "a known face can be as cold as -30 degrees, nothing else");
}

int main(void)
{
    test_quick();
    test_multiplied();
    for (size_t i = 0; i < sizeof skins / sizeof *skins; i++)
        test_rows(skins[i].lab);
    for (size_t i = 0; i < sizeof skins / sizeof *skins; i++)
        test_reading(skins[i].depth, skins[i].lab);
    for (size_t i = 0; i < sizeof skins / sizeof *skins; i++)
        test_near(skins[i].depth, skins[i].lab);
    for (size_t i = 0; i < sizeof skins / sizeof *skins; i++)
        test_face(skins[i].depth, skins[i].lab);
    test_skin();
    test_skin_limits();
    test_radius();
    test_noise();
    test_can_be();
    return tap_end();
}
