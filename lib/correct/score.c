#include "correct/score.h"

#include "correct/aim_colour.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* With less cyan than this in the aim, 1 % of ink changes the ratio by about 10 %. The reading is
 * then judged by CIEDE2000 alone, and is on up to LIGHT_DIFFERENCE. */
static const double LIGHT_CYAN = 12.0, LIGHT_DIFFERENCE = 1.5;

/* A colour read again within this CIEDE2000 of the end of a cut move is held. */
static const double HELD_DIFFERENCE = 1.0;

/* Differences above these are said in words: per cent of ink, and terms of CIEDE2000. */
static const double INK_WORD = 1.0, PART_WORD = 0.5;

int carn_score_status(const struct carn_score *s)
{
    if (s->verdict == CARN_HELD)
        return s->left > CARN_HELD_FAR;
    return s->verdict == CARN_OFF || s->verdict == CARN_UNSURE;
}

/* ---- on or not ---- */

static bool ratio_holds(double ratio, const struct carn_aim_value *aim)
{
    return fabs(ratio - aim->value) <= aim->tolerance / 100 * aim->value;
}

/* Is the colour near enough, quantity by quantity? */
static bool is_on(const struct carn_reading *r, const struct carn_aim_values *aim,
                  const struct carn_score *s)
{
    const struct carn_aim_value *v = aim->values;
    if ((s->flags & CARN_LOW_CYAN) != 0)
        return s->difference <= LIGHT_DIFFERENCE;
    if (carn_aim_has_ratios(aim) &&
        !(ratio_holds(s->magenta_by_cyan, &v[CARN_MAGENTA_BY_CYAN]) &&
          ratio_holds(s->yellow_by_magenta, &v[CARN_YELLOW_BY_MAGENTA])))
        return false;
    if (v[CARN_HUE].set &&
        !(fabs(carn_hue_difference(v[CARN_HUE].value, carn_hue(r->lab))) <= v[CARN_HUE].tolerance))
        return false;
    if (v[CARN_CHROMA].set &&
        !(fabs(carn_chroma(r->lab) - v[CARN_CHROMA].value) <= v[CARN_CHROMA].tolerance))
        return false;
    if (v[CARN_A].set && !(fabs(r->lab.a - v[CARN_A].value) <= v[CARN_A].tolerance))
        return false;
    if (v[CARN_B].set && !(fabs(r->lab.b - v[CARN_B].value) <= v[CARN_B].tolerance))
        return false;
    return !v[CARN_DIFFERENCE].set || s->difference <= v[CARN_DIFFERENCE].tolerance;
}

static bool is_held(const struct carn_reading *r, const struct carn_curve *curve)
{
    for (size_t i = 0; curve != NULL && i < curve->count; i++)
        if ((curve->moves[i].kind == CARN_TURN || curve->moves[i].kind == CARN_MOVE) &&
            curve->moves[i].cut &&
            carn_ciede2000(r->lab, curve->moves[i].to).total <= HELD_DIFFERENCE)
            return true;
    return false;
}

/* ---- how well the ratios are known ---- */

static void ratios(const struct carn_separation *separation, struct carn_lab lab, double to[2])
{
    struct carn_inks inks = carn_separation_inks(separation, lab);
    to[0] = inks.cyan > 0 ? inks.magenta / inks.cyan : (double)NAN;
    to[1] = inks.magenta > 0 ? inks.yellow / inks.magenta : (double)NAN;
}

/* spread is over three axes, hence the third. */
static void find_errors(const struct carn_reading *r, const struct carn_separation *separation,
                        struct carn_score *s)
{
    const double h = 0.1; /* CIELAB; profiles are only piecewise smooth */
    double square[2] = {0, 0};
    for (int axis = 0; axis < 3; axis++) {
        struct carn_lab low = r->lab, high = r->lab;
        double a[2], b[2];
        *(axis == 0 ? &low.L : axis == 1 ? &low.a : &low.b) -= h;
        *(axis == 0 ? &high.L : axis == 1 ? &high.a : &high.b) += h;
        ratios(separation, low, a);
        ratios(separation, high, b);
        for (int i = 0; i < 2; i++)
            square[i] += pow((b[i] - a[i]) / (2 * h), 2);
    }
    double mean = r->spread / sqrt(3 * (double)r->pixels);
    s->magenta_error = mean * sqrt(square[0]);
    s->yellow_error = mean * sqrt(square[1]);
}

static bool is_vague(const struct carn_aim_values *aim, const struct carn_score *s)
{
    const struct carn_aim_value *m = &aim->values[CARN_MAGENTA_BY_CYAN],
                                *y = &aim->values[CARN_YELLOW_BY_MAGENTA];
    return carn_aim_has_ratios(aim) && (s->flags & CARN_LOW_CYAN) == 0 &&
           (s->magenta_error > m->tolerance / 100 * m->value ||
            s->yellow_error > y->tolerance / 100 * y->value);
}

/* ---- words ---- */

static void say(char *words, size_t size, const char *ink, double by)
{
    size_t used = strlen(words);
    if (fabs(by) > INK_WORD)
        snprintf(words + used, size - used, "%s%s %s by %.0f", used > 0 ? ", " : "", ink,
                 by < 0 ? "low" : "high", fabs(by));
}

/* With the reading's own cyan as yardstick. */
static void ink_words(const struct carn_inks *inks, const struct carn_aim_values *aim, char *words,
                      size_t size)
{
    double m = aim->values[CARN_MAGENTA_BY_CYAN].value;
    double y = m * aim->values[CARN_YELLOW_BY_MAGENTA].value;
    double magenta = inks->magenta - m * inks->cyan, yellow = inks->yellow - y * inks->cyan;
    say(words, size, "magenta", magenta);
    say(words, size, "yellow", yellow);
}

static void colour_words(struct carn_lab aim, struct carn_lab reading, char *words, size_t size)
{
    struct carn_ciede2000 d = carn_ciede2000(aim, reading);
    carn_difference_words(aim, reading, &d, PART_WORD, words, size);
}

/* ---- the score ---- */

int carn_score_reading(const struct carn_reading *r, const struct carn_aim *aim,
                       const struct carn_separation *separation, const struct carn_curve *curve,
                       struct carn_score *s, struct carn_error *err)
{
    struct carn_inks inks;
    struct carn_lab lab = r->lab;
    enum carn_tone tone = carn_tone_of(r->tone);
    struct carn_aim_values at = carn_aim_at(aim, tone, lab.L);
    bool known = !isnan(lab.a) && !isnan(lab.b);
    if (!known) /* inks alone: any start will do to find the aim colour */
        lab.a = lab.b = 20;
    *s = (struct carn_score){.flags = r->flags & ~(unsigned)CARN_LOW_CYAN};
    s->magenta_by_cyan = r->inks.cyan > 0 ? r->inks.magenta / r->inks.cyan : (double)NAN;
    s->yellow_by_magenta = r->inks.magenta > 0 ? r->inks.yellow / r->inks.magenta : (double)NAN;
    s->magenta_error = s->yellow_error = (double)NAN;
    if (known && r->pixels > 0 && !isnan(r->spread))
        find_errors(r, separation, s);
    s->difference = s->left = (double)NAN;
    /* A person's own colour may be known for the middle alone: then that is what is judged. */
    if (carn_aim_is_empty(&at) && carn_aim_has_tone(aim, CARN_TONE_MIDDLE)) {
        strcpy(s->words, "-");
        s->verdict = CARN_UNJUDGED;
        return 0;
    }
    s->has_aim = carn_aim_colour(aim, separation, tone, lab, &s->aim, &inks, err) == 0;
    if (s->has_aim && known)
        s->difference = carn_ciede2000(s->aim, r->lab).total;
    struct carn_lab asked;
    bool cut = carn_aim_is_short(&at, s->aim, &asked);
    if (s->has_aim && known)
        s->left = carn_ciede2000(asked, r->lab).total;
    if (s->has_aim && carn_aim_has_ratios(&at) && inks.cyan < LIGHT_CYAN)
        s->flags |= CARN_LOW_CYAN;
    if (carn_aim_has_ratios(&at))
        ink_words(&r->inks, &at, s->words, sizeof s->words);
    else if (s->has_aim && known)
        colour_words(s->aim, r->lab, s->words, sizeof s->words);
    if (s->words[0] == '\0')
        strcpy(s->words, "-");
    bool unknown =
        isnan(s->difference) && ((s->flags & CARN_LOW_CYAN) != 0 || !carn_aim_has_ratios(&at));
    if (!s->has_aim || unknown || (s->flags & CARN_DOUBTS) != 0 || is_vague(&at, s))
        s->verdict = CARN_UNSURE;
    else if (is_on(r, &at, s))
        s->verdict = cut ? CARN_HELD : CARN_ON;
    else
        s->verdict = known && is_held(r, curve) ? CARN_HELD : CARN_OFF;
    return s->has_aim ? 0 : -1;
}
