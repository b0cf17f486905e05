/*
 * toolkit: the pixel work of a job's frame by a general toolkit, libvips, in one process: what
 * `make bench` holds the job beside. Its figures are fixed; a job finds them for itself. The weight
 * is smoothed as lib/skin/weight.c does it, which is most of the work: mean and variance of the
 * likeness around each pixel, of the same sigma, and the likeness drawn to the mean by them.
 *
 * usage: toolkit FOLDER PICTURE...   (16-bit RGB TIFF; writes into FOLDER)
 */
#include <openssl/evp.h>
#include <stdio.h>
#include <stdlib.h>
#include <vips/vips.h>

/* Skin in CIELAB, and how fast its weight falls with distance. */
static const double SKIN[] = {65, 18, 22};
enum { FALL = 40, SMALL = 512, WHOLE = 65535 };

/* As in lib/skin/weight.c: sigma by the shorter side, and the variance that is taken for noise. */
static const double SHARE = 0.004, NOISE = 0.06;

static void check(int rc)
{
    if (rc != 0)
        vips_error_exit("toolkit");
}

/* A table of 65536 values a channel: v times the channel's gain. */
static VipsImage *table(const double gain[3])
{
    VipsImage *identity, *scaled, *codes;
    double none[3] = {0, 0, 0};
    check(vips_identity(&identity, "bands", 3, "ushort", TRUE, NULL));
    check(vips_linear(identity, &scaled, gain, none, 3, NULL));
    check(vips_cast(scaled, &codes, VIPS_FORMAT_USHORT, NULL));
    g_object_unref(identity);
    g_object_unref(scaled);
    return codes;
}

static void measure(const char *path, const char *thumbnail)
{
    VipsImage *small, *whole, *patch;
    double mean;
    check(vips_thumbnail(path, &small, SMALL, NULL));
    check(vips_jpegsave(small, thumbnail, NULL));
    whole = vips_image_new_from_file(path, NULL);
    if (whole == NULL)
        vips_error_exit("toolkit");
    check(vips_crop(whole, &patch, whole->Xsize / 3, whole->Ysize / 3, 300, 300, NULL));
    check(vips_avg(patch, &mean, NULL));
    g_object_unref(small);
    g_object_unref(patch);
    g_object_unref(whole);
}

/* v * by + add in 16 bits. */
static VipsImage *sixteen(VipsImage *v, double by, double add)
{
    VipsImage *scaled, *codes;
    check(vips_linear1(v, &scaled, by, add, NULL));
    check(vips_cast(scaled, &codes, VIPS_FORMAT_USHORT, NULL));
    g_object_unref(scaled);
    return codes;
}

/* The likeness (16 bits) where it varies, its mean where it does not: 0..WHOLE. */
static VipsImage *smoothed(VipsImage *like, double sigma)
{
    VipsImage *t[12];
    check(vips_gaussblur(like, &t[0], sigma, NULL));
    check(vips_multiply(like, like, &t[1], NULL));
    t[2] = sixteen(t[1], 1.0 / WHOLE, 0);
    check(vips_gaussblur(t[2], &t[3], sigma, NULL));
    check(vips_multiply(t[0], t[0], &t[4], NULL));
    check(vips_linear1(t[4], &t[5], 1.0 / WHOLE, 0, NULL));
    check(vips_subtract(t[3], t[5], &t[6], NULL)); /* the variance, times WHOLE */
    check(vips_linear1(t[6], &t[7], 1, NOISE * WHOLE, NULL));
    check(vips_divide(t[6], t[7], &t[8], NULL));
    check(vips_subtract(like, t[0], &t[9], NULL));
    check(vips_multiply(t[8], t[9], &t[10], NULL));
    check(vips_add(t[0], t[10], &t[11], NULL));
    for (size_t i = 0; i < 11; i++)
        g_object_unref(t[i]);
    return t[11];
}

static void deliver(const char *path, const char *out)
{
    double neutral_gain[] = {1.02, 1, 0.97}, skin_gain[] = {1, 0.98, 0.97};
    double one[] = {1, 1, 1}, away[] = {-SKIN[0], -SKIN[1], -SKIN[2]};
    VipsImage *t[15], *neutral_table = table(neutral_gain), *skin_table = table(skin_gain);
    t[0] = vips_image_new_from_file(path, "access", VIPS_ACCESS_SEQUENTIAL, NULL);
    if (t[0] == NULL)
        vips_error_exit("toolkit");
    check(vips_maplut(t[0], &t[1], neutral_table, NULL));
    check(vips_colourspace(t[1], &t[2], VIPS_INTERPRETATION_LAB, NULL));
    check(vips_linear(t[2], &t[3], one, away, 3, NULL));
    check(vips_multiply(t[3], t[3], &t[4], NULL));
    check(vips_bandmean(t[4], &t[5], NULL));
    t[6] = sixteen(t[5], -(double)WHOLE / (FALL * FALL), WHOLE);
    t[7] = smoothed(t[6], SHARE * MIN(t[0]->Xsize, t[0]->Ysize));
    /* Toward the table's colour by the weight. */
    check(vips_maplut(t[1], &t[8], skin_table, NULL));
    check(vips_subtract(t[8], t[1], &t[9], NULL));
    check(vips_multiply(t[9], t[7], &t[10], NULL));
    check(vips_linear1(t[10], &t[11], 1.0 / WHOLE, 0, NULL));
    check(vips_add(t[1], t[11], &t[12], NULL));
    check(vips_cast(t[12], &t[13], VIPS_FORMAT_USHORT, NULL));
    check(vips_copy(t[13], &t[14], "interpretation", VIPS_INTERPRETATION_RGB16, NULL));
    check(vips_tiffsave(t[14], out, NULL));
    for (size_t i = 0; i < sizeof t / sizeof *t; i++)
        g_object_unref(t[i]);
    g_object_unref(neutral_table);
    g_object_unref(skin_table);
}

static void sum(const char *path)
{
    static unsigned char block[256 * 1024], digest[EVP_MAX_MD_SIZE];
    FILE *file = fopen(path, "rb");
    EVP_MD_CTX *context = EVP_MD_CTX_new();
    if (file == NULL || context == NULL || EVP_DigestInit_ex(context, EVP_sha256(), NULL) != 1)
        exit(2);
    for (size_t got; (got = fread(block, 1, sizeof block, file)) > 0;)
        EVP_DigestUpdate(context, block, got);
    EVP_DigestFinal_ex(context, digest, NULL);
    EVP_MD_CTX_free(context);
    fclose(file);
}

int main(int argc, char **argv)
{
    if (VIPS_INIT(argv[0]) != 0 || argc < 3)
        return 2;
    for (int i = 2; i < argc; i++) {
        char out[4096], before[4096], after[4096];
        snprintf(out, sizeof out, "%s/%d.tif", argv[1], i);
        snprintf(before, sizeof before, "%s/%d.before.jpg", argv[1], i);
        snprintf(after, sizeof after, "%s/%d.after.jpg", argv[1], i);
        measure(argv[i], before);
        deliver(argv[i], out);
        measure(out, after);
        sum(argv[i]);
        sum(out);
    }
    vips_shutdown();
    return 0;
}
