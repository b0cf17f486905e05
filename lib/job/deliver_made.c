/* made.tsv: what a picture was made with. */
#define _XOPEN_SOURCE 700
#include "job/deliver_own.h"

#include "correct/curve.h"
#include "frame/patch.h"
#include "job/flat.h"
#include "job/result.h"

#include <stdint.h>
#include <string.h>
#include <unistd.h>

/* The table at path (NULL: none) in one cell. */
static void print_flat(FILE *to, const char *path, const char *const *columns, size_t count)
{
    struct carn_table *table = path != NULL ? carn_table_try(path) : NULL;
    carn_flat_print(to, table, columns, count);
    carn_table_close(table);
}

static const char *const weight_columns[] = {"L", "a", "b", "tone", "spread"};

/* Of several people one after another. */
static void print_people(const struct delivering *d, FILE *to, bool weights)
{
    bool skin = deliver_asked_is(d, "SKIN", "yes"), any = false;
    for (size_t k = 0; k < d->people; k++) {
        if (d->person[k].curve == NULL || (weights && !skin))
            continue;
        fputs(any ? CARN_FLAT_BETWEEN : "", to);
        any = true;
        if (weights)
            print_flat(to, d->person[k].weight, weight_columns, 5);
        else
            print_flat(to, d->person[k].curve, carn_curve_columns, 5);
    }
    if (!any)
        fputc('-', to);
}

static void print_lab(FILE *to, const char *path)
{
    struct carn_result r;
    struct carn_error ignored = {0};
    if (carn_result_read(path, NULL, &r, &ignored) != 0)
        r = carn_result_none();
    const double lab[] = {r.value[CARN_RESULT_L], r.value[CARN_RESULT_A], r.value[CARN_RESULT_B]};
    for (size_t i = 0; i < 3; i++) {
        fputc('\t', to);
        carn_print_number(to, lab[i], 4);
    }
}

/* Four cells: the neutral step, the people's curves, the look, and what weighed the skin. */
static void print_moves(const struct delivering *d, FILE *to, bool known)
{
    fputc('\t', to);
    if (known) {
        print_flat(to, d->neutral, carn_curve_columns, 5);
        fputc('\t', to);
        print_people(d, to, false);
        fputc('\t', to);
        print_flat(to, deliver_has_look(d) ? deliver_asked(d, "LOOK") : NULL, carn_curve_columns,
                   5);
        fputc('\t', to);
        print_people(d, to, true);
    } else {
        fputs("-\t-\t-\t-", to);
    }
}

/* The columns up to strength. */
static void print_asked(const struct delivering *d, FILE *to)
{
    struct carn_step *step = d->step;
    struct carn_error ignored = {0};
    const char *slash = strchr(d->out, '/'), *follow = deliver_asked(d, "FOLLOW");
    bool follows = d->followed && strcmp(follow, step_asked(step, "camera")) != 0;
    const char *card_id = step_asked(step, "card");
    struct carn_table *card =
        card_id[0] != '\0'
            ? carn_table_read(step_text(step, "work/card/%s/request.tsv", card_id), &ignored)
            : NULL;
    struct carn_result shot;
    bool measured = carn_result_read(step_file(step, "shot.tsv"), NULL, &shot, &ignored) == 0;
    const char *const cells[] = {d->frame,
                                 slash != NULL ? slash + 1 : d->out,
                                 step_asked(step, "subject"),
                                 step_asked(step, "camera"),
                                 card != NULL ? carn_record_get(card, "frame") : "-",
                                 step_asked(step, "version"),
                                 measured ? shot.separation : "-",
                                 d->as_it_is ? "-"
                                 : follows   ? step_text(step, "follow %s", follow)
                                             : deliver_asked(d, "AIM"),
                                 deliver_asked(d, "BOUND"),
                                 follows ? "1" : deliver_asked(d, "STRENGTH")};
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
        fputs(i > 0 ? "\t" : "", to);
        carn_table_print(to, cells[i]);
    }
    carn_table_close(card);
}

/* The profile asked for, and the options of carn-encode. */
static void print_encoding(struct delivering *d, FILE *to)
{
    const char *profile = deliver_asked(d, "PROFILE"), *type = deliver_type(d);
    const char *words = deliver_encoding(d);
    if (type != NULL)
        words = step_text(d->step, "-t %s%s%s", type, words[0] != '\0' ? " " : "", words);
    fputc('\t', to);
    carn_table_print(to, strcmp(profile, "same") == 0 ? "-" : profile);
    fputc('\t', to);
    carn_table_print(to, words);
}

int deliver_write_made(struct delivering *d, bool known, struct carn_error *err)
{
    struct carn_step *step = d->step;
    char original[65], delivered[65];
    struct carn_page page;
    if (carn_sha256(d->original, original, err) != 0 || carn_sha256(d->out, delivered, err) != 0 ||
        carn_page_open(&page, err) != 0)
        return -1;
    FILE *to = page.to;
    fputs("frame\tfile\tsubject\tcamera\tcard\tversion\tseparation\taim\tbound\tstrength\tneutral\t"
          "curve\tlook\tweight\tprofile\tencode\toriginal_sha256\tdelivered_sha256\tfound_L\t"
          "found_a\tfound_b\tneutral_L\tneutral_a\tneutral_b\tfaces\n",
          to);
    print_asked(d, to);
    print_moves(d, to, known);
    print_encoding(d, to);
    fprintf(to, "\t%s\t%s", original, delivered);
    print_lab(to, step_file(step, "shot.tsv"));
    print_lab(to, d->readings);
    fputc('\t', to);
    bool placed = known && !d->as_it_is && deliver_asked_is(d, "SKIN", "yes") && d->people > 0 &&
                  d->person[0].own;
    print_flat(to, placed ? step_file(step, "faces.tsv") : NULL,
               carn_patch_columns + CARN_PATCH_NAME, CARN_PATCH_POINTS - CARN_PATCH_NAME + 1);
    fputc('\n', to);
    return carn_page_keep(&page, step_file(step, "made.tsv"), err) < 0 ? -1 : 0;
}

int deliver_keep_frozen(struct delivering *d, struct carn_error *err)
{
    struct carn_step *step = d->step;
    const char *made = step_file(step, "made.tsv");
    if (carn_keep(step_file(step, "frozen"),
                  "approved, so left as it is: this run would have changed it\n", err) < 0)
        return -1;
    if (access(made, R_OK) == 0)
        return 0;
    struct carn_error ignored = {0};
    struct carn_table *old = carn_table_read("report/provenance.tsv", &ignored);
    struct carn_page page;
    if (old == NULL)
        return deliver_write_made(d, false, err);
    int last = carn_table_find(old, "faces");
    size_t row = carn_table_row(old, "frame", d->frame);
    if (row == SIZE_MAX || last < 0) {
        carn_table_close(old);
        return deliver_write_made(d, false, err);
    }
    int rc = carn_page_open(&page, err);
    for (int i = 0; rc == 0 && i < 2; i++)
        for (int c = 0; c <= last; c++) {
            carn_table_print(page.to, i == 0 ? carn_table_name(old, (size_t)c)
                                             : carn_table_cell(old, row, c));
            fputc(c < last ? '\t' : '\n', page.to);
        }
    carn_table_close(old);
    return rc == 0 && carn_page_keep(&page, made, err) >= 0 ? 0 : -1;
}
