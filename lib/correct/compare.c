#include "correct/compare.h"

#include "base/tone.h"
#include "colour/lab.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What is worth a word: a difference in L*, a* or b*; in stops of exposure; the share by which the
 * surface of one camera is less. MOST: the tone with the largest difference is named where that is
 * larger than the smallest by this share of itself. Common practice, no source. */
static const double COLOUR = 1, STOPS = 0.05, LESS = 0.1, MOST = 0.2;

/* Tones of skin, and what a sentence calls them. */
enum { TONES = 4 };
static const enum carn_tone tones[TONES] = {CARN_TONE_LIGHT, CARN_TONE_MIDDLE, CARN_TONE_SHADE,
                                            CARN_UNTONED};
static const char *const places[TONES] = {"lights", "middle", "shade", "skin"};

/* Words of one row, and those of all rows. */
enum { SENTENCE = 1024, WORDS = 8192 };

struct telling {
    const struct carn_compare *is;
    FILE *to;
    char all[WORDS];
};

/* ---- words ---- */

/* Adds a sentence, if it is one, to words. */
static void join(char *words, size_t size, const char *sentence)
{
    size_t used = strlen(words);
    if (sentence[0] != '\0')
        snprintf(words + used, size - used, "%s%s", used > 0 ? "; " : "", sentence);
}

/* Adds that the camera with more of d, second less first, is so. */
static void say_more(const struct telling *t, const char *word, double d, char *words)
{
    char sentence[SENTENCE] = "";
    if (fabs(d) > COLOUR)
        snprintf(sentence, sizeof sentence, "%s is %s", t->is->names[d > 0 ? 1 : 0], word);
    join(words, SENTENCE, sentence);
}

/* Tones joined by "and". */
static void add_place(char *list, const char *place)
{
    size_t used = strlen(list);
    snprintf(list + used, 64 - used, "%s%s", used > 0 ? " and " : "", place);
}

/* Tells of one quantity by tone which camera has more of it, and in which tones. */
static void tell_tones(struct telling *t, const char *word, const bool *known, const double *d)
{
    char up[64] = "", down[64] = "", sentence[SENTENCE] = "";
    const char *const *names = t->is->names, *most = "";
    size_t count = 0, told = 0;
    double low = INFINITY, high = 0;
    for (size_t i = 0; i < TONES; i++) {
        if (!known[i])
            continue;
        count++;
        if (!(fabs(d[i]) > COLOUR)) {
            low = 0;
            continue;
        }
        told++;
        add_place(d[i] > 0 ? up : down, places[i]);
        low = fmin(low, fabs(d[i]));
        most = fabs(d[i]) > high ? places[i] : most;
        high = fmax(high, fabs(d[i]));
    }
    const char *who = names[up[0] != '\0' ? 1 : 0];
    if (up[0] != '\0' && down[0] != '\0')
        snprintf(sentence, sizeof sentence, "%s is %s in the %s, %s in the %s", names[0], word,
                 down, names[1], up);
    else if (told > 0 && told < count)
        snprintf(sentence, sizeof sentence, "%s is %s in the %s", who, word,
                 up[0] != '\0' ? up : down);
    else if (told > 0)
        snprintf(sentence, sizeof sentence, "%s is %s%s%s", who, word,
                 count > 1 && high - low > MOST * high ? ", most in the " : "",
                 count > 1 && high - low > MOST * high ? most : "");
    join(t->all, WORDS, sentence);
}

/* ---- rows ---- */

static void put_colour(FILE *to, struct carn_lab lab)
{
    const double v[] = {lab.L, lab.a, lab.b};
    for (size_t i = 0; i < 3; i++) {
        fputc(i > 0 ? ' ' : '\t', to);
        carn_print_number(to, v[i], 2);
    }
}

static void put_words(FILE *to, const char *words)
{
    fputc('\t', to);
    carn_table_print(to, words);
    fputc('\n', to);
}

static void put_colours(struct telling *t)
{
    double dL[TONES], da[TONES], db[TONES];
    bool known[TONES];
    for (size_t i = 0; i < TONES; i++) {
        char words[SENTENCE] = "";
        struct carn_lab x, y;
        size_t count = carn_pairs_mean(t->is->pairs, tones[i], &x, &y);
        known[i] = count > 0;
        if (!known[i])
            continue;
        dL[i] = y.L - x.L;
        da[i] = y.a - x.a;
        db[i] = y.b - x.b;
        fprintf(t->to, "colour\t%s\t%zu", carn_tone_word(tones[i]), count);
        put_colour(t->to, x);
        put_colour(t->to, y);
        put_colour(t->to, (struct carn_lab){dL[i], da[i], db[i]});
        fprintf(t->to, "\tL* a* b*\t%.2f", carn_ciede2000(x, y).total);
        say_more(t, "yellower", db[i], words);
        say_more(t, "more magenta", da[i], words);
        say_more(t, "lighter", dL[i], words);
        put_words(t->to, words);
    }
    tell_tones(t, "yellower", known, db);
    tell_tones(t, "more magenta", known, da);
    tell_tones(t, "lighter", known, dL);
}

/* The luminance of a grey of this L* in stops, 0 for white. */
static double stops_of(double L)
{
    const struct carn_lab grey = {L, 0, 0};
    return log2(carn_lab_to_xyz(grey, carn_d50).Y);
}

/* Exposure from the cards' L*, as the mean of stops. */
static void put_exposure(struct telling *t)
{
    const struct carn_pairs *pairs = t->is->pairs;
    double stops[2] = {0, 0};
    size_t cards = 0;
    char words[SENTENCE] = "";
    for (size_t i = 0; i < pairs->whole; i++) {
        const struct carn_pair *p = &pairs->pairs[i];
        if (carn_tone_of(p->tone) != CARN_TONE_CARD)
            continue;
        cards++;
        stops[0] += stops_of(p->first.L);
        stops[1] += stops_of(p->second.L);
    }
    if (cards == 0)
        return;
    stops[0] /= (double)cards;
    stops[1] /= (double)cards;
    double d = stops[1] - stops[0];
    if (!(fabs(d) < STOPS))
        snprintf(words, sizeof words, "%s is exposed %.2f stops more", t->is->names[d > 0 ? 1 : 0],
                 fabs(d));
    fprintf(t->to, "exposure\tcard\t%zu\t%.4f\t%.4f\t%+.3f\tstops\t-", cards, exp2(stops[0]),
            exp2(stops[1]), d);
    put_words(t->to, words);
    join(t->all, WORDS, words);
}

/* ---- surface ---- */

/* Root mean squares, a column each; the details are the bands of periods under 1/8 of the patch's
 * width. */
enum { DETAIL, MOTTLE = 4, COLUMNS = 6 };
static const char *const columns[COLUMNS] = {"rms_L_8",  "rms_L_16", "rms_L_32",
                                             "rms_L_64", "mottle_a", "mottle_b"};

/* Means of a patch of one subject and tone, over its rows by each camera. */
struct key {
    const char *subject, *patch, *tone;
    double sum[2][COLUMNS];
    size_t rows[2][COLUMNS];
};

static int camera_of(const struct telling *t, size_t row)
{
    const char *camera = carn_table_at(t->is->surface, row, "camera");
    return strcmp(camera, t->is->names[0]) == 0 ? 0 : strcmp(camera, t->is->names[1]) == 0 ? 1 : -1;
}

/* Has the table numbers to compare, and rows of both cameras? */
static int check_surface(const struct telling *t, struct carn_error *err)
{
    const struct carn_table *surface = t->is->surface;
    bool any = false, rows[2] = {false, false};
    for (size_t c = 0; c < COLUMNS; c++) {
        int column = carn_table_find(surface, columns[c]);
        double v;
        any = any || column >= 0;
        for (size_t i = 0; i < carn_table_rows(surface); i++)
            if (carn_table_number(surface, i, column, &v, err) < 0)
                return -1;
    }
    if (!any)
        return carn_fail_at(err, CARN_INPUT, carn_table_label(surface),
                            "no column of carn-surface in the header");
    for (size_t i = 0; i < carn_table_rows(surface); i++)
        if (camera_of(t, i) >= 0)
            rows[camera_of(t, i)] = true;
    for (size_t k = 0; k < 2; k++)
        if (!rows[k])
            return carn_fail_at(err, CARN_INPUT, carn_table_label(surface), "no row of camera '%s'",
                                t->is->names[k]);
    return 0;
}

/* The row's key, added to keys when it is new. */
static struct key *find_key(const struct telling *t, size_t row, struct key *keys, size_t *count)
{
    const struct carn_table *surface = t->is->surface;
    const struct key own = {
        .subject = t->is->any_subject ? "-" : carn_table_text(surface, row, "subject"),
        .patch = carn_table_text(surface, row, "patch"),
        .tone = carn_table_text(surface, row, "tone"),
    };
    for (size_t i = 0; i < *count; i++)
        if (strcmp(keys[i].subject, own.subject) == 0 && strcmp(keys[i].patch, own.patch) == 0 &&
            strcmp(keys[i].tone, own.tone) == 0)
            return &keys[i];
    keys[*count] = own;
    return &keys[(*count)++];
}

static size_t read_keys(const struct telling *t, struct key *keys)
{
    const struct carn_table *surface = t->is->surface;
    size_t count = 0;
    for (size_t i = 0; i < carn_table_rows(surface); i++) {
        int camera = camera_of(t, i);
        if (camera < 0 || !carn_tone_is_skin(carn_table_text(surface, i, "tone")))
            continue;
        struct key *key = find_key(t, i, keys, &count);
        for (size_t c = 0; c < COLUMNS; c++) {
            double v = carn_table_value(surface, i, columns[c]);
            if (isnan(v))
                continue;
            key->sum[camera][c] += v;
            key->rows[camera][c]++;
        }
    }
    return count;
}

/* Over the columns from..to - 1 that both cameras have, the root of the sum of squares, averaged
 * over the keys; how many keys have any. */
static size_t mean_surface(const struct key *keys, size_t count, size_t from, size_t to,
                           double mean[2])
{
    size_t got = 0;
    mean[0] = mean[1] = 0;
    for (size_t i = 0; i < count; i++) {
        double squares[2] = {0, 0};
        bool any = false;
        for (size_t c = from; c < to; c++) {
            if (keys[i].rows[0][c] == 0 || keys[i].rows[1][c] == 0)
                continue;
            any = true;
            for (size_t k = 0; k < 2; k++) {
                double v = keys[i].sum[k][c] / (double)keys[i].rows[k][c];
                squares[k] += v * v;
            }
        }
        if (!any)
            continue;
        mean[0] += sqrt(squares[0]);
        mean[1] += sqrt(squares[1]);
        got++;
    }
    for (size_t k = 0; k < 2 && got > 0; k++)
        mean[k] /= (double)got;
    return got;
}

static void put_surface(struct telling *t, const char *what, size_t count, const double mean[2],
                        const char *unit, const char *noun)
{
    char words[SENTENCE] = "";
    if (count == 0 || !(mean[0] > 0) || !(mean[1] > 0))
        return;
    bool first = mean[0] < mean[1];
    double less = first ? 1 - mean[0] / mean[1] : 1 - mean[1] / mean[0];
    if (!(less < LESS))
        snprintf(words, sizeof words, "%s keeps %.0f %% less %s", t->is->names[first ? 0 : 1],
                 100 * less, noun);
    fprintf(t->to, "surface\t%s\t%zu\t%.3f\t%.3f\t%+.0f\t%% of %s\t-", what, count, mean[0],
            mean[1], 100 * (mean[1] / mean[0] - 1), unit);
    put_words(t->to, words);
    join(t->all, WORDS, words);
}

static void put_surfaces(struct telling *t, const struct key *keys, size_t count)
{
    double mean[2];
    size_t got = mean_surface(keys, count, DETAIL, MOTTLE, mean);
    put_surface(t, "detail", got, mean, "L*", "fine detail");
    got = mean_surface(keys, count, MOTTLE, COLUMNS, mean);
    put_surface(t, "mottle", got, mean, "a* b*", "mottle");
}

/* ---- the table ---- */

int carn_compare_print(const struct carn_compare *compare, FILE *to, struct carn_error *err)
{
    struct telling t = {.is = compare, .to = to};
    const struct carn_table *surface = compare->surface;
    struct key *keys = NULL;
    if (surface != NULL &&
        (check_surface(&t, err) != 0 ||
         (keys = carn_alloc(carn_table_rows(surface), sizeof *keys, err)) == NULL))
        return -1;
    fputs("what\ttone\tpairs\tfirst\tsecond\tdifference\tunit\tciede2000\twords\ncamera\t-\t-\t",
          to);
    carn_table_print(to, compare->names[0]);
    fputc('\t', to);
    carn_table_print(to, compare->names[1]);
    fputs("\t-\t-\t-\t-\n", to);
    put_colours(&t);
    put_exposure(&t);
    if (surface != NULL)
        put_surfaces(&t, keys, read_keys(&t, keys));
    free(keys);
    fputs("all\t*\t-\t-\t-\t-\t-\t-", to);
    put_words(to, t.all[0] != '\0' ? t.all : "no difference worth a word");
    return 0;
}
