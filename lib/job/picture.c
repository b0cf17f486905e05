#include "job/picture.h"

#include "base/io.h"
#include "colour/frame_profile.h"
#include "frame/frame.h"
#include "frame/keys.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Chosen on 217 photographs in colour, 2.7 to 39, and their toned copies as 8 bit JPEG, 0.6 to 2.1
 * (fit and choose sets of docs/photographs.md). FLAT: root mean square of L*, not measured. */
static const double ONE_COLOUR = 2.3, FLAT = 4;

int carn_picture_drop_weight(struct carn_run *run, int from, const char *encode, const char *decode,
                             const char *original)
{
    int at = carn_run_add(run, from, NULL, encode);
    carn_run_words(run, "-b", "16");
    carn_run_words(run, "-t", "pam"); /* a PAM file holds no weight */
    carn_run_word(run, "-");
    at = carn_run_add(run, at, NULL, decode);
    carn_run_words(run, "--as", original);
    carn_run_word(run, "-");
    return at;
}

void carn_picture_stages(struct carn_run *run, int from, const char *in, const char *to_profile,
                         const char *encode, const char *out)
{
    int at = carn_run_add(run, from, from == CARN_NO_STAGE ? in : NULL, to_profile);
    carn_run_words(run, "-o", "srgb");
    run->stages[at].aside = true;
    at = carn_run_add(run, at, NULL, encode);
    run->stages[at].aside = true;
    carn_run_words(run, "-b", "8");
    carn_run_words(run, "-q", "88");
    carn_run_word(run, out);
}

/* Sums of the colours at one lightness, a bin of two L*. */
enum { BINS = 51 };
struct bin {
    double count, L, LL, a, aa, b, bb;
};

static void add_row(struct bin bins[BINS], const float *L, const float *a, const float *b,
                    size_t width)
{
    for (size_t x = 0; x < width; x++) {
        double l = L[x] < 0 ? 0 : L[x] > 100 ? 100 : (double)L[x];
        struct bin *bin = &bins[(size_t)(l / 2)];
        bin->count += 1;
        bin->L += l;
        bin->LL += l * l;
        bin->a += (double)a[x];
        bin->aa += (double)a[x] * (double)a[x];
        bin->b += (double)b[x];
        bin->bb += (double)b[x] * (double)b[x];
    }
}

static int judge(const struct bin bins[BINS])
{
    double count = 0, L = 0, LL = 0, left = 0;
    for (size_t i = 0; i < BINS; i++) {
        if (bins[i].count < 1)
            continue;
        count += bins[i].count;
        L += bins[i].L;
        LL += bins[i].LL;
        left += bins[i].aa - bins[i].a * bins[i].a / bins[i].count;
        left += bins[i].bb - bins[i].b * bins[i].b / bins[i].count;
    }
    if (count < 1 || LL / count - L * L / (count * count) < FLAT * FLAT)
        return 0;
    return sqrt(left / count) < ONE_COLOUR;
}

static int read_bins(struct carn_in *in, struct carn_frame *frame,
                     const struct carn_lab_lookup *lookup, struct bin bins[BINS],
                     struct carn_error *err)
{
    size_t width = frame->width;
    uint16_t *row = carn_alloc(width * carn_frame_channels(frame), sizeof *row, err);
    float *lab = carn_alloc(3 * width, sizeof *lab, err);
    int rc = row != NULL && lab != NULL ? 0 : -1;
    for (size_t y = 0; rc == 0 && y < frame->height; y++) {
        rc = carn_frame_read(in, frame, row, err);
        if (rc != 0)
            break;
        carn_lab_lookup_row(lookup, frame, row, lab, lab + width, lab + 2 * width);
        add_row(bins, lab, lab + width, lab + 2 * width, width);
    }
    free(row);
    free(lab);
    return rc;
}

int carn_picture_one_colour(const char *path, struct carn_error *err)
{
    struct bin bins[BINS] = {{0}};
    struct carn_frame frame = {0};
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return carn_fail(err, CARN_SYSTEM, "%s: cannot open: %s", path, strerror(errno));
    struct carn_in *in = carn_in_open(fd, path, err);
    struct carn_frame_profile profile = {0};
    int rc = in != NULL && carn_frame_next(in, &frame, 0, err) == 1 ? 0 : -1;
    if (rc == 0 && frame.colours == 3) {
        const struct carn_lab_lookup *lookup = carn_frame_lab_lookup(&profile, &frame, err);
        rc = lookup != NULL ? read_bins(in, &frame, lookup, bins, err) : -1;
    }
    int result = rc != 0 ? -1 : frame.colours == 1 ? 1 : judge(bins);
    carn_frame_profile_forget(&profile);
    carn_frame_clear(&frame);
    carn_in_close(in);
    (void)close(fd);
    return result;
}
