#include "job/report_own.h"

#include "base/order.h"
#include "base/text.h"
#include "colour/lab.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The figures of the set: how far they lie apart tells whether it is even. */
static const struct {
    const char *name, *unit;
    enum carn_result_value which;
    int decimals;
} shown[] = {
    {"hue", "degrees", CARN_RESULT_HUE, 2},
    {"chroma", "C*ab", CARN_RESULT_CHROMA, 2},
    {"magenta_by_cyan", "ratio", CARN_RESULT_MAGENTA_BY_CYAN, 3},
    {"yellow_by_magenta", "ratio", CARN_RESULT_YELLOW_BY_MAGENTA, 3},
};
enum { SHOWN = sizeof shown / sizeof *shown, LISTED = 12 };

/* The frames of a subject, in w->list. */
static size_t list_subject(struct report *w, const char *subject)
{
    const struct carn_story *s = w->story;
    size_t count = 0;
    for (size_t i = 0; i < s->count; i++)
        if (report_is_measured(&s->frames[i]) && strcmp(s->frames[i].subject, subject) == 0)
            w->list[count++] = i;
    return count;
}

static double report_figure(const struct carn_story_frame *f, bool after,
                            enum carn_result_value which)
{
    return after ? f->after.value[which] : f->shot.value[which];
}

/* The median of a camera's frames in the list. NAN where an earlier frame of the list is by the
 * same camera: that one stands for the camera. */
static double camera_median(struct report *w, size_t count, size_t at, bool after,
                            enum carn_result_value which)
{
    const struct carn_story_frame *frames = w->story->frames;
    size_t n = 0;
    for (size_t k = 0; k < count; k++) {
        if (strcmp(frames[w->list[k]].camera, frames[w->list[at]].camera) != 0)
            continue;
        if (k < at)
            return (double)NAN;
        w->room[n] = report_figure(&frames[w->list[k]], after, which);
        n += !isnan(w->room[n]) ? 1 : 0;
    }
    if (n == 0)
        return (double)NAN;
    return which == CARN_RESULT_HUE ? carn_hue_median(w->room, n) : carn_median(w->room, n);
}

/* Hues of 359 and 1 degrees lie 2 apart. */
static double apart(double x, double y, enum carn_result_value which)
{
    return which == CARN_RESULT_HUE ? fabs(carn_hue_difference(x, y)) : fabs(x - y);
}

/* Widest difference of a figure between the frames of w->list, or between the medians of their
 * cameras; NAN with fewer than two. */
static double range_of(struct report *w, size_t listed, bool cameras, bool after,
                       enum carn_result_value which)
{
    double widest = 0;
    size_t count = 0;
    for (size_t i = 0; i < listed; i++) {
        double v = cameras ? camera_median(w, listed, i, after, which)
                           : report_figure(&w->story->frames[w->list[i]], after, which);
        if (isnan(v))
            continue;
        for (size_t k = 0; k < count; k++)
            widest = fmax(widest, apart(w->figures[k], v, which));
        w->figures[count++] = v;
    }
    return count < 2 ? (double)NAN : widest;
}

struct spread {
    const char *subject;
    size_t frames;
    double before[SHOWN], after[SHOWN];
    bool listed;
};

static size_t collect_spreads(struct report *w, bool cameras, struct spread *spreads)
{
    const struct carn_story *s = w->story;
    size_t count = 0;
    for (size_t i = 0; i < s->count; i++) {
        const struct carn_story_frame *f = &s->frames[i];
        bool known = !report_is_measured(f) || strcmp(f->subject, "-") == 0;
        for (size_t k = 0; !known && k < count; k++)
            known = strcmp(spreads[k].subject, f->subject) == 0;
        if (known)
            continue;
        struct spread *spread = &spreads[count];
        *spread = (struct spread){.subject = f->subject, .frames = list_subject(w, f->subject)};
        bool any = false;
        for (int k = 0; k < SHOWN; k++) {
            spread->before[k] = range_of(w, spread->frames, cameras, false, shown[k].which);
            spread->after[k] = range_of(w, spread->frames, cameras, true, shown[k].which);
            any = any || !isnan(spread->before[k]) || !isnan(spread->after[k]);
        }
        spread->listed = !any;
        count++;
    }
    size_t kept = 0;
    for (size_t k = 0; k < count; k++)
        if (!spreads[k].listed)
            spreads[kept++] = spreads[k];
    return kept;
}

/* Two decimals, or as many of them as fit the width. */
static const char *fitting(char buffer[CARN_NUMBER], double v, size_t width)
{
    for (int decimals = 2; decimals >= 0; decimals--)
        if (strlen(carn_number_text(buffer, v, decimals)) <= width)
            break;
    return buffer;
}

/* At most 80 columns wide; a name that is too long for its column has a line of its own. */
static void spread_line(struct report *w, const char *name, const char *frames,
                        const double before[SHOWN], const double after[SHOWN])
{
    enum { NAME = 11 };
    char line[400], a[CARN_NUMBER], b[CARN_NUMBER];
    bool alone = carn_places(name) > NAME;
    if (alone)
        report_put(w, "  %s", name);
    const char *first = alone ? "" : name;
    int n = snprintf(line, sizeof line, "  %-*s %6s", carn_fill(first, NAME), first, frames);
    for (int k = 0; k < SHOWN && n < (int)sizeof line - 40; k++)
        n += snprintf(line + n, sizeof line - (size_t)n, "  %5s to %4s", fitting(a, before[k], 5),
                      fitting(b, after[k], 4));
    report_put(w, "%s", line);
}

/* Has any subject two frames by one camera? If not, the spread of frames and of cameras is the
 * same. */
static bool have_repeats(struct report *w)
{
    const struct carn_story_frame *frames = w->story->frames;
    for (size_t i = 0; i < w->story->count; i++)
        for (size_t k = 0; k < i && strcmp(frames[i].subject, "-") != 0; k++)
            if (report_is_measured(&frames[i]) && report_is_measured(&frames[k]) &&
                strcmp(frames[i].subject, frames[k].subject) == 0 &&
                strcmp(frames[i].camera, frames[k].camera) == 0)
                return true;
    return false;
}

/* A row of the table: one figure of a subject, or of all (mean, widest). */
static void put_row(struct report *w, const char *part, const char *about, int k, size_t frames,
                    double before, double after)
{
    char a[CARN_NUMBER], b[CARN_NUMBER], n[32];
    snprintf(n, sizeof n, "%zu", frames);
    report_row(w, part, about, shown[k].name, n, carn_number_text(a, before, shown[k].decimals),
               carn_number_text(b, after, shown[k].decimals), shown[k].unit);
}

/* Over the subjects of which a figure is known before and after; NAN where there is none. */
struct overall {
    size_t known[SHOWN];
    double mean[2][SHOWN], widest[2][SHOWN];
};

static struct overall sum_up(const struct spread *spreads, size_t count)
{
    struct overall all = {0};
    for (int k = 0; k < SHOWN; k++) {
        for (size_t i = 0; i < count; i++) {
            const double figure[2] = {spreads[i].before[k], spreads[i].after[k]};
            if (isnan(figure[0]) || isnan(figure[1]))
                continue;
            all.known[k]++;
            for (int when = 0; when < 2; when++) {
                all.mean[when][k] += figure[when];
                all.widest[when][k] = fmax(all.widest[when][k], figure[when]);
            }
        }
        double n = all.known[k] > 0 ? (double)all.known[k] : (double)NAN;
        for (int when = 0; when < 2; when++) {
            all.mean[when][k] /= n;
            if (all.known[k] == 0)
                all.widest[when][k] = (double)NAN;
        }
    }
    return all;
}

/* A line a subject: all of them in their order, or the LISTED that are widest in hue. */
static void list_subjects(struct report *w, struct spread *spreads, size_t count)
{
    char n[32];
    report_put(w, "  %-11s %6s  %13s  %13s  %13s  %13s", "subject", "frames", "hue, degrees",
               "chroma", "M/C", "Y/M");
    for (size_t i = 0; i < count && i < LISTED; i++) {
        size_t next = count;
        for (size_t k = 0; k < count; k++)
            if (!spreads[k].listed &&
                (next == count || (count > LISTED && spreads[k].after[0] > spreads[next].after[0])))
                next = k;
        spreads[next].listed = true;
        snprintf(n, sizeof n, "%zu", spreads[next].frames);
        spread_line(w, spreads[next].subject, n, spreads[next].before, spreads[next].after);
    }
    if (count > LISTED)
        report_put(w, "  and %zu more in summary.tsv", count - LISTED);
}

void report_spread(struct report *w, const char *part, bool cameras, const char *title)
{
    struct spread *spreads = carn_alloc(w->story->count + 1, sizeof *spreads, w->err);
    size_t count = spreads != NULL ? collect_spreads(w, cameras, spreads) : 0;
    if (count == 0) {
        free(spreads);
        return;
    }
    struct overall all = sum_up(spreads, count);
    for (size_t i = 0; i < count; i++)
        for (int k = 0; k < SHOWN; k++)
            put_row(w, part, spreads[i].subject, k, spreads[i].frames, spreads[i].before[k],
                    spreads[i].after[k]);
    for (int k = 0; k < SHOWN; k++) {
        put_row(w, part, "mean", k, all.known[k], all.mean[0][k], all.mean[1][k]);
        put_row(w, part, "widest", k, all.known[k], all.widest[0][k], all.widest[1][k]);
    }
    bool told = cameras && !have_repeats(w); /* by the block before */
    report_put(w, "%s%s", title, told ? ": the same, one frame each" : "");
    if (!told) {
        list_subjects(w, spreads, count);
        spread_line(w, "mean", "", all.mean[0], all.mean[1]);
        spread_line(w, "widest", "", all.widest[0], all.widest[1]);
    }
    report_put(w, "%s", "");
    free(spreads);
}
