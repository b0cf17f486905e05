#include "correct/meet.h"

#include "base/maths.h"
#include "correct/aim_colour.h"
#include "correct/curve.h"
#include "correct/pool.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* One camera's tones of the subject: medians of its readings. */
struct view {
    const char *camera;
    bool has[CARN_TONES];
    struct carn_lab tones[CARN_TONES];
};

/* Less than this, CIE76, is rounding. */
static const double SAME = 1e-6;

/* Degrees that a person's hue may be turned toward ratios: beyond, photographs of red skin turned
 * olive (docs/colour.md 7). */
static const double HUE_LIMIT = 10;

/* The share of a person's chroma that ratios leave at least: below, light skin looked grey. */
static const double CHROMA_LEFT = 0.85;

static bool is_of(const struct carn_reading *r, const char *subject)
{
    return carn_reading_is_skin(r) && strcmp(r->subject, subject) == 0;
}

static bool is_sure(const struct carn_reading *r, const char *subject)
{
    return is_of(r, subject) && (r->flags & CARN_DOUBTS) == 0;
}

static double complex plane(struct carn_lab lab)
{
    return lab.a + lab.b * I;
}

static double complex cpolar(double chroma, double hue)
{
    return chroma * cexp(I * hue * CARN_PI / 180);
}

static struct carn_lab at_lightness(double L, double complex ab)
{
    return (struct carn_lab){L, creal(ab), cimag(ab)};
}

/* ---- the cameras' own tones ---- */

/* any: rows of every tone stand for the middle. */
static int find_view(const struct carn_readings *readings, const char *subject, bool any,
                     bool *pick, struct view *view, struct carn_error *err)
{
    for (int t = 0; t <= CARN_TONE_SHADE; t++) {
        size_t rows = 0;
        for (size_t i = 0; i < readings->count; i++) {
            const struct carn_reading *r = &readings->rows[i];
            bool fits = any ? t == CARN_TONE_MIDDLE : (int)carn_tone_of(r->tone) == t;
            pick[i] = fits && is_sure(r, subject) && strcmp(r->camera, view->camera) == 0;
        }
        if (carn_pool(readings, pick, &view->tones[t], &rows, err) != 0)
            return -1;
        view->has[t] = rows > 0;
    }
    return 0;
}

/* The cameras that have a middle; *count of them, and what the meeting counts. */
static int find_views(const struct carn_readings *readings, const char *subject, struct view *views,
                      bool *pick, size_t *count, struct carn_meeting *meeting,
                      struct carn_error *err)
{
    bool any = true;
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        meeting->doubtful += is_of(r, subject) && !is_sure(r, subject);
        meeting->readings += is_sure(r, subject);
        if (is_sure(r, subject) && carn_tone_of(r->tone) == CARN_TONE_MIDDLE)
            any = false;
    }
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        size_t seen = 0;
        while (seen < *count && strcmp(views[seen].camera, r->camera) != 0)
            seen++;
        if (!is_sure(r, subject) || seen < *count)
            continue;
        views[seen] = (struct view){.camera = r->camera};
        if (find_view(readings, subject, any, pick, &views[seen], err) != 0)
            return -1;
        *count += views[seen].has[CARN_TONE_MIDDLE];
    }
    return 0;
}

/* The mean over the cameras that have the tone. Each camera's colour is first multiplied by what
 * brings its middle onto this one; NULL: as it is. */
static bool mean_tone(const struct view *views, size_t count, enum carn_tone tone,
                      const struct carn_lab *middle, struct carn_lab *mean)
{
    double complex sum = 0;
    double L = 0;
    size_t n = 0;
    for (size_t i = 0; i < count; i++) {
        if (!views[i].has[tone])
            continue;
        double complex own = plane(views[i].tones[CARN_TONE_MIDDLE]);
        sum += plane(views[i].tones[tone]) * (middle != NULL ? plane(*middle) / own : 1);
        L += views[i].tones[tone].L;
        n++;
    }
    if (n > 0)
        *mean = at_lightness(L / (double)n, sum / (double)n);
    return n > 0 && isfinite(mean->a) && isfinite(mean->b);
}

/* ---- as far as all can follow ---- */

static bool all_reach(const struct view *views, size_t count, const struct carn_aim *aim,
                      struct carn_lab to)
{
    for (size_t i = 0; i < count; i++) {
        to.L = views[i].tones[CARN_TONE_MIDDLE].L;
        struct carn_lab middle = views[i].tones[CARN_TONE_MIDDLE];
        if (carn_cie76(carn_aim_bound(aim, CARN_TONE_MIDDLE, middle, to), to) > SAME)
            return false;
    }
    return true;
}

/* to, where ratios change a person's hue or chroma further than the limits, no further than they.
 */
static struct carn_lab like_person(const struct carn_aim *aim, struct carn_lab from,
                                   struct carn_lab to)
{
    struct carn_aim_values at = carn_aim_at(aim, CARN_TONE_MIDDLE, from.L);
    if (!carn_aim_has_ratios(&at))
        return to;
    double turn = carn_hue_difference(carn_hue(from), carn_hue(to));
    double excess = turn - copysign(fmin(fabs(turn), HUE_LIMIT), turn);
    double chroma = fmax(carn_chroma(to), CHROMA_LEFT * carn_chroma(from));
    return at_lightness(to.L, cpolar(chroma, carn_hue(to) - excess));
}

/* From the pooled middle toward the aim, as far as every camera comes along; where not even the
 * pooled middle is in reach of all, the pooled middle's own bound. */
static struct carn_lab reach(const struct view *views, size_t count, const struct carn_aim *aim,
                             struct carn_lab from, struct carn_lab asked)
{
    struct carn_lab end =
        like_person(aim, from, carn_aim_bound(aim, CARN_TONE_MIDDLE, from, asked));
    double low = 0, high = 1;
    if (!all_reach(views, count, aim, from) || all_reach(views, count, aim, end))
        return end;
    for (int k = 0; k < 40; k++) {
        double t = (low + high) / 2;
        double complex at = plane(from) + t * (plane(end) - plane(from));
        if (all_reach(views, count, aim, at_lightness(from.L, at)))
            low = t;
        else
            high = t;
    }
    return at_lightness(from.L, plane(from) + low * (plane(end) - plane(from)));
}

static int find_colours(const struct view *views, size_t count, const struct carn_aim *aim,
                        const struct carn_separation *separation, bool bound,
                        struct carn_meeting *m, struct carn_error *err)
{
    struct carn_meeting_tone *middle = &m->tones[CARN_TONE_MIDDLE];
    struct carn_lab from, asked;
    if (!mean_tone(views, count, CARN_TONE_MIDDLE, NULL, &from))
        return 1;
    asked = from;
    if (aim != NULL &&
        carn_aim_colour(aim, separation, CARN_TONE_MIDDLE, from, &asked, NULL, err) != 0)
        return -1;
    struct carn_lab to = bound && aim != NULL ? reach(views, count, aim, from, asked) : asked;
    m->cut = carn_cie76(to, asked) > CARN_CUT;
    *middle = (struct carn_meeting_tone){true, to, asked};
    for (enum carn_tone t = CARN_TONE_LIGHT; t <= CARN_TONE_SHADE; t++) {
        struct carn_meeting_tone *tone = &m->tones[t];
        if (t != CARN_TONE_MIDDLE)
            tone->known = mean_tone(views, count, t, &to, &tone->colour) &&
                          mean_tone(views, count, t, &asked, &tone->asked);
    }
    return 0;
}

int carn_meet(const struct carn_readings *readings, const char *subject, const struct carn_aim *aim,
              const struct carn_separation *separation, bool bound, struct carn_meeting *meeting,
              struct carn_error *err)
{
    *meeting = (struct carn_meeting){0};
    struct view *views = carn_alloc(readings->count + 1, sizeof *views, err);
    bool *pick = carn_alloc(readings->count + 1, sizeof *pick, err);
    int rc = views == NULL || pick == NULL ? -1 : 0;
    if (rc == 0)
        rc = find_views(readings, subject, views, pick, &meeting->cameras, meeting, err);
    if (rc == 0)
        rc = find_colours(views, meeting->cameras, aim, separation, bound, meeting, err);
    free(views);
    free(pick);
    return rc;
}
