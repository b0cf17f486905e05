#include "colour/separation.h"

#include "base/io.h"
#include "base/md5.h"
#include "colour/lcms.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct carn_separation {
    cmsPipeline *to_inks;
    bool old_encoding; /* of CIELAB, that of lut16Type */
    double black; /* Y of the darkest neutral that prints; 0 without black-point compensation */
    char *id;
};

static char *separation_id(const char *path, const unsigned char *bytes, size_t size, bool bpc,
                           struct carn_error *err)
{
    char md5[9];
    char *id = carn_alloc(strlen(path) + 64, 1, err);
    if (id == NULL)
        return NULL;
    carn_md5_word(bytes, size, md5);
    const char *slash = strrchr(path, '/');
    strcpy(id, slash != NULL ? slash + 1 : path);
    char *dot = strrchr(id, '.');
    if (dot != NULL && dot != id)
        *dot = '\0';
    sprintf(id + strlen(id), "/relative/%s/%s", bpc ? "bpc" : "nobpc", md5);
    return id;
}

/*
 * The profile's own table from CIELAB to inks, relative colorimetric, else the default one. Read as
 * a tag and not through a transform, which would force trilinear interpolation on it: between the
 * nodes of a press profile that is up to 4 % of ink away from the tetrahedral one, which is what a
 * tag gets by default and what argyll, our independent engine, does too.
 */
static int take_table(struct carn_separation *separation, cmsHPROFILE handle, bool bpc,
                      const char *path, struct carn_error *err)
{
    cmsTagSignature tag = cmsIsTag(handle, cmsSigBToA1Tag) ? cmsSigBToA1Tag : cmsSigBToA0Tag;
    unsigned char type[4] = {0};
    if (cmsGetPCS(handle) != cmsSigLabData)
        return carn_fail_at(err, CARN_INPUT, path, "the profile does not connect through CIELAB");
    const cmsPipeline *table = cmsReadTag(handle, tag);
    if (table == NULL || cmsPipelineInputChannels(table) != 3 ||
        cmsPipelineOutputChannels(table) != 4)
        return carn_fail_at(err, CARN_INPUT, path, "the profile has no way from CIELAB to inks");
    cmsReadRawTag(handle, tag, type, sizeof type);
    separation->old_encoding = memcmp(type, "mft2", 4) == 0;
    cmsCIEXYZ black = {0, 0, 0};
    if (bpc && !cmsDetectDestinationBlackPoint(&black, handle, INTENT_RELATIVE_COLORIMETRIC, 0))
        return carn_fail_at(err, CARN_INPUT, path, "the profile's black point cannot be found");
    separation->black = black.Y;
    separation->to_inks = cmsPipelineDup(table);
    return separation->to_inks != NULL ? 0 : carn_fail_at(err, CARN_MEMORY, path, "out of memory");
}

struct carn_separation *carn_separation_open(const char *path, bool bpc, struct carn_error *err)
{
    size_t size = 0;
    unsigned char *bytes = carn_read_file(path, CARN_PROFILE_LIMIT, &size, err);
    if (bytes == NULL)
        return NULL;
    struct carn_separation *separation = carn_alloc(1, sizeof *separation, err);
    cmsHPROFILE handle =
        separation != NULL && size > 0 ? cmsOpenProfileFromMem(bytes, (cmsUInt32Number)size) : NULL;
    if (handle == NULL)
        carn_fail_at(err, CARN_INPUT, path, "not an ICC profile");
    else if (cmsGetColorSpace(handle) != cmsSigCmykData)
        carn_fail_at(err, CARN_INPUT, path, "not a CMYK profile, so no separation");
    else if (take_table(separation, handle, bpc, path, err) == 0)
        separation->id = separation_id(path, bytes, size, bpc, err);
    if (handle != NULL)
        cmsCloseProfile(handle);
    free(bytes);
    if (separation != NULL && separation->id == NULL) {
        carn_separation_close(separation);
        return NULL;
    }
    return separation;
}

void carn_separation_close(struct carn_separation *separation)
{
    if (separation == NULL)
        return;
    if (separation->to_inks != NULL)
        cmsPipelineFree(separation->to_inks);
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
