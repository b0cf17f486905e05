/*
 * compose: a scene made ready from the options, and one pixel of it.
 */
#include "scene.h"

#include <stdlib.h>

/* Heads: half heights and places in units of the picture. The others stand behind; a third is
 * whole only in a picture that is wider than high. */
static void place_persons(struct scene *s)
{
    static const struct {
        double x, y, size;
    } behind[PEOPLE - 1] = {{0.21, 0.36, 0.205}, {-0.42, 0.37, 0.205}};
    s->person[0] = (struct person){.singer = s->is.singer, .x = 0, .y = 0.42, .size = 0.245};
    s->persons = 1;
    for (size_t i = 0; i < PEOPLE - 1 && s->is.with[i] != NULL; i++) {
        s->person[0].x = -0.10;
        s->person[s->persons++] = (struct person){
            .singer = s->is.with[i], .x = behind[i].x, .y = behind[i].y, .size = behind[i].size};
    }
    for (size_t i = 0; i < s->persons; i++)
        s->person[i].reference = scene_head_light(0.13, -0.36).diffuse;
    double by_width = (double)s->is.width / 0.75, by_height = (double)s->is.height;
    s->unit = by_width < by_height ? by_width : by_height;
    s->pixel = 1 / s->unit;
}

int scene_set_up(struct scene *s, struct carn_error *err)
{
    struct spectra *spectra = carn_alloc(1, sizeof *spectra, err);
    bool bad = spectra == NULL || scene_read_spectra(spectra, &s->is, err) != 0 ||
               scene_open_profile(s, err) != 0;
    if (!bad) {
        struct optics eye, camera;
        double reflectance[BANDS];
        scene_make_optics(&eye, spectra, NONE);
        scene_make_optics(&camera, spectra, s->is.camera);
        place_persons(s);
        for (size_t i = 0; i < s->persons; i++)
            scene_make_skin(&s->person[i], &eye, &camera, spectra->skin[i]);
        for (int i = 0; i < MATERIALS; i++) {
            scene_material_spectrum(i, reflectance);
            scene_xyz_of(&camera, reflectance, s->material[i]);
        }
        scene_load_profile(s);
        scene_load_cast(s);
        s->seed = scene_mix(s->is.seed ^ scene_hash(0, s->is.singer - scene_choir, 0));
    }
    free(spectra);
    return bad ? -1 : 0;
}

void scene_clear(struct scene *s)
{
    carn_profile_close(s->profile);
    free(s->icc);
    s->profile = NULL;
    s->icc = NULL;
}

/* The middle of the picture is x 0, y 0.5. */
void scene_portrait_pixel(const struct scene *s, size_t column, size_t row, double rgb[3])
{
    double x = ((double)column + 0.5 - 0.5 * (double)s->is.width) / s->unit;
    double y = ((double)row + 0.5 - 0.5 * (double)s->is.height) / s->unit + 0.5;
    struct paint p = {{0, 0, 0}, 0};
    scene_paint_back(s, x, y, &p);
    for (size_t i = s->persons; i-- > 0;)
        scene_paint_person(s, &s->person[i], x, y, &p);
    if (s->is.card)
        scene_paint_card(s, x, y, &p);
    scene_encode(s, scene_develop(s, &p, x, y), column, row, rgb);
}
