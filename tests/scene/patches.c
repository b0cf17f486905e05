/*
 * patches: where a portrait is to be measured, and what is truly there, as tables (carn-tables(5)).
 */
#include "scene.h"

#include <math.h>
#include <stdio.h>

/* In head measure: wholly on skin (between hair and brows), evenly coloured, and large enough for
 * 100 pixels of a picture of 192 by 256. */
static const struct {
    const char *name, *tone;
    struct place at;
} skin_patches[] = {
    {"temple", "light", {-0.30, -0.41, 0.09, 0.08}},
    {"cheek", "light", {-0.42, 0.12, 0.11, 0.08}},
    {"forehead", "middle", {0.13, -0.41, 0.09, 0.08}},
    {"jaw", "middle", {-0.37, 0.44, 0.10, 0.07}},
    {"far-temple", "shade", {0.32, -0.39, 0.11, 0.06}},
    {"far-cheek", "shade", {0.42, 0.21, 0.08, 0.09}},
};
enum { SKIN_PATCHES = sizeof skin_patches / sizeof *skin_patches, PATCHES = SKIN_PATCHES + 2 };

static struct patch patch_at(const struct scene *s, const char *name, const char *tone,
                             struct place at)
{
    return (struct patch){.name = name,
                          .tone = tone,
                          .x = (at.x - at.w) * s->unit + 0.5 * (double)s->is.width,
                          .y = (at.y - at.h - 0.5) * s->unit + 0.5 * (double)s->is.height,
                          .w = 2 * at.w * s->unit,
                          .h = 2 * at.h * s->unit};
}

static size_t list_patches(const struct scene *s, struct patch to[PATCHES])
{
    const struct person *who = &s->person[0];
    size_t n = 0;
    for (; n < SKIN_PATCHES; n++) {
        struct place at = skin_patches[n].at;
        at = (struct place){who->x + at.x * who->size, who->y + at.y * who->size, at.w * who->size,
                            at.h * who->size};
        to[n] = patch_at(s, skin_patches[n].name, skin_patches[n].tone, at);
    }
    if (!s->is.brick)
        to[n++] = patch_at(s, "backdrop", "backdrop", (struct place){-0.29, 0.10, 0.045, 0.05});
    if (s->is.card) {
        struct place at = scene_card_place(s); /* of it the part between the thumbs */
        at = (struct place){at.x, at.y - 0.01, 0.65 * at.w, 0.6 * at.h};
        to[n++] = patch_at(s, "card", "card", at);
    }
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
            scene_portrait_pixel(s, x, y, rgb);
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

static void print_frame(const struct scene *s)
{
    carn_table_print(stdout, s->is.name != NULL ? s->is.name : "*");
}

void scene_print_patch_table(const struct scene *s, const struct patch *patches, size_t count)
{
    double w = (double)s->is.width / 100, h = (double)s->is.height / 100;
    printf("frame\tpatch\ttone\tx\ty\tw\th\n");
    for (const struct patch *p = patches; p < patches + count; p++) {
        print_frame(s);
        printf("\t%s\t%s\t%.4f%%\t%.4f%%\t%.4f%%\t%.4f%%\n", p->name, p->tone, p->x / w, p->y / h,
               p->w / w, p->h / h);
    }
}

void scene_print_patches(const struct scene *s)
{
    struct patch at[PATCHES];
    scene_print_patch_table(s, at, list_patches(s, at));
}

void scene_print_truth(struct scene *s)
{
    struct patch at[PATCHES];
    size_t n = list_patches(s, at);
    scene_load_codes(s);
    printf("frame\tpatch\ttone\tL\ta\tb\n");
    for (size_t i = 0; i < n; i++) {
        struct carn_lab lab = measure(s, &at[i]);
        print_frame(s);
        printf("\t%s\t%s\t%.4f\t%.4f\t%.4f\n", at[i].name, at[i].tone, lab.L, lab.a, lab.b);
    }
}
