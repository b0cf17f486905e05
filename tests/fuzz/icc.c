/* ICC profiles, as a frame's and as a separation. lcms2 reads their tables. */
#include "fuzz.h"

#include "colour/convert.h"
#include "colour/lab_lookup.h"
#include "colour/profile.h"
#include "colour/separation.h"

#include <math.h>
#include <stdlib.h>

/* Encoded colours of skin, and the ends of the scale. */
static const double colours[5][3] = {
    {0, 0, 0}, {1, 1, 1}, {0.8, 0.62, 0.55}, {0.36, 0.22, 0.18}, {1, 0, 0}};

static void use(struct carn_profile *profile)
{
    struct carn_error err = {0};
    struct carn_lab lab[5];
    double m[3][3], rgb[3];
    carn_profile_to_lab(profile, &colours[0][0], lab, 5);
    for (int i = 0; i < 5; i++)
        fuzz_must(!isnan(lab[i].L) && !isnan(lab[i].a) && !isnan(lab[i].b), "a colour is a number");
    if (carn_profile_colours(profile) != 3)
        return;
    (void)carn_profile_from_lab(profile, (struct carn_lab){60, 20, 25}, rgb, &err);
    (void)carn_profile_primaries(profile, m);
    if (carn_profile_has_curves(profile))
        for (int c = 0; c < 3; c++) {
            double light = carn_profile_linear(profile, c, 0.4);
            (void)carn_profile_encoded(profile, c, light, -1);
            (void)carn_profile_like(profile, c);
        }
}

/* A row through tables and through lcms2, as a program would send it. */
static void convert(const struct carn_profile *profile, unsigned way)
{
    static struct carn_profile *srgb;
    struct carn_error err = {0};
    if (srgb == NULL)
        srgb = carn_profile_open(NULL, 0, 3, &err);
    struct carn_frame frame = fuzz_small_frame();
    frame.colours = carn_profile_colours(profile);
    uint16_t row[6] = {50000, 40000, 33000, 20000, 14000, 11000}, out[6];
    struct carn_convert *link =
        carn_convert_open(profile, srgb, (enum carn_intent)(way % 4), way % 2 == 0, &err);
    if (link != NULL)
        (void)carn_convert_row(link, &frame, row, out);
    carn_convert_close(link);
    if (frame.colours == 3 && way % 8 == 0) {
        float L[2], a[2], b[2];
        struct carn_lab_lookup *lookup = carn_lab_lookup_open(profile, &err);
        if (lookup != NULL)
            carn_lab_lookup_row(lookup, &frame, row, L, a, b);
        carn_lab_lookup_close(lookup);
    }
}

void fuzz_icc(const uint8_t *data, size_t size)
{
    struct carn_error err = {0};
    for (size_t channels = 1; channels <= 3; channels += 2) {
        struct carn_error why = {0};
        struct carn_profile *profile = carn_profile_open(data, size, channels, &why);
        fuzz_must((profile != NULL) == (why.kind == CARN_NONE), "a profile, or a message");
        if (profile != NULL) {
            use(profile);
            convert(profile, (unsigned)size);
        }
        carn_profile_close(profile);
    }
    free(carn_profile_label(data, size, &err));
    const char *path = fuzz_file(0, data, size);
    (void)carn_profile_is_icc(path);
    struct carn_separation *separation =
        carn_separation_open(path, size % 2 == 0, &(struct carn_error){0});
    if (separation != NULL) {
        struct carn_inks inks = carn_separation_inks(separation, (struct carn_lab){60, 20, 25});
        fuzz_must(inks.cyan >= 0 && inks.cyan <= 100.01 && inks.black >= 0 &&
                      inks.black <= 100.01 && inks.magenta >= 0 && inks.magenta <= 100.01 &&
                      inks.yellow >= 0 && inks.yellow <= 100.01,
                  "inks are 0 to 100 %");
    }
    carn_separation_close(separation);
}
