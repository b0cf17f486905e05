/* carn-differ: how two reading tables differ, in figures and words. */
#include "base/tone.h"
#include "base/tool.h"
#include "colour/lab.h"
#include "correct/pair.h"
#include "correct/reading.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* About what is just seen side by side (common practice, no source). */
static const double TOLERANCE = 1.0;

/* A term of CIEDE2000 gets a word when its root is over this. */
static const double WORD = 0.5;

static void print_difference(const char *subject, const char *patch, const char *tone, size_t pairs,
                             struct carn_lab x, struct carn_lab y)
{
    struct carn_ciede2000 d = carn_ciede2000(x, y);
    char words[128];
    carn_difference_words(x, y, &d, WORD, words, sizeof words);
    const char *const texts[] = {subject, patch, tone};
    for (size_t i = 0; i < 3; i++) {
        carn_table_print(stdout, texts[i]);
        putchar('\t');
    }
    const double figures[] = {x.L,
                              x.a,
                              x.b,
                              y.L,
                              y.a,
                              y.b,
                              y.L - x.L,
                              y.a - x.a,
                              y.b - x.b,
                              carn_chroma(y) - carn_chroma(x),
                              carn_hue_difference(carn_hue(x), carn_hue(y)),
                              d.total,
                              d.lightness,
                              d.chroma,
                              d.hue,
                              d.cross};
    printf("%zu", pairs);
    for (size_t i = 0; i < sizeof figures / sizeof *figures; i++) {
        putchar('\t');
        carn_print_number(stdout, figures[i], 4);
    }
    printf("\t%s\n", words[0] != '\0' ? words : "-");
}

/* One row a tone: the mean colours of its pairs. */
static void print_tones(const struct carn_pairs *pairs)
{
    static const enum carn_tone tones[] = {CARN_TONE_LIGHT, CARN_TONE_MIDDLE,   CARN_TONE_SHADE,
                                           CARN_TONE_CARD,  CARN_TONE_BACKDROP, CARN_UNTONED};
    for (size_t t = 0; t < sizeof tones / sizeof *tones; t++) {
        struct carn_lab x, y;
        size_t n = carn_pairs_mean(pairs, tones[t], &x, &y);
        if (n > 0)
            print_difference("*", "*", carn_tone_word(tones[t]), n, x, y);
    }
}

static void differ(struct carn_tool *tool, const struct carn_pairs *pairs, double tolerance)
{
    fputs("subject\tpatch\ttone\tpairs\tfirst_L\tfirst_a\tfirst_b\tsecond_L\tsecond_a\tsecond_b\t"
          "dL\tda\tdb\tdC\tdh\tciede2000\tlightness\tchroma\thue\tcross\twords\n",
          stdout);
    for (size_t i = 0; i < pairs->whole; i++) {
        const struct carn_pair *p = &pairs->pairs[i];
        print_difference(p->subject, p->patch, p->tone, 1, p->first, p->second);
        if (carn_ciede2000(p->first, p->second).total > tolerance)
            tool->status = 1;
    }
    print_tones(pairs);
    for (size_t i = pairs->whole; i < pairs->count; i++) {
        const struct carn_pair *p = &pairs->pairs[i];
        fprintf(stderr, "%s: note: subject '%s' patch '%s' tone '%s' is only in the %s table\n",
                tool->name, p->subject, p->patch, p->tone, p->first_rows > 0 ? "first" : "second");
    }
}

int main(int argc, char **argv)
{
    enum { ANY = 256 };
    bool any_subject = false;
    const struct carn_option options[] = {
        {'t', "tolerance", "CIEDE2000",
         .help = "the status is 1 when a pair lies farther apart (1)"},
        {ANY, "any-subject", NULL, "pair rows of different subjects as well", .flag = &any_subject},
        {0},
    };
    struct carn_tool tool = {.name = "carn-differ",
                             .operands = "FIRST SECOND >DIFFERENCES",
                             .purpose = "Tells how two tables of readings differ.",
                             .options = options};
    double tolerance = TOLERANCE;

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0)
        if (carn_number(tool.value, "--tolerance", &tolerance, &tool.err) != 0)
            return carn_tool_end(&tool);
    if (key == 0 && tolerance < 0)
        carn_fail(&tool.err, CARN_USAGE, "--tolerance: %g is under 0", tolerance);
    if (key == 0 && argc - optind != 2)
        carn_fail(&tool.err, CARN_USAGE, "two tables of readings, not %d", argc - optind);
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    struct carn_readings first = {0}, second = {0};
    struct carn_pairs pairs = {0};

    /* data */
    if (carn_readings_read(argv[optind], CARN_NEED_LAB, &first, &tool.err) == 0 &&
        carn_readings_read(argv[optind + 1], CARN_NEED_LAB, &second, &tool.err) == 0 &&
        carn_pairs_make(&first, &second, any_subject, &pairs, &tool.err) == 0)
        differ(&tool, &pairs, tolerance);

    /* clean up */
    carn_pairs_clear(&pairs);
    carn_readings_clear(&first);
    carn_readings_clear(&second);
    return carn_tool_end(&tool);
}
