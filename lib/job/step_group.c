/* step: the cards' neutrals, and the curves of one subject. */
#define _XOPEN_SOURCE 700
#include "job/step_own.h"

#include "base/order.h"
#include "base/tone.h"
#include "correct/reading.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const char curve_header[] = "kind\tfrom\tto\tasked\tnote";

/* ---- cards ---- */

/* work/card/ID/card.tsv: the readings of the card's rows, as shot. */
int carn_step_read_card(struct carn_step *step, struct carn_error *err)
{
    const char *card = step_file(step, "card.tsv"), *stamp = step_file(step, "read");
    const char *key = step_file(step, "read.key");
    const char *const inputs[] = {step_file(step, "request.tsv"), step_file(step, "patches.tsv")};
    unsigned long long sum = step_sum(inputs, 2);
    const char *trouble = step_asked(step, "trouble");
    char *failed = carn_step_failed(card, err);
    bool same = failed == NULL && step_key_holds(key, sum) && access(card, R_OK) == 0;
    free(failed);
    if (same)
        return carn_touch(stamp, err) != 0 ? -1 : 1;
    (void)unlink(stamp);
    (void)unlink(key);
    struct carn_table *patches = carn_table_read(inputs[1], &step->why);
    if (trouble[0] != '\0')
        carn_fail(&step->why, CARN_INPUT, "%s", trouble);
    else if (patches != NULL && carn_table_rows(patches) == 0)
        carn_fail(&step->why, CARN_INPUT, "patches.tsv: no row of tone card serves %s",
                  step_asked(step, "frame"));
    carn_table_close(patches);
    struct carn_run run = {0};
    int from = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-decode"));
    carn_run_word(&run, step_text(step, "frames/%s", step_asked(step, "frame")));
    int at = carn_run_add(&run, from, NULL, step_program(step, "carn-sample"));
    carn_run_words(&run, "-q", "-p");
    carn_run_word(&run, inputs[1]);
    step_ink(step, &run);
    run.stages[at].out = step_file(step, "card.read");
    int rc = step_run(step, &run, NULL);
    if (rc == 0) {
        const char *const read[] = {step_file(step, "card.read")};
        rc = step_merge(read, 1, card, step_asked(step, "frame"), NULL, NULL, &step->why);
        (void)unlink(read[0]);
    }
    if (rc != 0)
        return step_write_failed(step, card, step_readings_header, err);
    return step_key_keep(key, sum, err) != 0 || carn_touch(stamp, err) != 0 ? -1 : 0;
}

/* The median L* of a card's readings; NAN when it has none. */
static double card_lightness(const char *path)
{
    struct carn_error ignored = {0};
    struct carn_readings readings;
    if (carn_readings_read(path, CARN_NEED_LAB, &readings, &ignored) != 0)
        return (double)NAN;
    double *L = carn_alloc(readings.count, sizeof *L, &ignored);
    for (size_t i = 0; L != NULL && i < readings.count; i++)
        L[i] = readings.rows[i].lab.L;
    double median = L != NULL ? carn_median(L, readings.count) : (double)NAN;
    free(L);
    carn_readings_clear(&readings);
    return median;
}

/* work/level: the L* that all cards are brought to, the middle of what they got. */
int carn_step_level(struct carn_step *step, struct carn_error *err)
{
    struct carn_table *frames = carn_table_read("work/frames.tsv", err);
    if (frames == NULL)
        return -1;
    size_t count = 0;
    double *L = carn_alloc(carn_table_rows(frames) + 1, sizeof *L, err);
    for (size_t i = 0; L != NULL && i < carn_table_rows(frames); i++) {
        const char *id = carn_table_at(frames, i, "id");
        double v = card_lightness(step_text(step, "work/card/%s/card.tsv", id));
        if (!isnan(v))
            L[count++] = v;
    }
    char text[32] = "";
    if (count > 0)
        snprintf(text, sizeof text, "%.4f\n", carn_median(L, count));
    free(L);
    carn_table_close(frames);
    if (carn_keep("work/level.txt", text, err) < 0)
        return -1;
    return carn_touch("work/level", err);
}

/* A neutral's gains can bring the card to any lightness, not only keep its own. */
static int level_curve(struct carn_step *step, const char *from, const char *to, const char *level)
{
    struct carn_table *curve = carn_table_read(from, &step->why);
    struct carn_page page;
    if (curve == NULL || carn_page_open(&page, &step->why) != 0) {
        carn_table_close(curve);
        return -1;
    }
    fprintf(page.to, "%s\n", curve_header);
    for (size_t i = 0; i < carn_table_rows(curve); i++) {
        static const char *const columns[] = {"kind", "from", "to", "asked", "note"};
        for (size_t c = 0; c < 5; c++) {
            const char *cell = carn_table_at(curve, i, columns[c]);
            if (c == 2 && level[0] != '\0')
                fprintf(page.to, "\t%.*s 0.0000 0.0000", (int)strcspn(level, "\n"), level);
            else
                fprintf(page.to, "%s%s", c > 0 ? "\t" : "", cell);
            if (c == 4 && level[0] != '\0')
                fputs(", to the level of all cards", page.to);
        }
        fputc('\n', page.to);
    }
    carn_table_close(curve);
    return carn_page_keep(&page, to, &step->why) < 0 ? -1 : 0;
}

/* work/card/ID/neutral.tsv. */
int carn_step_neutral(struct carn_step *step, struct carn_error *err)
{
    const char *neutral = step_file(step, "neutral.tsv"), *stamp = step_file(step, "measured");
    const char *card = step_file(step, "card.tsv"), *made = step_file(step, "neutral.made");
    (void)unlink(stamp);
    char *failed = carn_step_failed(card, err), *level = NULL;
    if (failed != NULL)
        carn_fail(&step->why, CARN_INPUT, "%s", failed);
    free(failed);
    if (step_asked_is(step, "EQUALISE", "yes"))
        level = carn_text("work/level.txt", &step->why);
    struct carn_run run = {0};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-curve-neutral"));
    carn_run_word(&run, card);
    run.stages[at].out = made;
    int rc = step_run(step, &run, NULL);
    if (rc == 0)
        rc = level_curve(step, made, neutral, level != NULL ? level : "");
    free(level);
    (void)unlink(made);
    if (rc != 0)
        return step_write_failed(step, neutral, curve_header, err);
    if (carn_keep(step_file(step, "measured.notes"), step->notes != NULL ? step->notes : "", err) <
        0)
        return -1;
    return carn_touch(stamp, err);
}

/* ---- a subject ---- */

/* A row of the readings of the group's frames, and what counts for its use. */
struct row {
    struct carn_table *table;
    size_t at, member;
    bool sure, single, followed;
    size_t curve;
};

struct solving {
    struct carn_step *step;
    struct carn_table *members;
    struct carn_table **readings; /* of each member */
    struct row *rows;
    size_t count, curves;
    bool nameless;
};

static bool is_mine(const struct solving *s, const struct carn_table *table, size_t row,
                    const char *subject)
{
    const char *cell = carn_table_at(table, row, "subject");
    return s->nameless || strcmp(cell, subject) == 0;
}

static const char *member_cell(const struct solving *s, size_t member, const char *column)
{
    return carn_table_at(s->members, member, column);
}

/* Of a frame whose subject nobody named, each face has a curve of its own, in order of names. */
static size_t curve_of(const struct solving *s, const struct carn_table *table, size_t row,
                       size_t member)
{
    const char *subject = carn_table_at(table, row, "subject");
    const char *number = strrchr(subject, '#');
    if (s->nameless && number != NULL)
        return strtoul(number + 1, NULL, 10);
    return strtoul(member_cell(s, member, "curve"), NULL, 10);
}

static int take_member(struct solving *s, size_t member, struct carn_error *err)
{
    struct carn_step *step = s->step;
    const char *id = member_cell(s, member, "id"), *follow = step_asked(step, "FOLLOW");
    const char *path = step_text(step, "work/frame/%s/readings.tsv", id);
    if (member > 0 && strcmp(member_cell(s, member - 1, "id"), id) == 0)
        return 0;
    struct carn_error ignored = {0};
    struct carn_table *table = carn_table_read(path, &ignored);
    struct carn_table *grounds =
        carn_table_read(step_text(step, "work/frame/%s/grounds.tsv", id), &ignored);
    s->readings[member] = table;
    bool sure = grounds != NULL && strtod(carn_record_get(grounds, "confidence"), NULL) >=
                                       strtod(step_asked(step, "CONFIDENCE"), NULL);
    carn_table_close(grounds);
    for (size_t i = 0; table != NULL && i < carn_table_rows(table); i++) {
        const char *tone = carn_table_at(table, i, "tone");
        if (!is_mine(s, table, i, step_asked(step, "subject")) ||
            carn_tone_of(tone) == CARN_TONE_BACKDROP)
            continue;
        struct row *rows = carn_grow(s->rows, s->count + 1, sizeof *rows, err);
        if (rows == NULL)
            return -1;
        s->rows = rows;
        rows[s->count] =
            (struct row){.table = table,
                         .at = i,
                         .member = member,
                         .sure = sure,
                         .single = strcmp(member_cell(s, member, "people"), "1") == 0,
                         .followed = strcmp(member_cell(s, member, "camera"), follow) == 0,
                         .curve = curve_of(s, table, i, member)};
        if (rows[s->count].curve > s->curves)
            s->curves = rows[s->count].curve;
        s->count++;
    }
    return 0;
}

static int collect(struct solving *s, struct carn_error *err)
{
    s->members = carn_table_read(step_file(s->step, "members.tsv"), err);
    if (s->members == NULL)
        return -1;
    s->readings = carn_alloc(carn_table_rows(s->members) + 1, sizeof(struct carn_table *), err);
    s->curves = strtoul(step_asked(s->step, "curves"), NULL, 10);
    s->nameless = step_asked_is(s->step, "subject", "");
    int rc = s->readings != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < carn_table_rows(s->members); i++)
        rc = take_member(s, i, err);
    return rc;
}

static void solving_clear(struct solving *s)
{
    for (size_t i = 0; s->readings != NULL && i < carn_table_rows(s->members); i++)
        carn_table_close(s->readings[i]);
    carn_table_close(s->members);
    free(s->readings);
    free(s->rows);
}

/* Which rows go into a table. */
struct pick {
    bool sure;     /* only those */
    bool single;   /* only of portraits of this one person */
    bool followed; /* only of the camera to follow */
    size_t curve;  /* 0: all */
};

static bool picked(const struct row *row, const struct pick *pick)
{
    return (!pick->sure || row->sure) && (!pick->single || row->single) &&
           (!pick->followed || row->followed) && (pick->curve == 0 || pick->curve == row->curve);
}

static size_t count_rows(const struct solving *s, const struct pick *pick)
{
    size_t count = 0;
    for (size_t i = 0; i < s->count; i++)
        count += picked(&s->rows[i], pick);
    return count;
}

/* Has the person of this row a colour? One whose readings are all doubtful has none. */
static bool has_aim(struct carn_step *step, const struct row *row)
{
    struct carn_error ignored = {0};
    struct carn_table *aims = carn_table_read(step_file(step, "aim.tsv"), &ignored);
    const char *subject = carn_table_at(row->table, row->at, "subject");
    bool found = false;
    for (size_t i = 0; aims != NULL && !found && i < carn_table_rows(aims); i++)
        found = strcmp(carn_table_at(aims, i, "aim"), subject) == 0;
    carn_table_close(aims);
    return found;
}

static bool all_have_aims(const struct solving *s)
{
    bool all = s->count > 0;
    for (size_t i = 0; all && i < s->count; i++)
        all = has_aim(s->step, &s->rows[i]);
    return all;
}

/* The first such row, NULL for none. */
static const struct row *first_row(const struct solving *s, const struct pick *pick)
{
    for (size_t i = 0; i < s->count; i++)
        if (picked(&s->rows[i], pick))
            return &s->rows[i];
    return NULL;
}

static int write_pool(const struct solving *s, const struct pick *pick, const char *path,
                      struct carn_error *err)
{
    struct carn_page page;
    const struct carn_table *first = NULL;
    if (carn_page_open(&page, err) != 0)
        return -1;
    for (size_t i = 0; i < s->count; i++) {
        if (!picked(&s->rows[i], pick))
            continue;
        const struct carn_table *table = s->rows[i].table;
        first = first != NULL ? first : table;
        size_t columns = carn_table_columns(first);
        if (ftell(page.to) == 0)
            for (size_t c = 0; c < columns; c++)
                fprintf(page.to, "%s%c", carn_table_name(first, c), c + 1 < columns ? '\t' : '\n');
        for (size_t c = 0; c < columns; c++) {
            int column = carn_table_find(table, carn_table_name(first, c));
            carn_table_print(page.to, carn_table_cell(table, s->rows[i].at, column));
            fputc(c + 1 < columns ? '\t' : '\n', page.to);
        }
    }
    if (first == NULL)
        fprintf(page.to, "%s\n", step_readings_header);
    return carn_page_keep(&page, path, err) < 0 ? -1 : 0;
}

static void add_aim(struct carn_step *step, struct carn_run *run)
{
    carn_run_words(run, "-a", step_asked(step, "AIM"));
    if (!step_asked_is(step, "aims.tsv", ""))
        carn_run_words(run, "-f", "aims.tsv");
}

/* Whom this group follows: the pool of its pictures by the camera to follow, if it has any. */
static bool follows(const struct solving *s, struct pick *pick)
{
    const char *follow = step_asked(s->step, "FOLLOW");
    *pick = (struct pick){.sure = true};
    if (follow[0] == '\0' || strcmp(follow, "none") == 0)
        return false;
    pick->followed = true;
    if (count_rows(s, pick) > 0)
        return true;
    pick->followed = false;
    return false;
}

/* The subject's one colour, work/group/ID/aim.tsv: from portraits of this one person where there
 * are any, and from the followed camera where one is followed. */
static int meet(struct solving *s, bool *followed, struct carn_error *err)
{
    struct carn_step *step = s->step;
    struct pick pick;
    *followed = follows(s, &pick);
    pick.single = true;
    if (count_rows(s, &pick) == 0)
        pick.single = false;
    const char *pool = step_file(step, "pooled.tsv");
    if (write_pool(s, &pick, pool, err) != 0)
        return -1;
    struct carn_run run = {0};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-aim-meet"));
    add_aim(step, &run);
    step_ink(step, &run);
    if (step_asked_is(step, "BOUND", "none"))
        carn_run_words(&run, "--bound", "none");
    carn_run_word(&run, pool);
    run.stages[at].out = step_file(step, "aim.tsv");
    return step_run(step, &run, NULL);
}

/* The mean of a column over the rows of a tone; NAN for none. */
static double mean_of(const struct carn_table *table, const char *column, const char *tone)
{
    int at = carn_table_find(table, column), tone_at = carn_table_find(table, "tone");
    double sum = 0, n = 0, v = 0;
    struct carn_error ignored = {0};
    for (size_t i = 0; i < carn_table_rows(table); i++)
        if (strcmp(carn_table_cell(table, i, tone_at), tone) == 0 &&
            carn_table_number(table, i, at, &v, &ignored) == 1) {
            sum += v;
            n++;
        }
    return sum / n;
}

/* What the followed camera delivers when it goes STRENGTH of its way: the one colour, as far from
 * where that camera's pictures stand. All go there the whole way, so that cameras stay alike. */
static int write_target(const struct solving *s, const char *path, struct carn_error *err)
{
    double strength = strtod(step_asked(s->step, "STRENGTH"), NULL);
    struct carn_table *aim = carn_table_read(step_file(s->step, "aim.tsv"), err), *pool = NULL;
    struct carn_page page;
    if (aim != NULL)
        pool = carn_table_read(step_file(s->step, "pooled.tsv"), err);
    int rc = pool != NULL ? carn_page_open(&page, err) : -1;
    if (rc == 0)
        fputs("aim\ttone\tquantity\tvalue\ttolerance\n", page.to);
    for (size_t i = 0; rc == 0 && i < carn_table_rows(aim); i++) {
        const char *quantity = carn_table_at(aim, i, "quantity");
        const char *tone = carn_table_at(aim, i, "tone");
        double own = mean_of(pool, quantity, tone), value = 0;
        carn_table_print(page.to, carn_table_at(aim, i, "aim"));
        fprintf(page.to, "\t%s\t%s\t", tone, quantity);
        int has = carn_table_number(aim, i, carn_table_find(aim, "value"), &value, err);
        carn_print_number(page.to,
                          has != 1     ? (double)NAN
                          : isnan(own) ? value
                                       : own + strength * (value - own),
                          4);
        fputc('\t', page.to);
        carn_table_print(page.to, carn_table_at(aim, i, "tolerance"));
        fputc('\n', page.to);
    }
    carn_table_close(aim);
    carn_table_close(pool);
    return rc == 0 && carn_page_keep(&page, path, err) >= 0 ? 0 : -1;
}

/* One curve: what its own readings need to come to the subject's colour. */
static int solve_curve(struct solving *s, size_t curve, bool followed, struct carn_error *err)
{
    struct carn_step *step = s->step;
    struct pick pick = {.sure = true, .curve = curve};
    const char *path = step_text(step, "%s/curve-%zu.tsv", step->folder, curve);
    const char *pool = step_text(step, "%s/pooled-%zu.tsv", step->folder, curve);
    struct carn_error before = step->why;
    step->why = (struct carn_error){0};
    const struct row *first = first_row(s, &pick);
    int rc = write_pool(s, &pick, pool, err);
    if (rc == 0 && (first == NULL || !has_aim(step, first))) {
        rc = carn_fail(&step->why, CARN_INPUT, "nobody sure");
    } else if (rc == 0) {
        struct carn_run run = {0};
        int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-curve-solve"));
        carn_run_word(&run, "--by-subject");
        carn_run_words(&run, "-f", step_file(step, followed ? "target.tsv" : "aim.tsv"));
        step_ink(step, &run);
        if (step_asked_is(step, "BOUND", "none"))
            carn_run_words(&run, "--bound", "none");
        if (!followed)
            carn_run_words(&run, "--strength", step_asked(step, "STRENGTH"));
        carn_run_words(&run, "-r",
                       step_text(step, "frames/%s", member_cell(s, first->member, "frame")));
        carn_run_word(&run, pool);
        run.stages[at].out = path;
        rc = step_run(step, &run, NULL);
    }
    if (rc != 0 && step_write_failed(step, path, curve_header, err) != 0)
        return -1;
    /* No sure reading is no failure: the frames are then delivered without a curve. */
    bool trouble = rc != 0 && strcmp(step->why.text, "nobody sure") != 0;
    if (!trouble)
        step->why = before;
    return trouble ? 1 : 0;
}

/* All readings after the card, judged: work/group/ID/before.tsv. */
static int score(struct solving *s, struct carn_error *err)
{
    struct carn_step *step = s->step;
    struct pick all = {0};
    const char *pool = step_file(step, "all.tsv"), *before = step_file(step, "before.tsv");
    if (count_rows(s, &all) == 0)
        return step_write_failed(step, before, step_readings_header, err);
    if (write_pool(s, &all, pool, err) != 0)
        return -1;
    struct carn_run run = {0};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-score"));
    if (all_have_aims(s)) {
        carn_run_word(&run, "--by-subject");
        carn_run_words(&run, "-f", step_file(step, "aim.tsv"));
    } else {
        add_aim(step, &run);
    }
    step_ink(step, &run);
    carn_run_word(&run, pool);
    run.stages[at].out = before;
    return step_run(step, &run, NULL);
}

int carn_step_solve(struct carn_step *step, struct carn_error *err)
{
    struct solving s = {.step = step};
    struct pick sure = {.sure = true};
    const char *stamp = step_file(step, "solved"), *summary = step_file(step, "solved.tsv");
    (void)unlink(stamp);
    int rc = collect(&s, err), trouble = 0;
    bool followed = false;
    (void)unlink(step_file(step, "aim.tsv"));
    if (rc == 0 && count_rows(&s, &sure) > 0)
        trouble = meet(&s, &followed, err) != 0;
    else if (rc == 0)
        rc = write_pool(&s, &sure, step_file(step, "pooled.tsv"), err);
    if (rc == 0 && followed && !trouble)
        rc = write_target(&s, step_file(step, "target.tsv"), err);
    for (size_t k = 1; rc == 0 && k <= s.curves; k++) {
        int solved =
            trouble ? step_write_failed(step, step_text(step, "%s/curve-%zu.tsv", step->folder, k),
                                        curve_header, err)
                    : solve_curve(&s, k, followed, err);
        trouble = solved > 0 ? 1 : trouble;
        rc = solved < 0 ? -1 : 0;
    }
    if (rc == 0 && !trouble)
        trouble = score(&s, err) != 0;
    struct carn_page page;
    if (rc == 0 && carn_page_open(&page, err) == 0) {
        carn_record_begin(page.to);
        carn_record_put(page.to, "followed", followed ? "yes" : "no");
        carn_record_print(page.to, "sure_rows", "%zu", count_rows(&s, &sure));
        carn_record_put(page.to, "trouble", trouble ? carn_step_message(step) : "-");
        rc = carn_page_keep(&page, summary, err) < 0 ? -1 : 0;
    }
    solving_clear(&s);
    if (rc != 0 && step->why.kind == CARN_NONE)
        (void)carn_fail_from(&step->why, err, NULL);
    if (rc == 0 && !trouble)
        rc = carn_touch(stamp, err);
    return rc;
}
