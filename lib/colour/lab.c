#include "colour/lab.h"

#include "base/maths.h"
#include "base/order.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const struct carn_xyz carn_d50 = {0.9642, 1.0, 0.8249};

/* CIE 15: the cube root, and below (6/29)^3 the line that joins it. */
static double lab_f(double t)
{
    return t > 216.0 / 24389.0 ? cbrt(t) : (24389.0 / 27.0 * t + 16.0) / 116.0;
}

static double lab_f_inverse(double f)
{
    return f > 6.0 / 29.0 ? f * f * f : (116.0 * f - 16.0) * 27.0 / 24389.0;
}

struct carn_lab carn_xyz_to_lab(struct carn_xyz xyz, struct carn_xyz white)
{
    double fx = lab_f(xyz.X / white.X), fy = lab_f(xyz.Y / white.Y), fz = lab_f(xyz.Z / white.Z);
    return (struct carn_lab){116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)};
}

struct carn_xyz carn_lab_to_xyz(struct carn_lab lab, struct carn_xyz white)
{
    double fy = (lab.L + 16.0) / 116.0;
    return (struct carn_xyz){white.X * lab_f_inverse(fy + lab.a / 500.0),
                             white.Y * lab_f_inverse(fy),
                             white.Z * lab_f_inverse(fy - lab.b / 200.0)};
}

double carn_chroma(struct carn_lab lab)
{
    return hypot(lab.a, lab.b);
}

double carn_hue(struct carn_lab lab)
{
    if (lab.a == 0 && lab.b == 0)
        return 0;
    double hue = atan2(lab.b, lab.a) * 180.0 / CARN_PI;
    return hue < 0 ? hue + 360.0 : hue;
}

double carn_hue_difference(double from, double to)
{
    double d = fmod(to - from, 360.0);
    if (d > 180.0)
        d -= 360.0;
    else if (d <= -180.0)
        d += 360.0;
    return d;
}

double carn_hue_median(double *hues, size_t count)
{
    double first = hues[0];
    for (size_t i = 0; i < count; i++)
        hues[i] = carn_hue_difference(first, hues[i]);
    double hue = fmod(first + carn_median(hues, count), 360.0);
    return hue < 0 ? hue + 360.0 : hue;
}

double carn_ita(struct carn_lab lab)
{
    return atan2(lab.L - 50.0, lab.b) * 180.0 / CARN_PI;
}

double carn_cie76(struct carn_lab x, struct carn_lab y)
{
    return hypot(hypot(x.L - y.L, x.a - y.a), x.b - y.b);
}

static double seventh_power_share(double chroma)
{
    double c7 = pow(chroma, 7.0);
    return sqrt(c7 / (c7 + 6103515625.0)); /* 25^7 */
}

static double cos_degrees(double angle)
{
    return cos(angle * CARN_PI / 180.0);
}

/* Sharma, Wu, Dalal 2005, equations 2 to 22; kL = kC = kH = 1. */
struct carn_ciede2000 carn_ciede2000(struct carn_lab x, struct carn_lab y)
{
    double g = 0.5 * (1.0 - seventh_power_share((carn_chroma(x) + carn_chroma(y)) / 2.0));
    struct carn_lab x1 = {x.L, x.a * (1.0 + g), x.b}, y1 = {y.L, y.a * (1.0 + g), y.b};
    double c1 = carn_chroma(x1), c2 = carn_chroma(y1);
    double h1 = carn_hue(x1), h2 = carn_hue(y1);

    double dh = c1 * c2 == 0 ? 0 : carn_hue_difference(h1, h2);
    double dL = y.L - x.L, dC = c2 - c1;
    double dH = 2.0 * sqrt(c1 * c2) * sin(dh / 2.0 * CARN_PI / 180.0);

    double L = (x.L + y.L) / 2.0, C = (c1 + c2) / 2.0;
    double h = h1 + h2;
    if (c1 * c2 != 0) {
        if (fabs(h1 - h2) > 180.0)
            h += h < 360.0 ? 360.0 : -360.0;
        h /= 2.0;
    }
    double t = 1.0 - 0.17 * cos_degrees(h - 30.0) + 0.24 * cos_degrees(2.0 * h) +
               0.32 * cos_degrees(3.0 * h + 6.0) - 0.20 * cos_degrees(4.0 * h - 63.0);
    double l50 = (L - 50.0) * (L - 50.0);
    double sL = 1.0 + 0.015 * l50 / sqrt(20.0 + l50);
    double sC = 1.0 + 0.045 * C, sH = 1.0 + 0.015 * C * t;
    double turn = (h - 275.0) / 25.0;
    double rT =
        -sin(2.0 * 30.0 * exp(-turn * turn) * CARN_PI / 180.0) * 2.0 * seventh_power_share(C);

    double l = dL / sL, c = dC / sC, hh = dH / sH;
    struct carn_ciede2000 d = {.lightness = l * l, .chroma = c * c, .hue = hh * hh};
    d.cross = rT * c * hh;
    d.total = sqrt(fmax(0, d.lightness + d.chroma + d.hue + d.cross));
    return d;
}

static void add_word(char *words, size_t size, const char *word)
{
    size_t used = strlen(words);
    snprintf(words + used, size - used, "%s%s", used > 0 ? ", " : "", word);
}

/* Where a turn of hue leads: the axis of the a*b* plane that lies ahead. */
static const char *hue_word(double from, double to)
{
    static const char *const axes[] = {"more magenta", "yellower", "greener", "bluer"};
    size_t quadrant = (size_t)(from / 90) % 4;
    return axes[carn_hue_difference(from, to) > 0 ? (quadrant + 1) % 4 : quadrant];
}

void carn_difference_words(struct carn_lab from, struct carn_lab to, const struct carn_ciede2000 *d,
                           double least, char *words, size_t size)
{
    words[0] = '\0';
    if (sqrt(d->hue) > least)
        add_word(words, size, hue_word(carn_hue(from), carn_hue(to)));
    if (sqrt(d->chroma) > least)
        add_word(words, size, carn_chroma(to) > carn_chroma(from) ? "more coloured" : "greyer");
    if (sqrt(d->lightness) > least)
        add_word(words, size, to.L > from.L ? "lighter" : "deeper");
}
