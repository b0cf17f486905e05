/*
 * compose: a scene made ready from the options, and one pixel of it.
 */
#include "maths.h"
#include "scene.h"

#include <stdlib.h>

/* Heads: half heights and places in units of the picture; a second person stands behind. */
static void place_persons(struct scene *s)
{
    s->persons = s->is.second != NULL ? 2 : 1;
    s->person[0].singer = s->is.singer;
    s->person[0].x = s->persons == 2 ? -0.10 : 0;
    s->person[0].y = 0.42;
    s->person[0].size = 0.245;
    s->person[1].singer = s->is.second;
    s->person[1].x = 0.21;
    s->person[1].y = 0.36;
    s->person[1].size = 0.205;
    for (int i = 0; i < 2; i++)
        s->person[i].reference = scene_head_light(0.13, -0.36).diffuse;
    double by_width = (double)s->is.width / 0.75, by_height = (double)s->is.height;
    s->unit = by_width < by_height ? by_width : by_height;
    s->pixel = 1 / s->unit;
}

static int set_up(struct scene *s, struct carn_error *err)
{
    struct spectra *spectra = carn_alloc(1, sizeof *spectra, err);
    int bad = spectra == NULL || read_light(spectra, s->is.data, err) != 0 ||
              read_things(spectra, &s->is, err) != 0 || scene_open_profile(s, err) != 0;
    if (!bad) {
        struct optics eye, camera;
        double reflectance[BANDS];
        scene_make_optics(&eye, spectra, NONE);
        scene_make_optics(&camera, spectra, s->is.camera);
        place_persons(s);
        for (size_t i = 0; i < s->persons; i++)
            scene_make_skin(&s->person[i], &eye, &camera, spectra->skin[i]);
        for (int i = 0; i < MATERIALS; i++) {
            scene_cloth_spectrum(i, reflectance);
            scene_xyz_of(&camera, reflectance, s->material[i]);
        }
        read_profile(s);
        s->seed = scene_mix(s->is.seed ^ scene_hash(0, s->is.singer - choir, 0));
    }
    free(spectra);
    return bad ? -1 : 0;
}

