#include "correct/proof.h"

#include "base/match.h"
#include "base/tone.h"
#include "colour/lab.h"

#include <complex.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* Limits of carn-score(1). Largest |dL*| of a tone; the spread of hue after, as a factor of before
 * plus degrees; per cent of skin that may turn green; CIEDE2000 of light and shade from where the
 * middle's turn puts them. */
static const double LIGHTNESS = 0.3, SPREAD = 1.25, SPREAD_MORE = 0.5, GREENED = 0.5, TONE = 2.0;

double carn_proof_most_spread(double before)
{
    return SPREAD * before + SPREAD_MORE;
}

/* What a call works on. */
struct proving {
    const struct carn_readings *now, *before;
    const struct carn_aim *const *aims;
    struct carn_score *scores;
    struct carn_proof *proofs;
};

/* "in the light", "in the middle", "in the shade"; "" for none. */
static const char *place(enum carn_tone tone)
{
    static const char *const places[] = {" in the light", " in the middle", " in the shade", ""};
    return places[tone];
}

static bool is_face(const struct carn_reading *a, const struct carn_reading *b)
{
    return strcmp(a->frame, b->frame) == 0 && strcmp(a->patch, b->patch) == 0 &&
           strcmp(a->subject, b->subject) == 0;
}

/* The row of this face and tone, or NULL. */
static const struct carn_reading *find_tone(const struct carn_readings *readings,
                                            const struct carn_reading *face, enum carn_tone tone)
{
    for (size_t i = 0; i < readings->count; i++)
        if (is_face(&readings->rows[i], face) && carn_tone_of(readings->rows[i].tone) == tone)
            return &readings->rows[i];
    return NULL;
}

static const struct carn_reading *find_before(const struct carn_readings *before,
                                              const struct carn_reading *r)
{
    for (size_t i = 0; before != NULL && i < before->count; i++) {
        const struct carn_reading *b = &before->rows[i];
        if (strcmp(b->patch, r->patch) == 0 && strcmp(b->tone, r->tone) == 0 &&
            carn_table_serves(b->frame, r->frame) >= 2)
            return b;
    }
    return NULL;
}

/* Puts a cause before the words of a score, which is off with it. */
static void say(struct carn_score *s, const char *cause)
{
    char words[sizeof s->words];
    bool others = s->words[0] != '\0' && strcmp(s->words, "-") != 0;
    snprintf(words, sizeof words, "%s%s%.*s", cause, others ? ", " : "",
             others ? (int)(sizeof words / 2) : 0, s->words);
    memcpy(s->words, words, sizeof words);
    s->verdict = CARN_OFF;
}

/* ---- light and shade ---- */

/* Does its frame have a middle for the aim to judge? */
static bool has_middle(const struct carn_readings *readings, const struct carn_reading *r)
{
    for (size_t i = 0; i < readings->count; i++)
        if (carn_tone_of(readings->rows[i].tone) == CARN_TONE_MIDDLE &&
            strcmp(readings->rows[i].frame, r->frame) == 0)
            return true;
    return false;
}

static double complex plane(const struct carn_reading *r)
{
    return r->lab.a + I * r->lab.b;
}

/* How far a tone lies from where the turn of its face's middle puts it; NAN unknown. */
static double off_turn(const struct proving *p, const struct carn_reading *now,
                       const struct carn_reading *before)
{
    const struct carn_reading *middle = find_tone(p->now, now, CARN_TONE_MIDDLE);
    const struct carn_reading *was = find_tone(p->before, before, CARN_TONE_MIDDLE);
    if (middle == NULL || was == NULL)
        return (double)NAN;
    double complex to = plane(before) * plane(middle) / plane(was);
    struct carn_lab wanted = {now->lab.L, creal(to), cimag(to)};
    return carn_ciede2000(wanted, now->lab).total;
}

static void judge_tone(const struct proving *p, size_t i, const struct carn_reading *before)
{
    const struct carn_reading *r = &p->now->rows[i];
    struct carn_score *s = &p->scores[i];
    enum carn_tone tone = carn_tone_of(r->tone);
    char cause[64];
    if ((tone != CARN_TONE_LIGHT && tone != CARN_TONE_SHADE) ||
        carn_aim_has_tone(p->aims[i], tone) || !has_middle(p->now, r))
        return;
    strcpy(s->words, "-");
    s->verdict = (s->flags & CARN_DOUBTS) != 0 ? CARN_UNSURE : CARN_UNJUDGED;
    double off = before != NULL ? off_turn(p, r, before) : (double)NAN;
    if (off > TONE) {
        snprintf(cause, sizeof cause, "%s %.1f off the middle's turn", carn_tone_word(tone), off);
        say(s, cause);
    } else if (off <= TONE && s->verdict == CARN_UNJUDGED) {
        s->verdict = CARN_ON;
    }
}

/* ---- before and after ---- */

static void judge_lightness(struct carn_score *s, const struct carn_proof *proof,
                            enum carn_tone tone)
{
    char cause[64];
    if (!(fabs(proof->dL) > LIGHTNESS))
        return;
    snprintf(cause, sizeof cause, "%s by %.1f%s", proof->dL > 0 ? "lighter" : "deeper",
             fabs(proof->dL), place(tone));
    say(s, cause);
}

/* The tone of the face whose hue went farthest toward green; none when no tone's went by a degree:
 * parts of each did. */
static enum carn_tone greenest(const struct proving *p, const struct carn_reading *face)
{
    enum carn_tone found = CARN_UNTONED;
    double most = 1.0;
    for (enum carn_tone t = CARN_TONE_LIGHT; t <= CARN_TONE_SHADE; t++) {
        const struct carn_reading *r = find_tone(p->now, face, t);
        const struct carn_reading *b = r != NULL ? find_before(p->before, r) : NULL;
        double by = b != NULL ? carn_hue_difference(carn_hue(b->lab), carn_hue(r->lab)) : 0;
        if (by > most) {
            most = by;
            found = t;
        }
    }
    return found;
}

/* Of the whole face, told at its middle. */
static void judge_spread(const struct proving *p, size_t i)
{
    const struct carn_reading *r = &p->now->rows[i];
    const struct carn_proof *proof = &p->proofs[i];
    char cause[64];
    if (r->hue_spread > carn_proof_most_spread(proof->hue_spread)) {
        snprintf(cause, sizeof cause, "hue spread %.1f to %.1f degrees", proof->hue_spread,
                 r->hue_spread);
        say(&p->scores[i], cause);
    }
    if (r->greened > proof->greened + GREENED) {
        enum carn_tone tone = greenest(p, r);
        snprintf(cause, sizeof cause, "%s turned green",
                 tone == CARN_UNTONED ? "skin" : carn_tone_word(tone));
        say(&p->scores[i], cause);
    }
}

/* What is amiss in the other tones of the middle's face. */
static void take_tones(const struct proving *p, size_t middle)
{
    for (size_t i = 0; i < p->now->count; i++) {
        const struct carn_reading *r = &p->now->rows[i];
        enum carn_tone tone = carn_tone_of(r->tone);
        char cause[96];
        if (i == middle || !is_face(r, &p->now->rows[middle]) || p->scores[i].verdict != CARN_OFF ||
            (tone != CARN_TONE_LIGHT && tone != CARN_TONE_SHADE))
            continue;
        if (carn_aim_has_tone(p->aims[i], tone) && !(fabs(p->proofs[i].dL) > LIGHTNESS)) {
            snprintf(cause, sizeof cause, "%s %.1f from the person's own", carn_tone_word(tone),
                     p->scores[i].difference);
            say(&p->scores[middle], cause);
        } else {
            snprintf(cause, sizeof cause, "%.*s", (int)sizeof cause - 1, p->scores[i].words);
            say(&p->scores[middle], cause);
        }
    }
}

void carn_prove(const struct carn_readings *readings, const struct carn_aim *const *aims,
                const struct carn_readings *before, struct carn_score *scores,
                struct carn_proof *proofs)
{
    struct proving p = {readings, before, aims, scores, proofs};
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i], *b = find_before(before, r);
        const double none = (double)NAN;
        proofs[i] = (struct carn_proof){false, none, none, none};
        if (b != NULL)
            proofs[i] = (struct carn_proof){true, r->lab.L - b->lab.L, b->hue_spread, b->greened};
        if (!carn_reading_is_skin(r) || aims[i] == NULL)
            continue;
        judge_tone(&p, i, b);
        judge_lightness(&scores[i], &proofs[i], carn_tone_of(r->tone));
    }
    for (size_t i = 0; i < readings->count; i++) {
        enum carn_tone tone = carn_tone_of(readings->rows[i].tone);
        if (tone != CARN_TONE_MIDDLE || aims[i] == NULL)
            continue;
        judge_spread(&p, i);
        take_tones(&p, i);
    }
}
