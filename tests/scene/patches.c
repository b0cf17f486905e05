/*
 * patches: where a portrait is to be measured, and what is truly there, as tables (carn-tables(5)).
 */
#include "maths.h"
#include "scene.h"
#include "table.h"

#include <math.h>
#include <stdio.h>

/* In head measure: middle x, middle y, half width, half height. */
static const struct {
    const char *name, *tone;
    double at[4];
} skin_patches[] = {
    {"temple", "light", {-0.33, -0.38, 0.08, 0.06}},
    {"cheek", "light", {-0.42, 0.12, 0.11, 0.08}},
    {"forehead", "middle", {0.13, -0.36, 0.11, 0.065}},
    {"jaw", "middle", {-0.37, 0.44, 0.085, 0.06}},
    {"far-temple", "shade", {0.42, -0.36, 0.06, 0.06}},
    {"far-cheek", "shade", {0.42, 0.21, 0.08, 0.09}},
};
enum { SKIN_PATCHES = sizeof skin_patches / sizeof *skin_patches, PATCHES = SKIN_PATCHES + 2 };

static struct patch patch_at(const struct scene *s, const char *name, const char *word, double x,
                             double y, double w, double h)
{
    return (struct patch){name,
                          word,
                          (x - w) * s->unit + 0.5 * (double)s->is.width,
                          (y - h - 0.5) * s->unit + 0.5 * (double)s->is.height,
                          2 * w * s->unit,
                          2 * h * s->unit};
}

static size_t list_patches(const struct scene *s, struct patch to[PATCHES])
{
    const struct person *who = &s->person[0];
    size_t n = 0;
    for (; n < SKIN_PATCHES; n++) {
        const double *at = skin_patches[n].at;
        to[n] = patch_at(s, skin_patches[n].name, skin_patches[n].tone, who->x + at[0] * who->size,
                         who->y + at[1] * who->size, at[2] * who->size, at[3] * who->size);
    }
    if (!s->is.brick)
        to[n++] = patch_at(s, "backdrop", "backdrop", -0.29, 0.10, 0.045, 0.05);
    if (s->is.card)
        to[n++] = patch_at(s, "card", "card", who->x + card_place[0], card_place[1] - 0.01,
                           0.65 * card_place[2], 0.6 * card_place[3]);
    return n;
}

/* The mean of the encoded samples whose middles lie in the patch, as CIELAB. */
static struct carn_lab measure(const struct scene *s, const struct patch *at)
{
    double sum[3] = {0, 0, 0}, rgb[3], count = 0;
    for (size_t y = (size_t)ceil(fmax(at->y - 0.5, 0)); (double)y + 0.5 < at->y + at->h; y++)
        for (size_t x = (size_t)ceil(fmax(at->x - 0.5, 0)); (double)x + 0.5 < at->x + at->w; x++) {
            if (x >= s->is.width || y >= s->is.height)
                continue;
            shoot(s, x, y, rgb);
            count++;
            for (int c = 0; c < 3; c++)
                sum[c] += rgb[c];
        }
    struct carn_lab lab;
    for (int c = 0; c < 3; c++)
        rgb[c] = sum[c] / fmax(count, 1);
    carn_profile_to_lab(s->profile, rgb, &lab, 1);
    return lab;
}

static void print_patch(const struct scene *s, const struct patch *at, const char *name)
{
    double w = (double)s->is.width / 100, h = (double)s->is.height / 100;
    carn_table_print(stdout, name);
    printf("\t%s\t%s\t%.4f%%\t%.4f%%\t%.4f%%\t%.4f%%\n", at->name, at->tone, at->x / w, at->y / h,
           at->w / w, at->h / h);
}

static int print_patches(const struct scene *s)
{
    struct patch at[PATCHES];
    size_t n = list_patches(s, at);
    printf("frame\tpatch\ttone\tx\ty\tw\th\n");
    for (size_t i = 0; i < n; i++)
        print_patch(s, &at[i], s->is.name != NULL ? s->is.name : "*");
    return 0;
}

static int print_truth(const struct scene *s)
{
    struct patch at[PATCHES];
    size_t n = list_patches(s, at);
    printf("frame\tpatch\ttone\tL\ta\tb\n");
    for (size_t i = 0; i < n; i++) {
        struct carn_lab lab = measure(s, &at[i]);
        carn_table_print(stdout, s->is.name != NULL ? s->is.name : "*");
        printf("\t%s\t%s\t%.4f\t%.4f\t%.4f\n", at[i].name, at[i].tone, lab.L, lab.a, lab.b);
    }
    return 0;
}

