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
    NODES = 33    /* of the grid, a channel */
};

struct carn_lab_lookup {
    bool matrix;
    float part[3][CODES][3]; /* what a sample adds to X, Y and Z, white at ROOTS */
    float root[ROOTS + 2];   /* CIELAB's f at n / ROOTS */
    struct carn_lab *grid;   /* node ((r * NODES) + g) * NODES + b; NULL for a matrix */
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
    for (int i = 0; i < ROOTS + 2; i++) {
        struct carn_xyz grey = {0, i / (double)ROOTS, 0};
        quick->root[i] = (float)((carn_xyz_to_lab(grey, carn_d50).L + 16) / 116);
    }
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

/* f of v / ROOTS, straight between entries. */
static inline float root_of(const struct carn_lab_lookup *quick, float v)
{
    v = v < 0 ? 0 : v;
    v = v > ROOTS ? ROOTS : v;
    int i = (int)v;
    return quick->root[i] + (v - (float)i) * (quick->root[i + 1] - quick->root[i]);
}

static inline void by_matrix(const struct carn_lab_lookup *quick, const uint16_t rgb[3],
                             float lab[3])
{
    const float *r = quick->part[0][rgb[0] >> 4], *g = quick->part[1][rgb[1] >> 4],
                *b = quick->part[2][rgb[2] >> 4];
    float x = root_of(quick, r[0] + g[0] + b[0]), y = root_of(quick, r[1] + g[1] + b[1]),
          z = root_of(quick, r[2] + g[2] + b[2]);
    lab[0] = 116 * y - 16;
    lab[1] = 500 * (x - y);
    lab[2] = 200 * (y - z);
}

/* Tetrahedral: from the lower corner of the cell to the upper one, along the channel that is
 * farthest into it first. */
static void by_grid(const struct carn_lab_lookup *quick, const uint16_t rgb[3], float lab[3])
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
    lab[0] = (float)sum.L;
    lab[1] = (float)sum.a;
    lab[2] = (float)sum.b;
}

void carn_lab_lookup_row(const struct carn_lab_lookup *quick, const struct carn_frame *frame,
                         const uint16_t *row, float *L, float *a, float *b)
{
    bool multiplied = carn_frame_associated(frame);
    size_t channels = carn_frame_channels(frame);
    for (size_t x = 0; x < frame->width; x++, row += channels) {
        uint16_t colour[3] = {row[0], row[1], row[2]};
        float lab[3];
        for (int c = 0; multiplied && c < 3; c++)
            colour[c] = carn_alpha_divide(row[c], row[3]);
        if (quick->matrix)
            by_matrix(quick, colour, lab);
        else
            by_grid(quick, colour, lab);
        L[x] = lab[0];
        a[x] = lab[1];
        b[x] = lab[2];
    }
}
