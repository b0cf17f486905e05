/*
 * chart: the 24-patch chart as published, without a camera.
 */
#include "scene.h"

#include <math.h>
#include <stdio.h>

/* A name for tables: the patch's number and the table's name for it, without spaces. */
static void name_patch(char to[32], size_t number, const char *name)
{
    snprintf(to, 32, "%zu-%.20s", number, name);
    for (char *c = to; *c != '\0'; c++)
        if (*c == ' ')
            *c = '-';
}

/* Published CIELAB into the profile. */
static int read_patches(struct scene *s, const struct carn_table *table, struct carn_tool *tool)
{
    struct carn_error *err = &tool->err;
    int name = carn_table_need(table, "patch", err), L = carn_table_need(table, "L_D50", err);
    int a = carn_table_need(table, "a_D50", err), b = carn_table_need(table, "b_D50", err);
    if (name < 0 || L < 0 || a < 0 || b < 0)
        return -1;
    if (carn_table_rows(table) < CHART)
        return carn_fail(err, CARN_INPUT, "chart24.tsv: fewer than %d patches", CHART);
    for (size_t i = 0; i < CHART; i++) {
        struct carn_lab lab;
        double *rgb = s->chart[i];
        if (carn_table_number(table, i, L, &lab.L, err) != 1 ||
            carn_table_number(table, i, a, &lab.a, err) != 1 ||
            carn_table_number(table, i, b, &lab.b, err) != 1 ||
            carn_profile_from_lab(s->profile, lab, rgb, err) != 0)
            return -1;
        name_patch(s->chart_name[i], i + 1, carn_table_cell(table, i, name));
        if (fmin(rgb[0], fmin(rgb[1], rgb[2])) < 0 || fmax(rgb[0], fmax(rgb[1], rgb[2])) > 1)
            carn_tool_note(tool, s->chart_name[i], "%s is outside the profile", s->chart_name[i]);
    }
    return 0;
}

int scene_read_chart(struct scene *s, struct carn_tool *tool)
{
    struct carn_table *table = scene_open_data(s->is.data, "chart24.tsv", &tool->err);
    bool bad = table == NULL || scene_open_profile(s, &tool->err) != 0 ||
               read_patches(s, table, tool) != 0;
    carn_table_close(table);
    return bad ? -1 : 0;
}

/* Six by four fields, a dark tenth around each. */
void scene_chart_pixel(const struct scene *s, size_t column, size_t row, double rgb[3])
{
    double u = ((double)column + 0.5) * 6 / (double)s->is.width;
    double v = ((double)row + 0.5) * 4 / (double)s->is.height;
    size_t i = (size_t)v * 6 + (size_t)u;
    bool in = fabs(u - floor(u) - 0.5) < 0.4 && fabs(v - floor(v) - 0.5) < 0.4;
    for (int c = 0; c < 3; c++)
        rgb[c] = in ? s->chart[i][c] : 0.12;
}

void scene_print_chart_patches(const struct scene *s)
{
    double w = (double)s->is.width / 6, h = (double)s->is.height / 4;
    struct patch at[CHART];
    for (size_t i = 0; i < CHART; i++) {
        size_t row = i / 6;
        at[i] = (struct patch){.name = s->chart_name[i],
                               .tone = "-",
                               .x = ((double)(i % 6) + 0.2) * w,
                               .y = ((double)row + 0.2) * h,
                               .w = 0.6 * w,
                               .h = 0.6 * h};
    }
    scene_print_patch_table(s, at, CHART);
}
