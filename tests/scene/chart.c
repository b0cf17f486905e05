/*
 * chart: the 24-patch chart as published, without a camera.
 */
#include "maths.h"
#include "scene.h"
#include "table.h"

#include <math.h>
#include <stdio.h>

/* Published CIELAB into the profile. The names and numbers of patches are the table's. */
static int read_chart(struct scene *s, struct carn_tool *tool, char names[CHART][32])
{
    struct carn_table *table = scene_open_data(s->is.data, "chart24.tsv", &tool->err);
    bool bad = table == NULL || scene_open_profile(s, &tool->err) != 0;
    int name = bad ? -1 : carn_table_need(table, "patch", &tool->err);
    int L = bad ? -1 : carn_table_need(table, "L_D50", &tool->err);
    int a = bad ? -1 : carn_table_need(table, "a_D50", &tool->err);
    int b = bad ? -1 : carn_table_need(table, "b_D50", &tool->err);
    bad = bad || name < 0 || L < 0 || a < 0 || b < 0;
    if (!bad && carn_table_rows(table) < CHART)
        bad = carn_fail(&tool->err, "chart24.tsv: fewer than %d patches", CHART) != 0;
    for (size_t i = 0; i < CHART && !bad; i++) {
        struct carn_lab lab;
        bad = carn_table_number(table, i, L, &lab.L, &tool->err) != 1 ||
              carn_table_number(table, i, a, &lab.a, &tool->err) != 1 ||
              carn_table_number(table, i, b, &lab.b, &tool->err) != 1 ||
              carn_profile_from_lab(s->profile, lab, s->chart[i], &tool->err) != 0;
        snprintf(names[i], sizeof names[i], "%zu-%.20s", i + 1, carn_table_cell(table, i, name));
        for (char *c = names[i]; *c != '\0' && !bad; c++)
            *c = *c == ' ' ? '-' : *c;
        double low = fmin(s->chart[i][0], fmin(s->chart[i][1], s->chart[i][2]));
        double high = fmax(s->chart[i][0], fmax(s->chart[i][1], s->chart[i][2]));
        if (!bad && (low < 0 || high > 1))
            carn_tool_note(tool, carn_table_cell(table, i, name), "%s is outside the profile",
                           names[i]);
    }
    carn_table_close(table);
    return bad ? -1 : 0;
}

/* Six by four fields, a dark tenth around each. */
void scene_chart_pixel(const struct scene *s, size_t x, size_t y, double rgb[3])
{
    double u = ((double)x + 0.5) * 6 / (double)s->is.width;
    double v = ((double)y + 0.5) * 4 / (double)s->is.height;
    size_t i = (size_t)v * 6 + (size_t)u;
    bool in = fabs(u - floor(u) - 0.5) < 0.4 && fabs(v - floor(v) - 0.5) < 0.4;
    for (int c = 0; c < 3; c++)
        rgb[c] = in ? s->chart[i][c] : 0.12;
}

static void print_chart_patches(const struct scene *s, char names[CHART][32])
{
    double w = (double)s->is.width / 6, h = (double)s->is.height / 4;
    printf("frame\tpatch\ttone\tx\ty\tw\th\n");
    for (size_t i = 0; i < CHART; i++) {
        size_t row = i / 6;
        struct patch at = {names[i], "-",    ((double)(i % 6) + 0.2) * w, ((double)row + 0.2) * h,
                           0.6 * w,  0.6 * h};
        print_patch(s, &at, s->is.name != NULL ? s->is.name : "*");
    }
}

