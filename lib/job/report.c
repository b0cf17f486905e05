#define _XOPEN_SOURCE 700
#include "job/report.h"

#include "correct/pool.h"
#include "job/files.h"
#include "job/json.h"
#include "job/record.h"
#include "job/step.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

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
enum { SHOWN = sizeof shown / sizeof *shown, LISTED = 12, SINGLE = 40 };

/* Something that needs a person. single: of one picture. */
struct person {
    char *about, *what, *note;
    bool single;
};

struct writing {
    const struct carn_story *story;
    bool audit;
    struct carn_page text, table, json; /* summary.txt, .tsv, .json */
    size_t rows;
    struct carn_error *err;
    size_t person_count;
    struct person *persons;
    double *room; /* for medians, one a frame */
    size_t *list; /* frames of a subject */
};

/* ---- lines ---- */

__attribute__((format(printf, 2, 3))) static void put(struct writing *w, const char *format, ...)
{
    char line[4096];
    va_list args;
    va_start(args, format);
    vsnprintf(line, sizeof line, format, args);
    va_end(args);
    carn_show(w->text.to, line);
    fputc('\n', w->text.to);
}

/* A number as text in buffer: "-" for NAN. */
static const char *number(char buffer[32], double v, int decimals)
{
    if (isnan(v))
        strcpy(buffer, "-");
    else
        snprintf(buffer, 32, "%.*f", decimals, fabs(v) < 0.5 * pow(10, -decimals) ? 0.0 : v);
    return buffer;
}

static void row(struct writing *w, const char *part, const char *about, const char *what,
                const char *frames, const char *before, const char *after, const char *note)
{
    static const char *const names[] = {"part",   "about", "what", "frames",
                                        "before", "after", "note"};
    const char *const cells[] = {part, about, what, frames, before, after, note};
    fputs(w->rows++ > 0 ? ",\n  {" : "\n  {", w->json.to);
    for (size_t i = 0; i < 7; i++) {
        carn_table_print(w->table.to, cells[i]);
        fputc(i < 6 ? '\t' : '\n', w->table.to);
        fprintf(w->json.to, "%s\"%s\": ", i > 0 ? ", " : "", names[i]);
        if (i >= 3 && i <= 5) /* figures; a name may look like one */
            carn_json_cell(w->json.to, *cells[i] == '+' ? cells[i] + 1 : cells[i]);
        else
            carn_json_text(w->json.to, cells[i]);
    }
    fputc('}', w->json.to);
}

__attribute__((format(printf, 5, 6))) static void
person(struct writing *w, bool single, const char *about, const char *what, const char *format, ...)
{
    char note[2048];
    va_list args;
    va_start(args, format);
    vsnprintf(note, sizeof note, format, args);
    va_end(args);
    struct person *persons = carn_grow(w->persons, w->person_count + 1, sizeof *persons, w->err);
    if (persons == NULL)
        return;
    w->persons = persons;
    persons[w->person_count++] = (struct person){carn_copy(about, w->err), carn_copy(what, w->err),
                                                 carn_copy(note, w->err), single};
}

static const char *plural(char buffer[64], size_t n, const char *word)
{
    snprintf(buffer, 64, "%zu %s%s", n, word, n == 1 ? "" : "s");
    return buffer;
}

static bool is_measured(const struct carn_story_frame *f)
{
    return f->failed == NULL && !f->card_only && f->shot.rows > 0;
}

static const char *setting(const struct writing *w, const char *key)
{
    return w->story->settings != NULL ? carn_record_get(w->story->settings, key) : "";
}

/* ---- the set ---- */

/* The frames of a subject, in w->list. */
static size_t list_subject(struct writing *w, const char *subject)
{
    const struct carn_story *s = w->story;
    size_t count = 0;
    for (size_t i = 0; i < s->count; i++)
        if (is_measured(&s->frames[i]) && strcmp(s->frames[i].subject, subject) == 0)
            w->list[count++] = i;
    return count;
}

static double figure(const struct carn_story_frame *f, bool after, enum carn_result_value which)
{
    return after ? f->after.value[which] : f->shot.value[which];
}

/* The median of a camera's frames of those listed; NAN also where an earlier one of the list is by
 * this camera, which then speaks for it. */
static double camera_median(struct writing *w, size_t count, size_t at, bool after,
                            enum carn_result_value which)
{
    const struct carn_story_frame *frames = w->story->frames;
    size_t n = 0;
    for (size_t k = 0; k < count; k++) {
        if (strcmp(frames[w->list[k]].camera, frames[w->list[at]].camera) != 0)
            continue;
        if (k < at)
            return (double)NAN;
        w->room[n] = figure(&frames[w->list[k]], after, which);
        n += !isnan(w->room[n]) ? 1 : 0;
    }
    return n > 0 ? carn_median(w->room, n) : (double)NAN;
}

/* Widest difference of a figure between the frames of w->list, or between the medians of their
 * cameras; NAN with fewer than two. */
static double range_of(struct writing *w, size_t listed, bool cameras, bool after,
                       enum carn_result_value which)
{
    double low = 0, high = 0;
    size_t count = 0;
    for (size_t i = 0; i < listed; i++) {
        double v = cameras ? camera_median(w, listed, i, after, which)
                           : figure(&w->story->frames[w->list[i]], after, which);
        if (isnan(v))
            continue;
        low = count == 0 || v < low ? v : low;
        high = count == 0 || v > high ? v : high;
        count++;
    }
    return count < 2 ? (double)NAN : high - low;
}

struct spread {
    const char *subject;
    size_t frames;
    double before[SHOWN], after[SHOWN];
    bool listed;
};

static size_t collect_spreads(struct writing *w, bool cameras, struct spread *spreads)
{
    const struct carn_story *s = w->story;
    size_t count = 0;
    for (size_t i = 0; i < s->count; i++) {
        const struct carn_story_frame *f = &s->frames[i];
        bool known = !is_measured(f) || strcmp(f->subject, "-") == 0;
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

static void spread_line(struct writing *w, const char *name, const char *frames,
                        const double before[SHOWN], const double after[SHOWN])
{
    char line[400], a[32], b[32];
    int n = snprintf(line, sizeof line, "  %-11.40s %6s", name, frames);
    for (int k = 0; k < SHOWN && n < (int)sizeof line - 40; k++)
        n += snprintf(line + n, sizeof line - (size_t)n, "  %5s to %4s", number(a, before[k], 2),
                      number(b, after[k], 2));
    put(w, "%s", line);
}

/* Has a subject two frames by one camera? Else the spread of the frames is that of the cameras. */
static bool have_repeats(struct writing *w)
{
    const struct carn_story_frame *frames = w->story->frames;
    for (size_t i = 0; i < w->story->count; i++)
        for (size_t k = 0; k < i && strcmp(frames[i].subject, "-") != 0; k++)
            if (is_measured(&frames[i]) && is_measured(&frames[k]) &&
                strcmp(frames[i].subject, frames[k].subject) == 0 &&
                strcmp(frames[i].camera, frames[k].camera) == 0)
                return true;
    return false;
}

/* A line a subject, the widest twelve in the text, then mean and widest. */
static void spread_block(struct writing *w, const char *part, bool cameras, const char *title)
{
    struct spread *spreads = carn_alloc(w->story->count + 1, sizeof *spreads, w->err);
    size_t count = spreads != NULL ? collect_spreads(w, cameras, spreads) : 0;
    double sum[2][SHOWN] = {{0}}, most[2][SHOWN] = {{0}};
    size_t known[SHOWN] = {0};
    char a[32], b[32], n[32];
    for (size_t i = 0; i < count; i++)
        for (int k = 0; k < SHOWN; k++) {
            const struct spread *s = &spreads[i];
            snprintf(n, sizeof n, "%zu", s->frames);
            row(w, part, s->subject, shown[k].name, n, number(a, s->before[k], shown[k].decimals),
                number(b, s->after[k], shown[k].decimals), shown[k].unit);
            if (isnan(s->before[k]) || isnan(s->after[k]))
                continue;
            known[k]++;
            sum[0][k] += s->before[k];
            sum[1][k] += s->after[k];
            most[0][k] = fmax(most[0][k], s->before[k]);
            most[1][k] = fmax(most[1][k], s->after[k]);
        }
    bool told = cameras && !have_repeats(w); /* by the block before */
    if (count > 0)
        put(w, "%s%s", title, told ? ": the same, one frame each" : "");
    if (count > 0 && !told) {
        put(w, "  %-11s %6s  %13s  %13s  %13s  %13s", "subject", "frames", "hue, degrees", "chroma",
            "M/C", "Y/M");
    }
    for (size_t i = 0; i < count && i < LISTED && !told; i++) {
        size_t next = count;
        for (size_t k = 0; k < count; k++)
            if (!spreads[k].listed &&
                (next == count || (count > LISTED && spreads[k].after[0] > spreads[next].after[0])))
                next = k;
        spreads[next].listed = true;
        snprintf(n, sizeof n, "%zu", spreads[next].frames);
        spread_line(w, spreads[next].subject, n, spreads[next].before, spreads[next].after);
    }
    if (count > LISTED && !told)
        put(w, "  and %zu more in summary.tsv", count - LISTED);
    for (int k = 0; k < SHOWN && count > 0; k++) {
        double d = known[k] > 0 ? (double)known[k] : (double)NAN;
        snprintf(n, sizeof n, "%zu", known[k]);
        sum[0][k] /= d;
        sum[1][k] /= d;
        if (known[k] == 0)
            most[0][k] = most[1][k] = (double)NAN;
        row(w, part, "mean", shown[k].name, n, number(a, sum[0][k], shown[k].decimals),
            number(b, sum[1][k], shown[k].decimals), shown[k].unit);
        row(w, part, "widest", shown[k].name, n, number(a, most[0][k], shown[k].decimals),
            number(b, most[1][k], shown[k].decimals), shown[k].unit);
    }
    if (count > 0 && !told) {
        spread_line(w, "mean", "", sum[0], sum[1]);
        spread_line(w, "widest", "", most[0], most[1]);
    }
    if (count > 0)
        put(w, "%s", "");
    free(spreads);
}

/* ---- verdicts ---- */

struct totals {
    size_t verdict[5], failed, blind, as_it_is, cards, frames, needs_person;
};

static void count_verdicts(struct writing *w, struct totals *totals)
{
    static const char *const depths[] = {"light", "medium", "deep"};
    const struct carn_story *s = w->story;
    size_t counted[3][5] = {{0}}, depth_count = 0;
    double lowest = 0, highest = 0;
    char n[32], line[200];
    for (size_t i = 0; i < s->count; i++) {
        const struct carn_story_frame *f = &s->frames[i];
        if (f->card_only)
            continue;
        totals->frames++;
        totals->failed += f->failed != NULL ? 1 : 0;
        totals->as_it_is += f->failed == NULL && f->as_it_is ? 1 : 0;
        totals->needs_person += f->failed == NULL && f->needs_person ? 1 : 0;
        if (f->failed != NULL || f->as_it_is)
            continue;
        if (!is_measured(f)) {
            totals->blind++;
            totals->verdict[3]++;
            continue;
        }
        double L = f->neutral.value[CARN_RESULT_L];
        int depth = L > 60 ? 0 : L >= 45 ? 1 : 2;
        counted[depth][f->verdict]++;
        totals->verdict[f->verdict]++;
    }
    put(w, "Verdicts by depth (light: L* over 60, deep: under 45), aim %s%s", setting(w, "AIM"),
        w->audit ? ", uncorrected" : "");
    put(w, "  %-7s %6s %6s %6s %6s %6s", "depth", "frames", "on", "held", "unsure", "off");
    for (int d = 0; d < 3; d++) {
        size_t all = 0;
        int at = 0;
        for (int v = 1; v < 5; v++) {
            snprintf(n, sizeof n, "%zu", counted[d][v]);
            row(w, "verdict", depths[d], carn_verdict_words[v], n, "-", "-", "-");
            at += snprintf(line + at, sizeof line - (size_t)at, " %6zu", counted[d][v]);
            all += counted[d][v];
        }
        put(w, "  %-7s %6zu%s", depths[d], all, line);
        if (all == 0)
            continue;
        double share = 100.0 * (double)(counted[d][1] + counted[d][2]) / (double)all;
        lowest = depth_count == 0 ? share : fmin(lowest, share);
        highest = depth_count == 0 ? share : fmax(highest, share);
        depth_count++;
    }
    snprintf(n, sizeof n, "%zu", totals->blind);
    if (totals->blind > 0) {
        row(w, "verdict", "-", "unsure", n, "-", "-", "no skin found");
        put(w, "  %-7s %6s%21s         no skin found", "-", n, n);
    }
    snprintf(n, sizeof n, "%zu", totals->as_it_is);
    if (totals->as_it_is > 0) {
        row(w, "verdict", "-", "as it is", n, "-", "-", "grey or of one colour");
        put(w, "  %-7s %6s  grey or of one colour, delivered as they are", "-", n);
    }
    snprintf(n, sizeof n, "%zu", totals->failed);
    if (totals->failed > 0) {
        row(w, "verdict", "-", "failed", n, "-", "-", "-");
        put(w, "  %-7s %6s  failed", "-", n);
    }
    if (depth_count > 1) {
        row(w, "verdict", "gap", "on or held", "-", "-", number(n, highest - lowest, 1),
            "per cent between the depths");
        put(w, "  on or held: %.0f %% at least in each depth, %.0f %% at most; the gap is %.0f",
            lowest, highest, highest - lowest);
    }
    if (!w->audit && strcmp(setting(w, "LOOK"), "none") != 0)
        put(w, "  judged before the look, which leaves the aim on purpose");
    put(w, "%s", "");
}

/* ---- cards ---- */

static size_t report_cards(struct writing *w)
{
    const struct carn_story *s = w->story;
    double *levels = carn_alloc(s->cards + 1, sizeof *levels, w->err), low = 0, high = 0;
    size_t known = 0, broken = 0, without = 0;
    char words[64], a[32], note[40];
    for (size_t k = 0; levels != NULL && k < s->cards; k++) {
        const struct carn_story_card *c = &s->card[k];
        if (c->failed != NULL) {
            broken++;
            person(w, false, c->name, "card",
                   "could not be measured, %s went without the neutral step: %s",
                   plural(words, c->used, "frame"), c->failed);
            continue;
        }
        if (strcmp(c->flags, "-") != 0)
            person(w, false, c->name, "card", "its patch is %s: the neutral of %s stands on it",
                   c->flags, plural(words, c->used, "frame"));
        levels[known++] = log2(pow((c->L + 16) / 116, 3));
    }
    double level = known > 0 ? carn_median(levels, known) : 0;
    if (known > 0)
        put(w, "Cards, exposure against their middle");
    for (size_t k = 0; k < s->cards; k++) {
        const struct carn_story_card *c = &s->card[k];
        if (c->failed != NULL)
            continue;
        double stops = round((log2(pow((c->L + 16) / 116, 3)) - level) * 100) / 100 + 0.0;
        low = fmin(low, stops);
        high = fmax(high, stops);
        snprintf(a, sizeof a, "%+.2f", stops);
        snprintf(note, sizeof note, "L* %.1f", c->L);
        row(w, "card", c->name, "stops", "-", a, "-", note);
        put(w, "  %-24s %s, %s stops", c->name, note, a);
    }
    if (known > 0)
        put(w, "%s", "");
    if (high - low > 0.1)
        person(w, false, "cards", "exposure", "differ by %.2f stops%s", high - low,
               s->settings != NULL && access("work/level", F_OK) == 0
                   ? ", equalised"
                   : "; EQUALISE = yes in the Makefile brings all to one level");
    for (size_t i = 0; i < s->count; i++)
        without += strcmp(s->frames[i].card, "-") == 0 && !s->frames[i].card_only ? 1 : 0;
    if (without > 0)
        person(w, false, "cards", "missing",
               "%s without a card in job.tsv, so without the neutral step",
               plural(words, without, "frame"));
    free(levels);
    return broken;
}

/* ---- who needs a person ---- */

static void frame_needs(struct writing *w, const struct carn_story_frame *f)
{
    bool words = strcmp(f->words, "-") != 0, flags = strcmp(f->flags, "-") != 0;
    bool none = strcmp(f->grounds, "none") == 0;
    if (f->failed != NULL) {
        person(w, true, f->name, "failed", "%s", f->failed);
        if (f->not_renewed)
            person(w, true, f->name, "not renewed",
                   "out/%s is the picture of an earlier run; it is kept", f->out);
        return;
    }
    if (f->as_it_is || f->card_only)
        return;
    if (none)
        person(w, true, f->name, "borrowed",
               "no skin found in it: its group's curve, not measured; a row in patches.tsv says "
               "where");
    else if (!f->given && !f->sure && (f->corrected || w->audit))
        person(w, true, f->name, "borrowed",
               "where skin was found is unsure (%.2f): its group's curve", f->confidence);
    else if (!f->given && !f->sure)
        person(
            w, true, f->name, "uncorrected",
            "where skin was found is unsure (%.2f), and no frame of its group is sure: delivered "
            "as it is after the card; a row in patches.tsv says where skin is",
            f->confidence);
    if (f->faces > 1 && !f->given && strchr(f->subject, ',') == NULL &&
        strcmp(f->subject, "-") != 0)
        person(w, true, f->name, "faces", "%zu faces found, the largest is measured", f->faces);
    if (!none && (f->verdict >= 3))
        person(w, true, f->name, carn_verdict_words[f->verdict], "%s%s%s%s", words ? f->words : "",
               words && flags ? "; " : "", flags ? "flags " : "", flags ? f->flags : "");
    if (f->needs_person)
        person(w, true, f->name, "held", "with CIEDE2000 %.1f left to its colour%s%s",
               f->judged.held_difference, words ? "; " : "", words ? f->words : "");
    if (f->frozen != NULL)
        person(w, true, f->name, "approved", "%s", f->frozen);
    if (f->outlier)
        person(
            w, true, f->name, "outlier",
            "its reading lies %.1f from the middle of its group (CIE76, %.1f times what is usual "
            "there); corrected with the group's curve",
            f->far, f->far / f->scale);
}

static void subject_needs(struct writing *w)
{
    const struct carn_story *s = w->story;
    const char *follow = setting(w, "FOLLOW");
    size_t nameless = 0;
    char words[64];
    for (size_t i = 0; i < s->count; i++) {
        const struct carn_story_frame *f = &s->frames[i];
        nameless += f->failed == NULL && !f->card_only && strcmp(f->subject, "-") == 0 ? 1 : 0;
        if (strcmp(follow, "none") == 0 || strcmp(f->camera, follow) == 0 || w->audit ||
            f->failed != NULL || f->follows || strcmp(f->subject, "-") == 0 || !f->corrected)
            continue;
        bool told = false;
        for (size_t k = 0; !told && k < i; k++)
            told = strcmp(s->frames[k].subject, f->subject) == 0 &&
                   strcmp(s->frames[k].camera, f->camera) == 0;
        if (!told)
            person(w, false, f->subject, "follow",
                   "no picture by %s to follow: those by %s keep to the aim", follow, f->camera);
    }
    if (nameless > 0)
        person(w, false, "job.tsv", "subject", "%s without a subject: each has a curve of its own",
               plural(words, nameless, "frame"));
}

/* ---- settings of the cameras ---- */

static const char *fact(const struct carn_story *s, const struct carn_story_frame *f,
                        const char *key)
{
    if (s->facts == NULL)
        return "-";
    int frame_at = carn_table_find(s->facts, "frame");
    for (size_t i = 0; i < carn_table_rows(s->facts); i++)
        if (strcmp(carn_table_cell(s->facts, i, frame_at), f->name) == 0)
            return carn_table_cell(s->facts, i, carn_table_find(s->facts, key));
    return "-";
}

/* What frames have of one setting, joined by what they share: a card, or the job. */
struct kind {
    const char *value, *first;
    size_t count;
};

static void differing(struct writing *w, const char *const *values, const char *key, bool by_card,
                      const char *how)
{
    const struct carn_story *s = w->story;
    struct kind kinds[64];
    bool *done = carn_alloc(s->count + 1, sizeof *done, w->err);
    for (size_t i = 0; done != NULL && i < s->count; i++) {
        size_t count = 0, common = 0;
        for (size_t k = done[i] ? s->count : i; k < s->count; k++) {
            const struct carn_story_frame *f = &s->frames[k];
            if (done[k] || (by_card && strcmp(f->card, s->frames[i].card) != 0))
                continue;
            if (k > i)
                done[k] = true;
            size_t at = 0;
            if (values[k][0] == '\0' || strcmp(values[k], "-") == 0)
                continue;
            while (at < count && strcmp(kinds[at].value, values[k]) != 0)
                at++;
            if (at == 64)
                continue;
            if (at == count)
                kinds[count++] = (struct kind){values[k], f->name, 0};
            kinds[at].count++;
        }
        if (count < 2)
            continue;
        for (size_t k = 1; k < count; k++)
            common = kinds[k].count > kinds[common].count ? k : common;
        char text[1500] = "", words[64], about[400];
        for (size_t k = 0; k < count; k++) {
            size_t n = strlen(text);
            snprintf(text + n, sizeof text - n, "%s%s (%s%s%s%s)", k > 0 ? ", " : "",
                     kinds[k].value, plural(words, kinds[k].count, "frame"),
                     k == common ? "" : ": ", k == common ? "" : kinds[k].first,
                     k != common && kinds[k].count > 1 ? " ..." : "");
        }
        const char *card = "";
        for (size_t k = 0; k < s->cards; k++)
            if (strcmp(s->card[k].id, s->frames[i].card) == 0)
                card = s->card[k].name;
        snprintf(about, sizeof about, "card %.380s", card[0] != '\0' ? card : "none");
        person(w, false, by_card ? about : "job", "settings", "%s differs %s: %s", key, how, text);
    }
    free(done);
}

static void settings_need(struct writing *w)
{
    static const char *const keys[] = {"iso",           "shutter", "aperture", "flash",
                                       "white_balance", "lens",    "profile"};
    const struct carn_story *s = w->story;
    const char **values = carn_alloc(s->count + 1, sizeof *values, w->err);
    size_t automatic = 0, *at = carn_alloc(s->count + 1, sizeof *at, w->err);
    char words[64];
    for (size_t k = 0; values != NULL && at != NULL && k < 7; k++) {
        for (size_t i = 0; i < s->count; i++) {
            values[i] = fact(s, &s->frames[i], keys[k]);
            automatic += k == 4 && strcmp(values[i], "auto") == 0 ? 1 : 0;
        }
        if (k < 6)
            differing(w, values, keys[k], true, "under one card");
        else
            differing(w, values, keys[k], false, "in one job, keep to one working profile");
    }
    if (automatic > 0)
        person(w, false, "job", "settings",
               "%s with automatic white balance: one card does not stand for them",
               plural(words, automatic, "frame"));
    free(values);
    free(at);
}

static void list_persons(struct writing *w)
{
    size_t singles = 0;
    put(w, "What needs a person%s", w->person_count == 0 ? ": nothing" : "");
    /* What concerns many pictures first, and whole; of single pictures, forty. */
    for (int pass = 0; pass < 2; pass++)
        for (size_t k = 0; k < w->person_count; k++) {
            const struct person *p = &w->persons[k];
            if (p->single != (pass == 1) || p->about == NULL || p->what == NULL || p->note == NULL)
                continue;
            row(w, "person", p->about, p->what, "-", "-", "-", p->note);
            if (!p->single || ++singles <= SINGLE)
                put(w, "  %s: %s%s%s", p->about, p->what, p->note[0] != '\0' ? ": " : "", p->note);
        }
    if (singles > SINGLE)
        put(w, "  and %zu more pictures in summary.tsv", singles - SINGLE);
}

/* ---- notes of the programs, one a kind ---- */

struct note {
    char *text;
    size_t count;
};

/* The note with names left out, so that those of one kind are alike. */
static char *note_kind(const char *line, const struct carn_story_frame *f, struct carn_error *err)
{
    const char *at = strstr(line, ": note: ") + 8;
    const char *const names[] = {f->name, f->out};
    char text[600];
    snprintf(text, sizeof text, "%s", at);
    for (int k = 0; k < 2; k++) {
        char *found = strstr(text, names[k]);
        if (found == NULL)
            continue;
        char *begin = found;
        while (begin > text && begin[-1] != ' ')
            begin--;
        const char *rest = found + strlen(names[k]);
        rest += strncmp(rest, ": ", 2) == 0 ? 2 : 0;
        memmove(begin, rest, strlen(rest) + 1);
    }
    return carn_copy(text, err);
}

static void take_notes(struct writing *w, const struct carn_story_frame *f, const char *file,
                       struct note **notes, size_t *count)
{
    char path[300], *text, *rest = NULL;
    snprintf(path, sizeof path, "work/frame/%s/%s", f->id, file);
    text = carn_text(path, w->err);
    for (char *line = text != NULL ? strtok_r(text, "\n", &rest) : NULL; line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        /* What the neutral does near white differs from card to card: that is for carn-explain. */
        if (strstr(line, ": note: ") == NULL || strstr(line, "gain") != NULL)
            continue;
        char *kind = note_kind(line, f, w->err);
        size_t at = 0;
        while (kind != NULL && at < *count && strcmp((*notes)[at].text, kind) != 0)
            at++;
        if (kind == NULL || at < *count) {
            if (kind != NULL)
                (*notes)[at].count++;
            free(kind);
            continue;
        }
        struct note *grown = carn_grow(*notes, *count + 1, sizeof *grown, w->err);
        if (grown == NULL) {
            free(kind);
            break;
        }
        *notes = grown;
        grown[(*count)++] = (struct note){kind, 1};
    }
    free(text);
}

static void report_notes(struct writing *w)
{
    struct note *notes = NULL;
    size_t count = 0;
    char n[32], words[64];
    for (size_t i = 0; i < w->story->count; i++) {
        take_notes(w, &w->story->frames[i], "measured.notes", &notes, &count);
        take_notes(w, &w->story->frames[i], "delivered.notes", &notes, &count);
    }
    for (size_t k = 0; k < count; k++) {
        snprintf(n, sizeof n, "%zu", notes[k].count);
        row(w, "note", "-", "-", n, "-", "-", notes[k].text);
        put(w, "note: %s (%s)", notes[k].text, plural(words, notes[k].count, "time"));
        free(notes[k].text);
    }
    free(notes);
}

static void report_plan_notes(struct writing *w)
{
    struct carn_error ignored = {0};
    static const char *const tables[] = {"work/notes.tsv", "work/strays.tsv"};
    for (size_t k = 0; k < 2; k++) {
        struct carn_table *notes =
            access(tables[k], R_OK) == 0 ? carn_table_read(tables[k], &ignored) : NULL;
        for (size_t i = 0; notes != NULL && i < carn_table_rows(notes); i++)
            person(w, false, k == 0 ? "job.tsv" : "out/", k == 0 ? "row" : "not asked for", "%s",
                   carn_table_cell(notes, i, 0));
        carn_table_close(notes);
    }
}

/* ---- tables of all frames ---- */

/* Appends the rows of a table that a step left; the header once. */
static void copy_table(FILE *to, const char *path, bool *header)
{
    struct carn_error ignored = {0};
    struct carn_table *table = access(path, R_OK) == 0 ? carn_table_read(path, &ignored) : NULL;
    size_t columns = table != NULL ? carn_table_columns(table) : 0;
    if (table == NULL || carn_table_rows(table) == 0) {
        carn_table_close(table);
        return;
    }
    for (size_t c = 0; !*header && c < columns; c++)
        fprintf(to, "%s%c", carn_table_name(table, c), c + 1 < columns ? '\t' : '\n');
    *header = true;
    for (size_t i = 0; i < carn_table_rows(table); i++)
        for (size_t c = 0; c < columns; c++) {
            carn_table_print(to, carn_table_cell(table, i, (int)c));
            fputc(c + 1 < columns ? '\t' : '\n', to);
        }
    carn_table_close(table);
}

/* In the order of the frames, from the tables of their groups. */
/* Does the frame name the group in its list "ID:CURVE ID:CURVE"? */
static bool is_of_group(const struct carn_story_frame *f, const char *group, size_t length)
{
    for (const char *at = f->group; *at != '\0'; at += strspn(at, " ")) {
        if (strcspn(at, ": ") == length && strncmp(at, group, length) == 0)
            return true;
        at += strcspn(at, " ");
    }
    return false;
}

static int write_before(struct writing *w)
{
    struct carn_page page;
    const struct carn_story *s = w->story;
    bool header = false;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    for (size_t i = 0; i < s->count; i++) /* of several people, each one's group */
        for (const char *at = s->frames[i].group; *at != '\0'; at += strspn(at, " ")) {
            size_t length = strcspn(at, ": ");
            bool first = true;
            for (size_t k = 0; first && k < i; k++)
                first = !is_of_group(&s->frames[k], at, length);
            char path[300];
            snprintf(path, sizeof path, "work/group/%.*s/before.tsv", (int)length, at);
            if (first)
                copy_table(page.to, path, &header);
            at += strcspn(at, " ");
        }
    return carn_page_keep(&page, "report/before.tsv", w->err) < 0 ? -1 : 0;
}

static int write_after(struct writing *w, const char *file, const char *to)
{
    struct carn_page page;
    bool header = false;
    char path[300];
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    for (size_t i = 0; i < w->story->count; i++) {
        if (w->story->frames[i].failed != NULL)
            continue;
        snprintf(path, sizeof path, "work/frame/%s/%s", w->story->frames[i].id, file);
        copy_table(page.to, path, &header);
    }
    return carn_page_keep(&page, to, w->err) < 0 ? -1 : 0;
}

static int write_provenance(struct writing *w)
{
    struct carn_page page;
    bool header = false;
    char path[300];
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    for (size_t i = 0; i < w->story->count; i++) {
        const struct carn_story_frame *f = &w->story->frames[i];
        struct carn_error ignored = {0};
        snprintf(path, sizeof path, "work/frame/%s/made.tsv", f->id);
        struct carn_table *made = access(path, R_OK) == 0 ? carn_table_read(path, &ignored) : NULL;
        size_t columns = made != NULL ? carn_table_columns(made) : 0;
        if (made != NULL && !f->card_only && carn_table_rows(made) == 1) {
            for (size_t c = 0; !header && c < columns; c++)
                fprintf(page.to, "%s\t", carn_table_name(made, c));
            if (!header)
                fputs("delivered_L\tdelivered_a\tdelivered_b\tmagenta_by_cyan\tyellow_by_magenta\t"
                      "verdict\n",
                      page.to);
            header = true;
            for (size_t c = 0; c < columns; c++) {
                carn_table_print(page.to, carn_table_cell(made, 0, (int)c));
                fputc('\t', page.to);
            }
            static const enum carn_result_value values[] = {
                CARN_RESULT_L, CARN_RESULT_A, CARN_RESULT_B, CARN_RESULT_MAGENTA_BY_CYAN,
                CARN_RESULT_YELLOW_BY_MAGENTA};
            for (size_t k = 0; k < 5; k++) {
                carn_print_number(page.to, f->after.value[values[k]], 4);
                fputc('\t', page.to);
            }
            fprintf(page.to, "%s\n",
                    f->failed != NULL ? "not renewed" : carn_verdict_words[f->verdict]);
        }
        carn_table_close(made);
    }
    return carn_page_keep(&page, "report/provenance.tsv", w->err) < 0 ? -1 : 0;
}

static const char *picture(char buffer[200], const struct carn_story_frame *f, const char *which)
{
    snprintf(buffer, 200, "report/pictures/%s.%s.jpg", f->id, which);
    if (f->card_only || access(buffer, R_OK) != 0 || (f->failed != NULL && !f->not_renewed))
        return "-";
    return buffer + strlen("report/");
}

/* A row a frame: all that a page needs to show it. */
static int write_frames(struct writing *w)
{
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    FILE *to = page.to;
    fputs("frame\tid\tsubject\tcamera\tcard\tgroup\tout\tapproved\tstate\tverdict\twords\tflags\t"
          "grounds\tconfidence\tfaces\tdepth\tneeds_person\toutlier\tpicture_before\t"
          "picture_after\tmessage",
          to);
    static const char *const stages[] = {"shot", "before", "after", "judged"};
    for (size_t k = 0; k < 4; k++)
        for (int v = 0; v < CARN_RESULTS; v++)
            fprintf(to, "\t%s_%s", stages[k], carn_result_names[v]);
    fputc('\n', to);
    for (size_t i = 0; i < w->story->count; i++) {
        const struct carn_story_frame *f = &w->story->frames[i];
        char before[200], after[200], sure[32];
        const char *card = "-";
        for (size_t k = 0; k < w->story->cards; k++)
            if (strcmp(w->story->card[k].id, f->card) == 0)
                card = w->story->card[k].name;
        const char *state = f->failed != NULL ? (f->not_renewed ? "not renewed" : "failed")
                            : f->card_only    ? "card"
                            : w->audit        ? "measured"
                                              : "delivered";
        number(sure, f->confidence, 3);
        const char *const cells[] = {f->name,
                                     f->id,
                                     f->subject,
                                     f->camera,
                                     card,
                                     f->group,
                                     f->out,
                                     f->approved ? "yes" : "no",
                                     state,
                                     f->failed != NULL ? "-" : carn_verdict_words[f->verdict],
                                     f->failed != NULL ? "-" : f->words,
                                     f->failed != NULL ? "-" : f->flags,
                                     f->grounds[0] != '\0' ? f->grounds : "-",
                                     f->given ? "-" : sure,
                                     NULL,
                                     carn_depth_of(f->neutral.value[CARN_RESULT_L]),
                                     f->needs_person || f->failed != NULL || f->verdict >= 3 ? "yes"
                                                                                             : "no",
                                     f->outlier ? "yes" : "no",
                                     picture(before, f, "before"),
                                     picture(after, f, "after"),
                                     f->failed != NULL   ? f->failed
                                     : f->frozen != NULL ? f->frozen
                                                         : "-"};
        for (size_t c = 0; c < sizeof cells / sizeof *cells; c++) {
            if (c > 0)
                fputc('\t', to);
            if (cells[c] == NULL)
                fprintf(to, "%zu", f->faces);
            else
                carn_table_print(to, cells[c]);
        }
        const struct carn_result *const results[] = {&f->shot, &f->neutral, &f->after, &f->judged};
        for (size_t k = 0; k < 4; k++)
            for (int v = 0; v < CARN_RESULTS; v++) {
                fputc('\t', to);
                carn_print_number(to, results[k]->value[v], 4);
            }
        fputc('\n', to);
    }
    return carn_page_keep(&page, "report/frames.tsv", w->err) < 0 ? -1 : 0;
}

/* Where skin and cards are measured, under the frames' names. */
static int write_patches(struct writing *w)
{
    struct carn_page page;
    static const char *const columns[] = {"patch", "tone", "x",      "y",          "w",
                                          "h",     "tilt", "points", "confidence", "kind"};
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    fputs("frame", page.to);
    for (size_t c = 0; c < 10; c++)
        fprintf(page.to, "\t%s", columns[c]);
    fputc('\n', page.to);
    for (size_t i = 0; i < w->story->count; i++) {
        const struct carn_story_frame *f = &w->story->frames[i];
        for (size_t k = 0; k < 3; k++) {
            char path[300];
            struct carn_error ignored = {0};
            snprintf(path, sizeof path, "work/%s/%s/%s.tsv", k < 2 ? "frame" : "card", f->id,
                     k == 0   ? "faces"
                     : k == 1 ? "squares"
                              : "patches");
            struct carn_table *table =
                access(path, R_OK) == 0 ? carn_table_read(path, &ignored) : NULL;
            for (size_t r = 0; table != NULL && r < carn_table_rows(table); r++) {
                carn_table_print(page.to, f->name);
                for (size_t c = 0; c < 10; c++) {
                    fputc('\t', page.to);
                    carn_table_print(page.to,
                                     carn_table_cell(table, r, carn_table_find(table, columns[c])));
                }
                fputc('\n', page.to);
            }
            carn_table_close(table);
        }
    }
    return carn_page_keep(&page, "report/patches.tsv", w->err) < 0 ? -1 : 0;
}

/* ---- all of it ---- */

static int write_summary(struct writing *w, int *status)
{
    const struct carn_story *s = w->story;
    struct totals totals = {.frames = 0};
    char words[64], n[32];
    if (carn_page_open(&w->text, w->err) != 0 || carn_page_open(&w->table, w->err) != 0 ||
        carn_page_open(&w->json, w->err) != 0)
        return -1;
    fputs("{\"form\": 1, \"rows\": [", w->json.to);
    fputs("part\tabout\twhat\tframes\tbefore\tafter\tnote\n", w->table.to);
    spread_block(w, "spread", false,
                 w->audit ? "Spread of each subject's frames, as shot to after the cards"
                          : "Spread of each subject's frames, as shot to as delivered");
    spread_block(w, "cameras", true, "Between the cameras, each subject's medians");
    count_verdicts(w, &totals);
    size_t broken = report_cards(w), looked = 0;
    for (size_t i = 0; i < s->count; i++) {
        frame_needs(w, &s->frames[i]);
        looked +=
            s->frames[i].failed == NULL && !s->frames[i].given && !s->frames[i].card_only ? 1 : 0;
    }
    subject_needs(w);
    if (looked > 0)
        person(w, false, "patches", "found", "in %s: look at report/contact.html; patches.tsv wins",
               plural(words, looked, "frame"));
    settings_need(w);
    report_plan_notes(w);
    list_persons(w);
    report_notes(w);
    *status = totals.failed + broken > 0                                        ? 2
              : totals.verdict[3] + totals.verdict[4] + totals.needs_person > 0 ? 1
                                                                                : 0;
    put(w, "%s", "");
    put(w, "%s: %zu on, %zu held, %zu unsure, %zu off, %zu failed%s",
        plural(words, totals.frames, "frame"), totals.verdict[1], totals.verdict[2],
        totals.verdict[3], totals.verdict[4], totals.failed,
        totals.as_it_is > 0 ? ", the rest as they are" : "");
    put(w, "status %d", *status);
    snprintf(n, sizeof n, "%d", *status);
    fprintf(w->table.to, "status\t%s\n", n);
    fprintf(w->json.to,
            "\n ],\n \"frames\": %zu, \"on\": %zu, \"held\": %zu, \"unsure\": %zu, \"off\": %zu, "
            "\"failed\": %zu, \"as_it_is\": %zu,\n \"status\": %d}\n",
            totals.frames, totals.verdict[1], totals.verdict[2], totals.verdict[3],
            totals.verdict[4], totals.failed, totals.as_it_is, *status);
    int text = carn_page_keep(&w->text, "report/summary.txt", w->err);
    int json = carn_page_keep(&w->json, "report/summary.json", w->err);
    int table = carn_page_keep(&w->table, "report/summary.tsv", w->err);
    return text < 0 || json < 0 || table < 0 ? -1 : 0;
}

int carn_report_write(const struct carn_story *story, bool audit, int *status,
                      struct carn_error *err)
{
    struct writing w = {.story = story, .audit = audit, .err = err};
    w.room = carn_alloc(story->count + 1, sizeof *w.room, err);
    w.list = carn_alloc(story->count + 1, sizeof *w.list, err);
    int rc = w.room != NULL && w.list != NULL ? write_before(&w) : -1;
    if (rc == 0 && !audit)
        rc = write_after(&w, "after.tsv", "report/after.tsv");
    if (rc == 0 && !audit)
        rc = write_provenance(&w);
    if (rc == 0)
        rc = write_frames(&w);
    if (rc == 0)
        rc = write_patches(&w);
    if (rc == 0) /* last: what stands here tells that the rest is there */
        rc = write_summary(&w, status);
    for (size_t k = 0; k < w.person_count; k++) {
        free(w.persons[k].about);
        free(w.persons[k].what);
        free(w.persons[k].note);
    }
    free(w.persons);
    free(w.room);
    free(w.list);
    return rc == 0 && err->kind == CARN_NONE ? 0 : -1;
}
