/*
 * scene: portraits of a shoot with known truth, for the tests. Not installed.
 *
 * A touring choir is photographed for its programme book by two people with unlike cameras, each
 * group starting with a grey card. Skin, cloth and card are reflectance spectra under a flash (the
 * xenon arc column); a camera is three sensitivities, a matrix fitted on the published chart, a
 * white balance that is a little off (the cast), a twist of its own in CIELAB a* b*, a tone curve
 * and grain. The choir, the cameras and all numbers without a source are invented.
 *
 * The truth is what a camera with the eye's own sensitivities under D50 would deliver, no cast, no
 * twist, no grain. One rendering step is part of the truth: photographs show skin more chromatic
 * than it is, so a* and b* of skin are scaled to photographic chroma (colour science, 7 and 15) at
 * each lightness.
 *
 * Every pixel is a function of its place and the options alone, so rows are written as they are
 * made, nothing but a row is held, and the same options give the same bytes.
 *
 * Once a picture: options.c, spectra.c, optics.c, skin.c, compose.c. Once a pixel: compose.c calls
 * backdrop.c, person.c (hair.c, face.c, things.c), camera.c and encode.c, all on light.c, paint.c,
 * noise.c. picture.c writes frames, patches.c tables; chart.c is a picture of its own.
 */
#ifndef SCENE_H
#define SCENE_H

#include "base/error.h"
#include "base/table.h"
#include "base/tool.h"
#include "colour/lab.h"
#include "colour/profile.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { BANDS = 81, CHART = 24, SHADES = 1024, CODES = 8192 };
enum camera { NORTH, SOUTH, NONE };
enum hair { SHORT, LONG, CURLY, SHAVED };
enum material {
    CARD,
    SHIRT,
    DROP,
    WOOD,
    BRICK,
    MORTAR,
    SCARF,
    EYE,
    BROWN_IRIS,
    GREY_IRIS,
    DARK,
    BLACK_HAIR,
    BROWN_HAIR,
    FAIR_HAIR,
    GREY_HAIR,
    MATERIALS
};

/* column: the subject of the NIST spectra; L: the lightness of the middle tone in the picture;
 * chroma: a person's own factor on photographic chroma. */
struct singer {
    const char *name, *column;
    double L, chroma;
    enum hair hair;
    enum material hair_colour, iris;
};

enum { SINGERS = 12, PEOPLE = 3 };

struct options {
    const struct singer *singer, *with[PEOPLE - 1]; /* NULL where there is nobody */
    enum camera camera, twist;
    double strength, contrast, cast, grain;
    double card_size, card_tilt, card_across, card_up;
    bool card, door, brick, scarf, wide;
    size_t width, height, seed;
    const char *name; /* NULL unless told */
    const char *data; /* the folder of the spectra */
};

struct request {
    struct options is;
    char data[4096];
    bool list, patches, truth, chart, twist_told, profile_told;
};

struct spectra {
    double cmf[3][BANDS], d50[BANDS], flash[BANDS], chart[CHART][BANDS], skin[PEOPLE][BANDS];
};

/* What a camera makes of a reflectance: XYZ = matrix * (sense . reflectance). sense gives 1 1 1 for
 * white. Camera NONE is the eye under D50. */
struct optics {
    double sense[3][BANDS], matrix[9];
};

/* Skin by amount of light: XYZ; see scene_shade(). */
struct shades {
    double xyz[SHADES][3];
};

struct person {
    const struct singer *singer;
    double x, y, size; /* head centre and half height in units of the picture */
    double reference;  /* light at the middle patch, which is where L* is the singer's own */
    struct shades skin, lips;
};

struct scene {
    struct options is;
    enum camera detail; /* whose lens: also for the truth, which has no camera */
    struct person person[PEOPLE];
    size_t persons; /* 0: the chart */
    double material[MATERIALS][3];
    double from_rgb[9], to_rgb[9]; /* the frame's linear light and XYZ */
    double cast[9];                /* XYZ to XYZ */
    double chart[CHART][3];        /* encoded */
    char chart_name[CHART][32];
    double code[3][CODES]; /* encoded value by square root of the linear one */
    double unit;           /* pixels to 1, the picture's own measure */
    double pixel;          /* one pixel in that measure */
    uint64_t seed;
    struct carn_profile *profile;
    void *icc;
    size_t icc_size;
};

/* A pixel on its way: light as XYZ, and how far it is skin. */
struct paint {
    double xyz[3], skin;
};

struct light {
    double diffuse, shine;
};

/* A rectangle by its middle and its half width and height. */
struct place {
    double x, y, w, h;
};

struct patch {
    const char *name, *tone;
    double x, y, w, h; /* pixels: left, top, width, height */
};

/* options.c: -1 with a message when wrong, or without one after --help or --version. */
int scene_read_request(struct request *r, struct carn_tool *tool, int argc, char **argv);
extern const struct carn_option scene_options[];
extern const char *const scene_camera_names[];

/* noise.c */
uint64_t scene_mix(uint64_t seed); /* spreads a change over all bits */
uint64_t scene_hash(uint64_t seed, int64_t x, int64_t y);
double scene_chance(uint64_t seed, int64_t x, int64_t y); /* -1..1 */
double scene_normal(uint64_t seed, int64_t x, int64_t y); /* mean 0, standard deviation 1 */
double scene_cloud(uint64_t seed, double x, double y);    /* smooth, a bump a unit, -1..1 */

/* spectra.c: the caller closes the table of scene_open_data. */
struct carn_table *scene_open_data(const char *folder, const char *file, struct carn_error *err);
int scene_read_spectra(struct spectra *to, const struct options *is, struct carn_error *err);
double scene_wavelength(int band); /* nm */
void scene_material_spectrum(int material, double to[BANDS]);

/* optics.c */
void scene_make_optics(struct optics *o, const struct spectra *s, enum camera camera);
void scene_xyz_of(const struct optics *o, const double reflectance[BANDS], double xyz[3]);

/* skin.c: make_skin takes the singer's measured reflectance. Light 1 is that of the middle tone. */
extern const struct singer scene_choir[SINGERS];
void scene_make_skin(struct person *p, const struct optics *eye, const struct optics *camera,
                     const double measured[BANDS]);
void scene_shade(const struct shades *table, double light, double xyz[3]);

/* light.c, in head measure: 0 is the middle of the face, v -1 the crown and 1 the chin. */
struct light scene_lit(double x, double y, double z);
double scene_head_edge(double u, double v);
struct light scene_head_light(double u, double v);

/* paint.c: shapes give the distance from their edge, positive inside. */
void scene_lay(struct paint *p, const double xyz[3], double light, double alpha);
void scene_lay_skin(struct paint *p, const struct shades *table, struct light light, double alpha);
double scene_rectangle(double x, double y, double w, double h);
double scene_ellipse(double x, double y, double w, double h);

/* What is in the picture; x and y in units of the picture, u and v in head measure. soft is how
 * wide an edge is at least. */
void scene_paint_back(const struct scene *s, double x, double y, struct paint *p);
void scene_paint_person(const struct scene *s, const struct person *who, double x, double y,
                        struct paint *p);
void scene_paint_hair_back(const struct scene *s, const struct person *who, double u, double v,
                           double soft, struct paint *p);
void scene_paint_hair_front(const struct scene *s, const struct person *who, double u, double v,
                            double soft, struct paint *p);
void scene_paint_face(const struct scene *s, const struct person *who, double u, double v,
                      double soft, struct paint *p);
void scene_paint_shirt(const struct scene *s, double u, double v, double soft, struct paint *p);
void scene_paint_scarf(const struct scene *s, double u, double v, double soft, struct paint *p);
void scene_paint_card(const struct scene *s, double x, double y, struct paint *p);
struct place scene_card_place(const struct scene *s);

/* camera.c: develop gives what the camera makes of the paint at x, y. */
void scene_load_cast(struct scene *s);
struct carn_lab scene_develop(const struct scene *s, const struct paint *p, double x, double y);

/* encode.c: the encoded samples, 0..1. */
int scene_open_profile(struct scene *s, struct carn_error *err);
void scene_load_profile(struct scene *s);
void scene_load_codes(struct scene *s); /* before the first pixel */
void scene_encode(const struct scene *s, struct carn_lab lab, size_t column, size_t row,
                  double rgb[3]);

/* compose.c: scene_set_up works s->is out, and scene_clear frees what it or scene_open_profile
 * made. A maker gives the encoded samples, 0..1, of one pixel. */
typedef void scene_maker(const struct scene *s, size_t column, size_t row, double rgb[3]);
int scene_set_up(struct scene *s, struct carn_error *err);
void scene_clear(struct scene *s);
scene_maker scene_portrait_pixel;

/* chart.c: read takes the place of scene_set_up. */
int scene_read_chart(struct scene *s, struct carn_tool *tool);
scene_maker scene_chart_pixel;
void scene_print_chart_patches(const struct scene *s);

/* patches.c */
void scene_print_patches(const struct scene *s);
void scene_print_truth(struct scene *s);
void scene_print_patch_table(const struct scene *s, const struct patch *patches, size_t count);

/* picture.c: name is the frame's unless the options tell one. */
int scene_write_picture(struct scene *s, const char *name, scene_maker *make,
                        struct carn_error *err);

#endif
