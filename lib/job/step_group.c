/* step: one subject: the colour of all its pictures, and its curves. */
#define _XOPEN_SOURCE 700
#include "job/step_own.h"

#include "base/tone.h"
#include "colour/lab.h"
#include "correct/curve.h"
#include "correct/reading.h"
#include "job/grounds.h"
#include "job/kept.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

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
    struct carn_table *aims;      /* aim.tsv; NULL: nobody has a colour */
    struct row *rows;
    size_t count, curves;
    bool nameless;
};

static bool is_mine(const struct solving *s, const struct carn_table *table, size_t row,
                    const char *subject)
{
    const char *cell = carn_table_at(table, row, "subject");
    const char *frame = carn_table_at(table, row, "frame");
    size_t n = strlen(frame);
    if (!s->nameless)
        return strcmp(cell, subject) == 0;
    /* the people beside one without a name are in groups of their own */
    return strcmp(cell, "-") == 0 || (strncmp(cell, frame, n) == 0 && cell[n] == '#');
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
    char path[CARN_KEPT_PATH];
    if (member > 0 && strcmp(member_cell(s, member - 1, "id"), id) == 0)
        return 0;
    struct carn_error ignored = {0};
    struct carn_table *table = carn_kept_table(id, "readings.tsv");
    struct carn_grounds grounds;
    s->readings[member] = table;
    (void)carn_grounds_read(carn_kept_path(path, id, "grounds.tsv"), &grounds, &ignored);
    bool sure = carn_grounds_are_sure(&grounds, strtod(step_asked(step, "CONFIDENCE"), NULL));
    carn_grounds_close(&grounds);
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
    carn_table_close(s->aims);
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
static bool has_aim(const struct solving *s, const struct row *row)
{
    const char *subject = carn_table_at(row->table, row->at, "subject");
    return s->aims != NULL && carn_table_row(s->aims, "aim", subject) != SIZE_MAX;
}

static bool all_have_aims(const struct solving *s)
{
    bool all = s->count > 0;
    for (size_t i = 0; all && i < s->count; i++)
        all = has_aim(s, &s->rows[i]);
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
        if (first == NULL) {
            first = table;
            carn_table_print_names(page.to, first);
            fputc('\n', page.to);
        }
        size_t columns = carn_table_columns(first);
        for (size_t c = 0; c < columns; c++) {
            int column = carn_table_find(table, carn_table_name(first, c));
            carn_table_print(page.to, carn_table_cell(table, s->rows[i].at, column));
            fputc(c + 1 < columns ? '\t' : '\n', page.to);
        }
    }
    if (first == NULL)
        carn_reading_print_header(page.to);
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
    const char *aims = run.stages[at].out = step_file(step, "aim.tsv");
    if (step_run(step, &run, NULL) != 0)
        return -1;
    s->aims = carn_table_read(aims, &step->why);
    return s->aims != NULL ? 0 : -1;
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
    const struct carn_table *aim = s->aims;
    struct carn_table *pool = carn_table_read(step_file(s->step, "pooled.tsv"), err);
    struct carn_page page;
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
    carn_table_close(pool);
    return rc == 0 && carn_page_keep(&page, path, err) >= 0 ? 0 : -1;
}

/* The aim's value of a quantity of a tone, where a curve goes to the value in target; else NAN. */
static double aim_behind(const struct carn_table *aim, const struct carn_table *target,
                         const char *quantity, double to)
{
    struct carn_error ignored = {0};
    double value = 0, asked = 0;
    int at = carn_table_find(aim, "value"), there = carn_table_find(target, "value");
    for (size_t i = 0; i < carn_table_rows(aim); i++)
        if (strcmp(carn_table_at(aim, i, "quantity"), quantity) == 0 &&
            carn_table_number(aim, i, at, &asked, &ignored) == 1 &&
            carn_table_number(target, i, there, &value, &ignored) == 1 && fabs(value - to) < 1e-3)
            return asked;
    return (double)NAN;
}

/* A turn that reaches the target has still gone a share of the way to the aim: it keeps what was
 * asked, as one of carn-curve-solve --strength does. */
static int tell_strength(const struct solving *s, const char *path, struct carn_error *err)
{
    struct carn_table *curve = carn_table_read(path, err);
    struct carn_table *target = carn_table_read(step_file(s->step, "target.tsv"), err);
    struct carn_page page;
    int rc = curve != NULL && target != NULL ? carn_page_open(&page, err) : -1;
    if (rc == 0)
        carn_curve_print_header(page.to);
    for (size_t i = 0; rc == 0 && i < carn_table_rows(curve); i++) {
        const char *to = carn_table_at(curve, i, "to"), *asked = carn_table_at(curve, i, "asked");
        const char *note = carn_table_at(curve, i, "note");
        struct carn_lab goes = {0}, wanted = {.a = (double)NAN};
        if (strcmp(asked, "-") == 0 && sscanf(to, "%lf %lf %lf", &goes.L, &goes.a, &goes.b) == 3)
            wanted = (struct carn_lab){goes.L, aim_behind(s->aims, target, "a", goes.a),
                                       aim_behind(s->aims, target, "b", goes.b)};
        fprintf(page.to, "%s\t%s\t%s\t", carn_table_at(curve, i, "kind"),
                carn_table_at(curve, i, "from"), to);
        if (isnan(wanted.a) || isnan(wanted.b))
            fprintf(page.to, "%s\t%s\n", asked, note);
        else
            fprintf(page.to, "%.4f %.4f %.4f\t%.*s, residual %.2f, cut short by strength\n",
                    wanted.L, wanted.a, wanted.b, (int)strcspn(note, ","), note,
                    carn_ciede2000(goes, wanted).total);
    }
    carn_table_close(curve);
    carn_table_close(target);
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
    bool unsure = rc == 0 && (first == NULL || !has_aim(s, first));
    if (unsure) {
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
        if (rc == 0 && followed && strtod(step_asked(step, "STRENGTH"), NULL) < 1)
            rc = tell_strength(s, path, &step->why);
    }
    if (rc != 0 && step_write_failed(step, path, carn_curve_print_header, err) != 0)
        return -1;
    /* No sure reading is no failure: the frames are then delivered without a curve. */
    bool trouble = rc != 0 && !unsure;
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
        return step_write_failed(step, before, carn_reading_print_header, err);
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

/* What the delivery of its frames needs to know: work/group/ID/solved.tsv. */
static int write_solved(const struct solving *s, bool followed, bool trouble,
                        struct carn_error *err)
{
    const struct pick sure = {.sure = true};
    struct carn_page page;
    if (carn_page_open(&page, err) != 0)
        return -1;
    carn_record_begin(page.to);
    carn_record_put(page.to, "followed", followed ? "yes" : "no");
    carn_record_print(page.to, "sure_rows", "%zu", count_rows(s, &sure));
    carn_record_put(page.to, "trouble", trouble ? carn_step_message(s->step) : "-");
    return carn_page_keep(&page, step_file(s->step, "solved.tsv"), err) < 0 ? -1 : 0;
}

int carn_step_solve(struct carn_step *step, struct carn_error *err)
{
    struct solving s = {.step = step};
    struct pick sure = {.sure = true};
    const char *stamp = step_file(step, "solved");
    (void)unlink(stamp);
    int rc = collect(&s, err), trouble = 0;
    bool followed = false;
    (void)unlink(step_file(step, "aim.tsv"));
    (void)unlink(step_file(step, "before.tsv"));
    if (rc == 0 && count_rows(&s, &sure) > 0)
        trouble = meet(&s, &followed, err) != 0;
    else if (rc == 0)
        rc = write_pool(&s, &sure, step_file(step, "pooled.tsv"), err);
    if (rc == 0 && followed && !trouble)
        rc = write_target(&s, step_file(step, "target.tsv"), err);
    for (size_t k = 1; rc == 0 && k <= s.curves; k++) {
        int solved =
            trouble ? step_write_failed(step, step_text(step, "%s/curve-%zu.tsv", step->folder, k),
                                        carn_curve_print_header, err)
                    : solve_curve(&s, k, followed, err);
        trouble = solved > 0 ? 1 : trouble;
        rc = solved < 0 ? -1 : 0;
    }
    if (rc == 0 && !trouble)
        trouble = score(&s, err) != 0;
    if (rc == 0)
        rc = write_solved(&s, followed, trouble, err);
    solving_clear(&s);
    if (rc != 0 && step->why.kind == CARN_NONE)
        (void)carn_fail_from(&step->why, err, NULL);
    if (rc == 0 && !trouble)
        rc = carn_touch(stamp, err);
    return rc;
}
