#include "colour/separation.h"

#include "base/io.h"
#include "base/md5.h"
#include "colour/lcms.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct carn_separation {
    cmsHPROFILE handle;
    const cmsPipeline *to_inks; /* of handle */
    bool old_encoding;          /* of CIELAB, that of lut16Type */
    double black; /* Y of the darkest neutral that prints; 0 without black-point compensation */
    char *id;
};

static char *separation_id(const char *path, const unsigned char sum[16], bool bpc,
                           struct carn_error *err)
{
    char *id = carn_alloc(strlen(path) + 64, 1, err);
    if (id == NULL)
        return NULL;
    const char *slash = strrchr(path, '/');
    strcpy(id, slash != NULL ? slash + 1 : path);
    char *dot = strrchr(id, '.');
    if (dot != NULL && dot != id)
        *dot = '\0';
    sprintf(id + strlen(id), "/relative/%s/%02x%02x%02x%02x", bpc ? "bpc" : "nobpc", sum[0], sum[1],
            sum[2], sum[3]);
    return id;
}

/*
 * The darkest neutral of the default separation (lib/data), as lcms2 finds it for any: by round
 * trips through all its tables, which would take half of a program's start. tests/inks.sh compares.
 */
static const unsigned char default_sum[16] = {0x51, 0x82, 0xef, 0x27, 0x4e, 0xb1, 0xd4, 0x84,
                                              0x59, 0xa3, 0xd4, 0x85, 0xf8, 0xcf, 0x9c, 0x66};
static const double default_black = 0x1.7984806fd52ccp-7; /* Y */

static int find_black(struct carn_separation *separation, const unsigned char sum[16],
                      const char *path, struct carn_error *err)
{
    cmsCIEXYZ black = {0, default_black, 0};
    if (memcmp(sum, default_sum, sizeof default_sum) != 0 &&
        !cmsDetectDestinationBlackPoint(&black, separation->handle, INTENT_RELATIVE_COLORIMETRIC,
                                        0))
        return carn_fail_at(err, CARN_INPUT, path, "the profile's black point cannot be found");
    separation->black = black.Y;
    return 0;
}

/*
 * The profile's own table from CIELAB to inks, relative colorimetric, else the default one. Read as
 * a tag and not through a transform, which would force trilinear interpolation on it: between the
 * nodes of a press profile that is up to 6 % of ink away from the tetrahedral one, which is what a
 * tag gets by default. ICC.1 leaves the way open: argyll 2.3.1 goes tetrahedrally, 3.3.0
 * trilinearly (tests/inks.sh).
 */
static int take_table(struct carn_separation *separation, const char *path, struct carn_error *err)
{
    cmsHPROFILE handle = separation->handle;
    cmsTagSignature tag = cmsIsTag(handle, cmsSigBToA1Tag) ? cmsSigBToA1Tag : cmsSigBToA0Tag;
    unsigned char type[4] = {0};
    if (cmsGetPCS(handle) != cmsSigLabData)
        return carn_fail_at(err, CARN_INPUT, path, "the profile does not connect through CIELAB");
    cmsReadRawTag(handle, tag, type, sizeof type); /* first: later it would be made anew */
    separation->to_inks = cmsReadTag(handle, tag);
    if (separation->to_inks == NULL || cmsPipelineInputChannels(separation->to_inks) != 3 ||
        cmsPipelineOutputChannels(separation->to_inks) != 4)
        return carn_fail_at(err, CARN_INPUT, path, "the profile has no way from CIELAB to inks");
    separation->old_encoding = memcmp(type, "mft2", 4) == 0;
    return 0;
}

/* The one that is kept, and by which path. */
static struct {
    struct carn_separation *separation;
    char *path;
    bool bpc;
} kept;

void carn_separation_keep(const char *path, bool bpc)
{
    struct carn_error ignored = {0};
    if (kept.separation != NULL)
        return;
    kept.bpc = bpc;
    kept.path = carn_copy(path, &ignored);
    kept.separation = kept.path != NULL ? carn_separation_open(path, bpc, &ignored) : NULL;
}

struct carn_separation *carn_separation_open(const char *path, bool bpc, struct carn_error *err)
{
    size_t size = 0;
    if (kept.separation != NULL && kept.bpc == bpc && strcmp(kept.path, path) == 0)
        return kept.separation;
    unsigned char *bytes = carn_read_file(path, CARN_PROFILE_LIMIT, &size, err);
    if (bytes == NULL)
        return NULL;
    carn_lcms_start();
    struct carn_separation *separation = carn_alloc(1, sizeof *separation, err);
    if (separation != NULL && size > 0)
        separation->handle = cmsOpenProfileFromMem(bytes, (cmsUInt32Number)size);
    if (separation != NULL && separation->handle == NULL)
        carn_fail_at(err, CARN_INPUT, path, "not an ICC profile");
    else if (separation != NULL && cmsGetColorSpace(separation->handle) != cmsSigCmykData)
        carn_fail_at(err, CARN_INPUT, path, "not a CMYK profile, so no separation");
    else if (separation != NULL && take_table(separation, path, err) == 0) {
        unsigned char sum[16];
        carn_md5(bytes, size, sum);
        if (!bpc || find_black(separation, sum, path, err) == 0)
            separation->id = separation_id(path, sum, bpc, err);
    }
    free(bytes);
    if (carn_lcms_check(err) == 0 && separation != NULL && separation->id != NULL)
        return separation;
    carn_separation_close(separation);
    return NULL;
}

void carn_separation_close(struct carn_separation *separation)
{
    if (separation == NULL || separation == kept.separation)
        return;
    if (separation->handle != NULL)
        cmsCloseProfile(separation->handle);
    free(separation->id);
    free(separation);
}

const char *carn_separation_id(const struct carn_separation *separation)
{
    return separation->id;
}

/* Black-point compensation: XYZ scaled so that zero falls on the darkest neutral that prints and
 * the white stays. */
static struct carn_lab compensate(struct carn_lab lab, double black)
{
    struct carn_xyz xyz = carn_lab_to_xyz(lab, carn_d50);
    xyz.X = black * carn_d50.X + (1 - black) * xyz.X;
    xyz.Y = black * carn_d50.Y + (1 - black) * xyz.Y;
    xyz.Z = black * carn_d50.Z + (1 - black) * xyz.Z;
    return carn_xyz_to_lab(xyz, carn_d50);
}

struct carn_inks carn_separation_inks(const struct carn_separation *separation, struct carn_lab lab)
{
    if (separation->black > 0)
        lab = compensate(lab, separation->black);
    /* ICC.1: lut16Type keeps CIELAB as L* 652.8, (a* + 128) 256 of 65535; all else as 8-bit does.
     */
    double L = separation->old_encoding ? 652.8 / 65535 : 1 / 100.0;
    double ab = separation->old_encoding ? 256.0 / 65535 : 1 / 255.0;
    cmsFloat32Number in[3] = {(cmsFloat32Number)(lab.L * L), (cmsFloat32Number)((lab.a + 128) * ab),
                              (cmsFloat32Number)((lab.b + 128) * ab)};
    cmsFloat32Number out[4];
    cmsPipelineEvalFloat(in, out, separation->to_inks);
    return (struct carn_inks){100.0 * (double)out[0], 100.0 * (double)out[1],
                              100.0 * (double)out[2], 100.0 * (double)out[3]};
}
