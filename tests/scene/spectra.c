/*
 * spectra: the tables of spectra, and the invented reflectance of cloth, hair and card.
 *
 * The tables (tests/data, where each says its source) start at 380 nm and go on by 5.
 */
#include "base/table.h"
#include "scene.h"

#include <math.h>
#include <stdio.h>

/* Invented reflectance: low at short wavelengths, high at long ones, half way at nm, and how many
 * nm the step takes; 1 is a perfect white. */
static const struct reflectance {
    double low, high, nm, width;
} materials[MATERIALS] = {
    [CARD] = {0.30, 0.30, 550, 50},       [SHIRT] = {0.70, 0.72, 450, 40},
    [DROP] = {0.040, 0.034, 560, 60},     [WOOD] = {0.07, 0.34, 575, 38},
    [BRICK] = {0.06, 0.26, 592, 26},      [MORTAR] = {0.22, 0.34, 520, 70},
    [SCARF] = {0.035, 0.52, 606, 11},     [EYE] = {0.42, 0.52, 520, 60},
    [BROWN_IRIS] = {0.02, 0.10, 590, 40}, [GREY_IRIS] = {0.16, 0.14, 560, 40},
    [DARK] = {0.012, 0.014, 560, 60},     [BLACK_HAIR] = {0.014, 0.024, 620, 60},
    [BROWN_HAIR] = {0.02, 0.11, 610, 55}, [FAIR_HAIR] = {0.08, 0.40, 560, 60},
    [GREY_HAIR] = {0.30, 0.33, 520, 70},
};

static int read_column(const struct carn_table *table, const char *name, double to[BANDS],
                       struct carn_error *err)
{
    int column = carn_table_need(table, name, err);
    if (column < 0)
        return -1;
    if (carn_table_rows(table) < BANDS)
        return carn_fail_at(err, CARN_INPUT, carn_table_label(table), "fewer than %d rows", BANDS);
    for (size_t i = 0; i < BANDS; i++)
        if (carn_table_number(table, i, column, &to[i], err) != 1)
            return carn_table_fail(table, i, column, err, "not a number");
    return 0;
}

struct carn_table *scene_open_data(const char *folder, const char *file, struct carn_error *err)
{
    char path[4096];
    int n = snprintf(path, sizeof path, "%s/%s", folder, file);
    if (n < 0 || (size_t)n >= sizeof path) {
        carn_fail_at(err, CARN_USAGE, file, "path too long");
        return NULL;
    }
    return carn_table_read(path, err);
}

static int read_light(struct spectra *to, const char *folder, struct carn_error *err)
{
    struct carn_table *cmf = scene_open_data(folder, "cmf_5nm.tsv", err);
    struct carn_table *light = scene_open_data(folder, "illuminants_5nm.tsv", err);
    bool bad = cmf == NULL || light == NULL || read_column(cmf, "x2", to->cmf[0], err) != 0 ||
               read_column(cmf, "y2", to->cmf[1], err) != 0 ||
               read_column(cmf, "z2", to->cmf[2], err) != 0 ||
               read_column(light, "D50", to->d50, err) != 0 ||
               read_column(light, "xenon_Kinoton75P", to->flash, err) != 0;
    carn_table_close(cmf);
    carn_table_close(light);
    return bad ? -1 : 0;
}

static int read_surfaces(struct spectra *to, const struct options *is, struct carn_error *err)
{
    struct carn_table *chart = scene_open_data(is->data, "chart24_reflectance_5nm.tsv", err);
    struct carn_table *skin = scene_open_data(is->data, "skin_nist100_5nm.tsv", err);
    bool bad = chart == NULL || skin == NULL;
    if (!bad && carn_table_columns(chart) != CHART + 1)
        bad = carn_fail_at(err, CARN_INPUT, carn_table_label(chart), "not %d patches", CHART) != 0;
    for (size_t i = 0; i < CHART && !bad; i++)
        bad = read_column(chart, carn_table_name(chart, i + 1), to->chart[i], err) != 0;
    bad = bad || read_column(skin, is->singer->column, to->skin[0], err) != 0;
    for (size_t i = 1; i < PEOPLE && !bad && is->with[i - 1] != NULL; i++)
        bad = read_column(skin, is->with[i - 1]->column, to->skin[i], err) != 0;
    carn_table_close(chart);
    carn_table_close(skin);
    return bad ? -1 : 0;
}

int scene_read_spectra(struct spectra *to, const struct options *is, struct carn_error *err)
{
    return read_light(to, is->data, err) != 0 ? -1 : read_surfaces(to, is, err);
}

double scene_wavelength(int band)
{
    return 380.0 + 5.0 * band;
}

void scene_material_spectrum(int material, double to[BANDS])
{
    const struct reflectance *m = &materials[material];
    for (int i = 0; i < BANDS; i++)
        to[i] = m->low + (m->high - m->low) / (1 + exp((m->nm - scene_wavelength(i)) / m->width));
}
