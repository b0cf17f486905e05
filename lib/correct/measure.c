#include "correct/measure.h"

#include "base/tone.h"
#include "frame/keys.h"
#include <math.h>
#include <stdlib.h>

static const double CLIPPED_LIMIT = 0.5, TONE_CLIPPED_LIMIT = 5; /* per cent of samples */
static const double HUE_LIMIT = 15.0;                            /* degrees over the quarters */
static const double CHROMA_LIMIT = 0.40;   /* of the mean, over the quarters */
static const double SMALL_LIMIT = 100.0;   /* full-size pixels */
static const double DARK_LIMIT = 15.0;     /* L* */
static const double UNEVEN_LIMIT = 0.03;   /* of luminance, over the quarters of a card */
static const double COLOURED_LIMIT = 20.0; /* chroma of a card */

enum { CHUNK = 4096 };

struct carn_measure {
    struct carn_box box;
    size_t colours, channels;
    bool alpha, smoothed;
    size_t count;            /* opaque pixels so far */
    size_t clipped;          /* samples at an end of the scale */
    double quarters[4][3];   /* sums of encoded samples */
    size_t quarter_count[4]; /* pixels */
    uint16_t *samples;       /* count * colours */
};

struct carn_measure *carn_measure_open(const struct carn_box *box, const struct carn_frame *frame,
                                       struct carn_error *err)
{
    struct carn_measure *m = carn_alloc(1, sizeof *m, err);
    if (m == NULL)
        return NULL;
    m->box = *box;
    m->colours = frame->colours;
    m->channels = carn_frame_channels(frame);
    m->alpha = frame->alpha;
    m->smoothed = carn_frame_get(frame, "smoothed") != NULL;
    m->samples = carn_alloc((box->x1 - box->x0) * (box->y1 - box->y0), m->colours * 2, err);
    if (m->samples == NULL) {
        free(m);
        return NULL;
    }
    return m;
}

void carn_measure_close(struct carn_measure *measure)
{
    if (measure != NULL)
        free(measure->samples);
    free(measure);
}

void carn_measure_row(struct carn_measure *m, size_t y, const uint16_t *row)
{
    const struct carn_box *box = &m->box;
    if (y < box->y0 || y >= box->y1)
        return;
    size_t lower = y >= box->y0 + (box->y1 - box->y0) / 2 ? 2 : 0;
    size_t middle = box->x0 + (box->x1 - box->x0) / 2;
    uint16_t *to = m->samples + m->count * m->colours;
    for (size_t x = box->x0; x < box->x1; x++) {
        const uint16_t *pixel = row + x * m->channels;
        if (m->alpha && pixel[m->colours] != 65535)
            continue;
        size_t quarter = lower + (x >= middle);
        for (size_t c = 0; c < m->colours; c++) {
            to[c] = pixel[c];
            m->quarters[quarter][c] += pixel[c];
            m->clipped += pixel[c] == 0 || pixel[c] == 65535;
        }
        m->quarter_count[quarter]++;
        m->count++;
        to += m->colours;
    }
}

/* ---- spread and flags ---- */

static int find_spread(const struct carn_measure *m, const struct carn_profile *profile,
                       struct carn_lab mean, double *spread, struct carn_error *err)
{
    double *encoded = carn_alloc(CHUNK, 3 * sizeof *encoded, err);
    struct carn_lab *lab = carn_alloc(CHUNK, sizeof *lab, err);
    double sum = 0;
    for (size_t done = 0; encoded != NULL && lab != NULL && done < m->count;) {
        size_t part = m->count - done < CHUNK ? m->count - done : CHUNK;
        for (size_t i = 0; i < part * m->colours; i++)
            encoded[i] = m->samples[done * m->colours + i] / 65535.0;
        carn_profile_to_lab(profile, encoded, lab, part);
        for (size_t i = 0; i < part; i++) {
            double d = carn_cie76(lab[i], mean);
            sum += d * d;
        }
        done += part;
    }
    free(encoded);
    free(lab);
    *spread = sqrt(sum / (double)m->count);
    return err->kind != CARN_NONE ? -1 : 0;
}

/* The quarters' own colours; how many of them have pixels. */
static size_t quarter_colours(const struct carn_measure *m, const struct carn_profile *profile,
                              struct carn_lab lab[4])
{
    size_t n = 0;
    for (size_t q = 0; q < 4; q++) {
        if (m->quarter_count[q] == 0)
            continue;
        double mean[3];
        for (size_t c = 0; c < 3; c++)
            mean[c] = m->quarters[q][c] / (double)m->quarter_count[q] / 65535;
        carn_profile_to_lab(profile, mean, &lab[n++], 1);
    }
    return n;
}

static bool is_mixed(const struct carn_lab *quarters, size_t n)
{
    double widest = 0, low = INFINITY, high = 0, sum = 0;
    for (size_t i = 0; i < n; i++) {
        double chroma = carn_chroma(quarters[i]);
        for (size_t j = 0; j < i; j++)
            widest = fmax(widest,
                          fabs(carn_hue_difference(carn_hue(quarters[i]), carn_hue(quarters[j]))));
        low = fmin(low, chroma);
        high = fmax(high, chroma);
        sum += chroma;
    }
    return n > 1 && (widest > HUE_LIMIT || high - low > CHROMA_LIMIT * sum / (double)n);
}

static bool is_uneven(const struct carn_lab *quarters, size_t n)
{
    double low = INFINITY, high = 0;
    for (size_t i = 0; i < n; i++) {
        double Y = carn_lab_to_xyz(quarters[i], carn_d50).Y;
        low = fmin(low, Y);
        high = fmax(high, Y);
    }
    return n > 1 && high - low > UNEVEN_LIMIT * (high + low) / 2;
}

unsigned carn_measure_doubts(const struct carn_reading *r, double pixels, bool tone)
{
    return (r->clipped > (tone ? TONE_CLIPPED_LIMIT : CLIPPED_LIMIT) ? CARN_CLIPPED : 0U) |
           (pixels < SMALL_LIMIT ? CARN_SMALL : 0U) | (r->lab.L < DARK_LIMIT ? CARN_DARK : 0U);
}

static unsigned find_flags(const struct carn_measure *m, const struct carn_profile *profile,
                           const struct carn_reading *r)
{
    struct carn_lab quarters[4];
    size_t n = quarter_colours(m, profile, quarters);
    bool card = carn_tone_of(m->box.tone) == CARN_TONE_CARD;
    unsigned flags = carn_measure_doubts(r, (double)m->count * m->box.scale, false);
    /* The hue of what should be neutral means nothing. */
    if (carn_reading_is_skin(r) && is_mixed(quarters, n))
        flags |= CARN_MIXED;
    if (card && is_uneven(quarters, n))
        flags |= CARN_UNEVEN;
    if (card && carn_chroma(r->lab) > COLOURED_LIMIT)
        flags |= CARN_COLOURED;
    return flags;
}

void carn_measure_colour(const struct carn_profile *profile, size_t colours,
                         const struct carn_separation *separation, struct carn_reading *r)
{
    carn_profile_to_lab(profile, r->rgb, &r->lab, 1);
    if (colours == 1)
        r->rgb[1] = r->rgb[2] = r->rgb[0];
    r->xyz = carn_lab_to_xyz(r->lab, carn_d50);
    r->inks = (struct carn_inks){(double)NAN, (double)NAN, (double)NAN, (double)NAN};
    r->separation = "-";
    if (separation != NULL) {
        r->inks = carn_separation_inks(separation, r->lab);
        r->separation = carn_separation_id(separation);
    }
}

int carn_measure_finish(const struct carn_measure *m, const struct carn_profile *profile,
                        const struct carn_separation *separation, enum carn_mean mean,
                        struct carn_reading *r, struct carn_error *err)
{
    if (m->count == 0)
        return carn_fail(err, CARN_INPUT, "patch '%s' has no opaque pixel", m->box.patch);
    r->patch = m->box.patch;
    r->tone = m->box.tone;
    r->pixels = m->count;
    if (carn_mean_of(m->samples, m->count, m->colours, mean, r->rgb, err) != 0)
        return -1;
    carn_measure_colour(profile, m->colours, separation, r);
    r->hue_spread = r->greened = (double)NAN;
    r->spread = r->clipped = (double)NAN;
    if (!m->smoothed) {
        r->clipped = 100.0 * (double)m->clipped / (double)(m->count * m->colours);
        if (find_spread(m, profile, r->lab, &r->spread, err) != 0)
            return -1;
    }
    r->flags = find_flags(m, profile, r);
    return 0;
}
