#define _XOPEN_SOURCE 700
#include "job/explain.h"

#include "base/match.h"
#include "correct/curve.h"
#include "job/files.h"
#include "job/flat.h"
#include "job/kept.h"
#include "job/record.h"
#include "job/step.h"
#include "job/story.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void number(FILE *to, const char *before, double v, int decimals)
{
    fputs(before, to);
    carn_print_number(to, v, decimals);
}

static void colour(FILE *to, const struct carn_result *r)
{
    static const struct {
        const char *before;
        enum carn_result_value which;
        int decimals;
    } parts[] = {{"L* ", CARN_RESULT_L, 1},
                 {" a* ", CARN_RESULT_A, 1},
                 {" b* ", CARN_RESULT_B, 1},
                 {", hue ", CARN_RESULT_HUE, 1},
                 {", chroma ", CARN_RESULT_CHROMA, 1},
                 {", C M Y K ", CARN_RESULT_CYAN, 0},
                 {" ", CARN_RESULT_MAGENTA, 0},
                 {" ", CARN_RESULT_YELLOW, 0},
                 {" ", CARN_RESULT_BLACK, 0},
                 {", M/C ", CARN_RESULT_MAGENTA_BY_CYAN, 2},
                 {", Y/M ", CARN_RESULT_YELLOW_BY_MAGENTA, 2}};
    if (r->rows == 0) {
        fputs("not measured", to);
        return;
    }
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++)
        number(to, parts[i].before, r->value[parts[i].which], parts[i].decimals);
}

static void lab(FILE *to, const char *cell)
{
    double v[3];
    char *end = NULL;
    const char *at = cell;
    for (int i = 0; i < 3; i++, at = end) {
        v[i] = strtod(at, &end);
        if (end == at) {
            carn_show(to, cell);
            return;
        }
    }
    fprintf(to, "L* %.1f a* %.1f b* %.1f", v[0], v[1], v[2]);
}

/* One row of a curve in words: kind, from, to, asked, note. */
static void move(FILE *to, const char *const cells[5], bool first)
{
    fprintf(to, "%s%s ", first ? "" : "; ", cells[0]);
    lab(to, cells[1]);
    fputs(" to ", to);
    lab(to, cells[2]);
    if (cells[3][0] != '\0' && strcmp(cells[3], "-") != 0) {
        fputs(", asked ", to);
        lab(to, cells[3]);
    }
    if (cells[4][0] != '\0' && strcmp(cells[4], "-") != 0) {
        fputs(" (", to);
        carn_show(to, cells[4]);
        fputc(')', to);
    }
}

/* A curve as provenance has it. */
static void moves(FILE *to, const char *flat, struct carn_error *err)
{
    char *text = carn_copy(flat, err), *rest = text;
    const char *cells[CARN_CURVE_COLUMNS];
    bool any = false;
    for (; carn_flat_next(&rest, cells, CARN_CURVE_COLUMNS); any = true)
        move(to, cells, !any);
    if (!any)
        fputs("none", to);
    free(text);
}

static void curve_file(FILE *to, const char *path)
{
    struct carn_error ignored = {0};
    struct carn_table *table = carn_table_read(path, &ignored);
    for (size_t i = 0; table != NULL && i < carn_table_rows(table); i++) {
        const char *cells[5];
        for (size_t c = 0; c < 5; c++)
            cells[c] = carn_table_at(table, i, carn_curve_columns[c]);
        move(to, cells, i == 0);
    }
    if (table == NULL || carn_table_rows(table) == 0)
        fputs("none", to);
    carn_table_close(table);
}

static bool same_stem(const char *a, const char *b)
{
    size_t n = carn_stem(a);
    return n == carn_stem(b) && strncmp(a, b, n) == 0;
}

static const struct carn_story_frame *find(const struct carn_story *story, const char *name)
{
    const struct carn_story_frame *best = NULL;
    int highest = 0;
    for (size_t i = 0; i < story->count; i++) {
        const struct carn_story_frame *f = &story->frames[i];
        int rank = strcmp(f->name, name) == 0  ? 3
                   : strcmp(f->out, name) == 0 ? 2
                                               : same_stem(f->name, name);
        best = rank > highest ? f : best;
        highest = rank > highest ? rank : highest;
    }
    return best;
}

/* ---- the ten lines ---- */

static void say_frame(FILE *to, const struct carn_story *s, const struct carn_story_frame *f)
{
    fputs("1 frame      ", to);
    carn_show(to, f->name);
    fputs(": subject ", to);
    carn_show(to, f->subject);
    fputs(", camera ", to);
    carn_show(to, f->camera);
    if (f->failed == NULL && !f->card_only) {
        fputs(", delivered as out/", to);
        carn_show(to, f->out);
    } else {
        fputs(f->card_only     ? ", a card alone"
              : f->not_renewed ? ", failed; an earlier picture is kept"
                               : ", failed",
              to);
    }
    static const struct {
        const char *before, *key;
    } facts[] = {{"\n2 taken      ", "width"},
                 {" x ", "height"},
                 {", ", "depth"},
                 {" bit, profile ", "profile"},
                 {"; ", "model"},
                 {", ", "shutter"},
                 {" s, f/", "aperture"},
                 {", ISO ", "iso"},
                 {", flash ", "flash"},
                 {", white balance ", "white_balance"},
                 {", ", "time"}};
    for (size_t i = 0; i < sizeof facts / sizeof *facts; i++) {
        fputs(facts[i].before, to);
        carn_show(to, carn_story_fact(s, f->name, facts[i].key));
    }
    fputc('\n', to);
}

static void say_card(FILE *to, const struct carn_story *s, const struct carn_story_frame *f)
{
    char path[300];
    const struct carn_story_card *card = NULL;
    for (size_t k = 0; k < s->cards; k++)
        card = strcmp(s->card[k].id, f->card) == 0 ? &s->card[k] : card;
    fputs("3 card       ", to);
    if (card == NULL) {
        fputs("none, so no neutral step\n", to);
        return;
    }
    carn_show(to, card->name);
    if (card->failed != NULL) {
        fputs(", which could not be measured: ", to);
        carn_show(to, card->failed);
    } else {
        fputs(": ", to);
        snprintf(path, sizeof path, "work/card/%s/neutral.tsv", card->id);
        curve_file(to, path);
    }
    fputc('\n', to);
}

static void say_readings(FILE *to, const struct carn_story_frame *f, const char *confidence)
{
    if (f->ground == CARN_GROUND_NONE) {
        fputs("4 as shot    no skin found, so not measured and its curve is borrowed\n", to);
    } else {
        fputs("4 as shot    ", to);
        colour(to, &f->shot);
        fprintf(to, " (%zu row%s of skin, ", f->shot.rows, f->shot.rows == 1 ? "" : "s");
        if (f->given)
            fputs("from patches.tsv)\n", to);
        else if (f->as_it_is)
            fputs("as it is)\n", to);
        else
            fprintf(to, "found, confidence %.2f%s%s%s)\n", f->confidence, f->sure ? "" : ": under ",
                    f->sure ? "" : confidence,
                    f->sure        ? ""
                    : f->corrected ? ", so its curve is borrowed"
                                   : ", and nobody in its group is surer, so it is not corrected");
    }
    fputs("5 neutral    ", to);
    colour(to, &f->neutral);
    fprintf(to, ": %s, ", carn_verdict_word(f->neutral.verdict));
    carn_show(to, f->neutral.words);
    fputc('\n', to);
}

/* How many frames a curve is made of. */
static size_t frames_in(const char *path)
{
    struct carn_table *pool = carn_table_try(path);
    size_t count = 0;
    int frame_at = pool != NULL ? carn_table_find(pool, "frame") : -1;
    for (size_t i = 0; pool != NULL && i < carn_table_rows(pool); i++)
        count += i == 0 || strcmp(carn_table_cell(pool, i, frame_at),
                                  carn_table_cell(pool, i - 1, frame_at)) != 0
                     ? 1
                     : 0;
    carn_table_close(pool);
    return count;
}

static void say_curve(FILE *to, const struct carn_story *s, const struct carn_story_frame *f,
                      struct carn_error *err)
{
    char path[300];
    const char *look = carn_record_get(s->settings, "LOOK");
    const char *strength = carn_record_get(s->settings, "STRENGTH");
    fputs("6 aim        ", to);
    carn_show(to, carn_record_get(s->settings, "AIM"));
    number(to, " at this L*: a* ", f->neutral.value[CARN_RESULT_AIM_A], 1);
    number(to, " b* ", f->neutral.value[CARN_RESULT_AIM_B], 1);
    if (f->follows) {
        fputs(", but it follows ", to);
        carn_show(to, carn_record_get(s->settings, "FOLLOW"));
    }
    fprintf(to, "; bound %s, strength %s, %s\n", carn_record_get(s->settings, "BOUND"),
            f->follows ? "1" : strength,
            strcmp(carn_record_get(s->settings, "SKIN"), "yes") == 0 ? "only skin moves"
                                                                     : "the whole picture moves");
    int n = (int)strcspn(f->group, ":");
    snprintf(path, sizeof path, "work/group/%.*s/pooled-%ld.tsv", n, f->group,
             f->group[n] == ':' ? strtol(f->group + n + 1, NULL, 10) : 1);
    size_t pooled = frames_in(path);
    fprintf(to, "7 curve      of %zu frame%s (", pooled, pooled == 1 ? "" : "s");
    carn_show(to, f->subject);
    fputs(", ", to);
    carn_show(to, f->camera);
    fputs("): ", to);
    struct carn_table *made = carn_kept_made(f->id);
    const char *curve = made != NULL ? carn_table_at(made, 0, "curve") : "-";
    moves(to, curve, err);
    carn_table_close(made);
    if (look[0] != '\0' && strcmp(look, "none") != 0) {
        fputs("; then the look ", to);
        carn_show(to, look);
    }
    fputc('\n', to);
}

static void say_end(FILE *to, const struct carn_story_frame *f)
{
    fputs("8 delivered  ", to);
    colour(to, &f->after);
    number(to, "\n9 lightness  ", f->neutral.value[CARN_RESULT_L] - f->shot.value[CARN_RESULT_L],
           2);
    number(to, " by the neutral step, ",
           f->judged.value[CARN_RESULT_L] - f->neutral.value[CARN_RESULT_L], 2);
    fputs(" by the correction\n10 verdict   ", to);
    if (f->failed != NULL) {
        fputs("failed: ", to);
        carn_show(to, f->failed);
        fputc('\n', to);
        return;
    }
    fputs(carn_verdict_word(f->verdict), to);
    if (strcmp(f->words, "-") != 0) {
        fputs(": ", to);
        carn_show(to, f->words);
    }
    if (strcmp(f->flags, "-") != 0)
        fprintf(to, "; flags %s", f->flags);
    if (f->needs_person)
        fprintf(to, "; CIEDE2000 %.1f left, for a person to look at", f->judged.held_difference);
    if (f->frozen != NULL)
        fprintf(to, "; %s", f->frozen);
    fprintf(to, "; separation %s\n", f->shot.separation);
}

int carn_explain(const char *name, FILE *to, struct carn_error *err)
{
    struct carn_story story = {0};
    struct carn_error ignored = {0};
    char *target = carn_text("work/target", &ignored);
    bool audit = target != NULL && strcmp(target, "audit") == 0;
    free(target);
    int rc = carn_story_read(audit, &story, err);
    const struct carn_story_frame *f = rc == 0 ? find(&story, name) : NULL;
    if (f != NULL && story.settings != NULL) {
        say_frame(to, &story, f);
        say_card(to, &story, f);
        say_readings(to, f, carn_record_get(story.settings, "CONFIDENCE"));
        say_curve(to, &story, f, err);
        say_end(to, f);
    }
    carn_story_clear(&story);
    return rc != 0 ? -1 : f == NULL;
}
