#define _XOPEN_SOURCE 700
#include "job/report_own.h"

#include "base/order.h"
#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- verdicts ---- */

/* How many frames of each depth of skin have each verdict. */
typedef size_t counts[CARN_DEPTHS][CARN_VERDICTS];

static void count_frames(const struct report *w, counts counted, struct report_totals *totals)
{
    for (size_t i = 0; i < w->story->count; i++) {
        const struct carn_story_frame *f = &w->story->frames[i];
        if (f->card_only)
            continue;
        totals->frames++;
        totals->failed += f->failed != NULL;
        totals->as_it_is += f->failed == NULL && f->as_it_is;
        totals->needs_person += f->failed == NULL && f->needs_person;
        if (f->failed != NULL || f->as_it_is)
            continue;
        bool measured = report_is_measured(f);
        totals->blind += !measured;
        totals->verdict[measured ? f->verdict : CARN_UNSURE]++;
        if (measured)
            counted[carn_depth(f->neutral.value[CARN_RESULT_L])][f->verdict]++;
    }
}

/* A line a depth. share: of the frames that are on or held, in the depth that has the least and in
 * the one that has the most, per cent. Returns how many depths have frames. */
static size_t put_depths(struct report *w, counts counted, double share[2])
{
    size_t depths = 0;
    char n[32], line[200];
    report_put(w, "  %-7s %6s %6s %6s %6s %6s", "depth", "frames", "on", "held", "unsure", "off");
    for (int d = 0; d < CARN_DEPTHS; d++) {
        size_t all = 0;
        int at = 0;
        for (enum carn_verdict v = CARN_ON; v < CARN_VERDICTS; v++) {
            snprintf(n, sizeof n, "%zu", counted[d][v]);
            report_row(w, "verdict", carn_depths[d], carn_verdict_word(v), n, "-", "-", "-");
            at += snprintf(line + at, sizeof line - (size_t)at, " %6zu", counted[d][v]);
            all += counted[d][v];
        }
        report_put(w, "  %-7s %6zu%s", carn_depths[d], all, line);
        if (all == 0)
            continue;
        double good = 100.0 * (double)(counted[d][CARN_ON] + counted[d][CARN_HELD]) / (double)all;
        share[0] = depths == 0 ? good : fmin(share[0], good);
        share[1] = depths == 0 ? good : fmax(share[1], good);
        depths++;
    }
    return depths;
}

/* Frames of no depth, where there are any: a row, and a line that ends with rest. */
static void put_others(struct report *w, size_t count, const char *what, const char *note,
                       const char *rest)
{
    char n[32];
    if (count == 0)
        return;
    snprintf(n, sizeof n, "%zu", count);
    report_row(w, "verdict", "-", what, n, "-", "-", note);
    report_put(w, "  %-7s %6s%s", "-", n, rest);
}

void report_verdicts(struct report *w, struct report_totals *totals)
{
    counts counted = {{0}};
    double share[2] = {0, 0};
    char blind[64], gap[CARN_NUMBER];
    count_frames(w, counted, totals);
    report_put(w, "Verdicts by depth (light: L* over 60, deep: under 45), aim %s%s",
               report_setting(w, "AIM"), w->audit ? ", uncorrected" : "");
    size_t depths = put_depths(w, counted, share);
    snprintf(blind, sizeof blind, "%21zu         no skin found", totals->blind);
    put_others(w, totals->blind, "unsure", "no skin found", blind);
    put_others(w, totals->as_it_is, "as it is", "grey or of one colour",
               "  grey or of one colour, delivered as they are");
    put_others(w, totals->failed, "failed", "-", "  failed");
    if (depths > 1) {
        report_row(w, "verdict", "gap", "on or held", "-", "-",
                   carn_number_text(gap, share[1] - share[0], 1), "per cent between the depths");
        report_put(w,
                   "  on or held: %.0f %% at least in each depth, %.0f %% at most; the gap is %.0f",
                   share[0], share[1], share[1] - share[0]);
    }
    if (!w->audit && strcmp(report_setting(w, "LOOK"), "none") != 0)
        report_put(w, "  judged before the look, which leaves the aim on purpose");
    report_put(w, "%s", "");
}

/* ---- cards ---- */

size_t report_cards(struct report *w)
{
    const struct carn_story *s = w->story;
    double *levels = carn_alloc(s->cards + 1, sizeof *levels, w->err), low = 0, high = 0;
    size_t known = 0, broken = 0, without = 0;
    char words[64], a[32], note[40];
    for (size_t k = 0; levels != NULL && k < s->cards; k++) {
        const struct carn_story_card *c = &s->card[k];
        if (c->failed != NULL) {
            broken++;
            report_person(w, false, c->name, "card",
                          "could not be measured, %s went without the neutral step: %s",
                          report_plural(words, c->used, "frame"), c->failed);
            continue;
        }
        if (strcmp(c->flags, "-") != 0)
            report_person(w, false, c->name, "card",
                          "its patch is %s, and the neutral of %s is made from it", c->flags,
                          report_plural(words, c->used, "frame"));
        levels[known++] = log2(pow((c->L + 16) / 116, 3));
    }
    double level = known > 0 ? carn_median(levels, known) : 0;
    if (known > 0)
        report_put(w, "Cards, exposure against their middle");
    for (size_t k = 0; k < s->cards; k++) {
        const struct carn_story_card *c = &s->card[k];
        if (c->failed != NULL)
            continue;
        double stops = round((log2(pow((c->L + 16) / 116, 3)) - level) * 100) / 100 + 0.0;
        low = fmin(low, stops);
        high = fmax(high, stops);
        snprintf(a, sizeof a, "%+.2f", stops);
        snprintf(note, sizeof note, "L* %.1f", c->L);
        report_row(w, "card", c->name, "stops", "-", a, "-", note);
        report_put(w, "  %-*s %s, %s stops", carn_fill(c->name, 24), c->name, note, a);
    }
    if (known > 0)
        report_put(w, "%s", "");
    if (high - low > 0.1)
        report_person(w, false, "cards", "exposure", "differ by %.2f stops%s", high - low,
                      s->settings != NULL && access("work/level", F_OK) == 0
                          ? ", equalised"
                          : "; EQUALISE = yes in the Makefile brings all to one level");
    for (size_t i = 0; i < s->count; i++)
        without += strcmp(s->frames[i].card, "-") == 0 && !s->frames[i].card_only ? 1 : 0;
    if (without > 0)
        report_person(w, false, "cards", "missing",
                      "%s without a card in job.tsv, so without the neutral step",
                      report_plural(words, without, "frame"));
    free(levels);
    return broken;
}

/* ---- who needs a person ---- */

void report_frame(struct report *w, const struct carn_story_frame *f)
{
    bool words = strcmp(f->words, "-") != 0, flags = strcmp(f->flags, "-") != 0;
    bool none = f->ground == CARN_GROUND_NONE;
    if (f->failed != NULL) {
        report_person(w, true, f->name, "failed", "%s", f->failed);
        if (f->not_renewed)
            report_person(w, true, f->name, "not renewed",
                          "out/%s is the picture of an earlier run; it is kept", f->out);
        return;
    }
    if (f->card_only && !w->audit) {
        char out[4300];
        snprintf(out, sizeof out, "out/%s", f->out);
        if (access(out, F_OK) == 0)
            report_person(w, false, "out/", "not asked for",
                          "%s: of an earlier run, %s is a card alone now; `carn-job JOB tidy' "
                          "removes it",
                          f->out, f->name);
    }
    if (f->as_it_is || f->card_only)
        return;
    if (none)
        report_person(
            w, true, f->name, "borrowed",
            "no skin found in it: its group's curve, not measured; a row in patches.tsv says "
            "where");
    else if (!f->given && !f->sure && (f->corrected || w->audit))
        report_person(w, true, f->name, "borrowed",
                      "where skin was found is unsure (%.2f): its group's curve", f->confidence);
    else if (!f->given && !f->sure)
        report_person(
            w, true, f->name, "uncorrected",
            "where skin was found is unsure (%.2f), and no frame of its group is sure: delivered "
            "as it is after the card; a row in patches.tsv says where skin is",
            f->confidence);
    if (f->faces > 1 && !f->given && strchr(f->subject, ',') == NULL &&
        strcmp(f->subject, "-") != 0)
        report_person(w, true, f->name, "faces", "%zu faces found, the largest is measured",
                      f->faces);
    if (!none && (f->verdict >= CARN_UNSURE))
        report_person(w, true, f->name, carn_verdict_word(f->verdict), "%s%s%s%s",
                      words ? f->words : "", words && flags ? "; " : "", flags ? "flags " : "",
                      flags ? f->flags : "");
    if (f->needs_person)
        report_person(w, true, f->name, "held", "with CIEDE2000 %.1f left to its colour%s%s",
                      f->judged.held_difference, words ? "; " : "", words ? f->words : "");
    if (f->frozen != NULL)
        report_person(w, true, f->name, "approved", "%s", f->frozen);
    if (f->outlier)
        report_person(
            w, true, f->name, "outlier",
            "its reading lies %.1f from the middle of its group (CIE76, %.1f times what is usual "
            "there); corrected with the group's curve",
            f->far, f->far / f->scale);
}

void report_subjects(struct report *w)
{
    const struct carn_story *s = w->story;
    const char *follow = report_setting(w, "FOLLOW");
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
            report_person(w, false, f->subject, "follow",
                          "no picture by %s to follow: those by %s keep to the aim", follow,
                          f->camera);
    }
    if (nameless > 0)
        report_person(w, false, "job.tsv", "subject",
                      "%s without a subject: each has a curve of its own",
                      report_plural(words, nameless, "frame"));
}
