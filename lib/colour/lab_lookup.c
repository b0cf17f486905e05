#include "colour/lab_lookup.h"

#include "colour/lab.h"
#include "frame/alpha.h"
#include "frame/keys.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum {
    CODES = 4096, /* entries of a table, by the upper 12 bits of a sample */
    ROOTS = 4096, /* pieces of the root table */
    NODES = 33,   /* of the grid, a channel */
    CHUNK = 64    /* pixels at a time */
};

/* CIELAB's f at n / ROOTS, and by how much the next is more. */
struct root {
    float at, rise;
};

struct carn_lab_lookup {
    /* What a sample adds to X, Y and Z, white at ROOTS, and 0; first, so that all lie on 16 bytes.
     */
    float part[3][CODES][4];
    struct root root[ROOTS + 1];
    bool matrix;
    struct carn_lab *grid; /* node ((r * NODES) + g) * NODES + b; NULL for a matrix */
};

/* The columns of the matrix are where the primaries are. */
static void fill_tables(struct carn_lab_lookup *quick, const struct carn_profile *profile)
{
    static const double primaries[9] = {1, 0, 0, 0, 1, 0, 0, 0, 1};
    struct carn_lab lab[3];
    carn_profile_to_lab(profile, primaries, lab, 3);
    for (int c = 0; c < 3; c++) {
        struct carn_xyz xyz = carn_lab_to_xyz(lab[c], carn_d50);
        for (int i = 0; i < CODES; i++) {
            double v = carn_profile_linear(profile, c, (i * 16 + 7.5) / 65535) * ROOTS;
            quick->part[c][i][0] = (float)(v * xyz.X / carn_d50.X);
            quick->part[c][i][1] = (float)(v * xyz.Y / carn_d50.Y);
            quick->part[c][i][2] = (float)(v * xyz.Z / carn_d50.Z);
        }
    }
    float at[ROOTS + 2];
    for (int i = 0; i < ROOTS + 2; i++) {
        struct carn_xyz grey = {0, i / (double)ROOTS, 0};
        at[i] = (float)((carn_xyz_to_lab(grey, carn_d50).L + 16) / 116);
    }
    for (int i = 0; i < ROOTS + 1; i++)
        quick->root[i] = (struct root){at[i], at[i + 1] - at[i]};
}

static int fill_grid(struct carn_lab_lookup *quick, const struct carn_profile *profile,
                     struct carn_error *err)
{
    const size_t count = (size_t)NODES * NODES * NODES;
    double *rgb = carn_alloc(count, 3 * sizeof *rgb, err);
    quick->grid = carn_alloc(count, sizeof *quick->grid, err);
    if (rgb != NULL && quick->grid != NULL) {
        for (size_t i = 0; i < count; i++) {
            size_t r = i / NODES / NODES, g = i / NODES % NODES, b = i % NODES;
            rgb[3 * i] = (double)r / (NODES - 1);
            rgb[3 * i + 1] = (double)g / (NODES - 1);
            rgb[3 * i + 2] = (double)b / (NODES - 1);
        }
        carn_profile_to_lab(profile, rgb, quick->grid, count);
    }
    free(rgb);
    return rgb != NULL && quick->grid != NULL ? 0 : -1;
}

struct carn_lab_lookup *carn_lab_lookup_open(const struct carn_profile *profile,
                                             struct carn_error *err)
{
    struct carn_lab_lookup *quick = carn_alloc(1, sizeof *quick, err);
    if (quick == NULL)
        return NULL;
    quick->matrix = carn_profile_has_curves(profile);
    if (quick->matrix) {
        fill_tables(quick, profile);
    } else if (fill_grid(quick, profile, err) != 0) {
        carn_lab_lookup_close(quick);
        return NULL;
    }
    return quick;
}

void carn_lab_lookup_close(struct carn_lab_lookup *quick)
{
    if (quick == NULL)
        return;
    free(quick->grid);
    free(quick);
}

/* f of (i + share) / ROOTS, straight between entries. */
static inline float root_of(const struct carn_lab_lookup *quick, int32_t i, float share)
{
    return quick->root[i].at + share * quick->root[i].rise;
}

/* In three loops: of the first two a compiler makes vectors. */
static void by_matrix(const struct carn_lab_lookup *quick, const uint16_t *rgb, size_t step,
                      size_t count, float *L, float *a, float *b)
{
    float xyz[CHUNK][4], *all = xyz[0];
    int32_t at[CHUNK][4], *all_at = at[0];
    for (size_t x = 0; x < count; x++, rgb += step) {
        const float *red = quick->part[0][rgb[0] >> 4], *green = quick->part[1][rgb[1] >> 4],
                    *blue = quick->part[2][rgb[2] >> 4];
        for (int i = 0; i < 4; i++)
            xyz[x][i] = red[i] + green[i] + blue[i];
    }
    for (size_t i = 0; i < 4 * count; i++) {
        float v = all[i] > 0 ? all[i] : 0;
        v = v < ROOTS ? v : ROOTS;
        all_at[i] = (int32_t)v;
        all[i] = v - (float)all_at[i];
    }
    for (size_t x = 0; x < count; x++) {
        float fx = root_of(quick, at[x][0], xyz[x][0]), fy = root_of(quick, at[x][1], xyz[x][1]),
              fz = root_of(quick, at[x][2], xyz[x][2]);
        L[x] = 116 * fy - 16;
        a[x] = 500 * (fx - fy);
        b[x] = 200 * (fy - fz);
    }
}

/* Tetrahedral: from the lower corner of the cell to the upper one, along the channel that is
 * farthest into it first. */
static void by_grid(const struct carn_lab_lookup *quick, const uint16_t *rgb, float *L, float *a,
                    float *b)
{
    static const size_t step[3] = {(size_t)NODES * NODES, NODES, 1};
    double share[3];
    size_t at = 0, order[3] = {0, 1, 2};
    for (size_t c = 0; c < 3; c++) {
        double v = rgb[c] / 65535.0 * (NODES - 1);
        size_t node = v < NODES - 2 ? (size_t)v : NODES - 2;
        share[c] = v - (double)node;
        at += node * step[c];
    }
    for (size_t i = 0; i < 2; i++)
        for (size_t j = 0; j < 2 - i; j++)
            if (share[order[j]] < share[order[j + 1]]) {
                size_t swapped = order[j];
                order[j] = order[j + 1];
                order[j + 1] = swapped;
            }
    struct carn_lab from = quick->grid[at], sum = from;
    for (size_t i = 0; i < 3; i++) {
        at += step[order[i]];
        struct carn_lab to = quick->grid[at];
        sum.L += share[order[i]] * (to.L - from.L);
        sum.a += share[order[i]] * (to.a - from.a);
        sum.b += share[order[i]] * (to.b - from.b);
        from = to;
    }
    *L = (float)sum.L;
    *a = (float)sum.a;
    *b = (float)sum.b;
}

void carn_lab_lookup_row(const struct carn_lab_lookup *quick, const struct carn_frame *frame,
                         const uint16_t *row, float *L, float *a, float *b)
{
    bool multiplied = carn_frame_associated(frame);
    size_t channels = carn_frame_channels(frame), step = multiplied ? 3 : channels;
    uint16_t divided[CHUNK * 3] = {0};
    for (size_t x = 0; x < frame->width; x += CHUNK, row += CHUNK * channels) {
        size_t count = frame->width - x < CHUNK ? frame->width - x : CHUNK;
        for (size_t i = 0; multiplied && i < 3 * count; i++)
            divided[i] =
                carn_alpha_divide(row[i / 3 * channels + i % 3], row[i / 3 * channels + 3]);
        const uint16_t *rgb = multiplied ? divided : row;
        if (quick->matrix)
            by_matrix(quick, rgb, step, count, L + x, a + x, b + x);
        for (size_t i = x; !quick->matrix && i < x + count; i++, rgb += step)
            by_grid(quick, rgb, L + i, a + i, b + i);
    }
}
