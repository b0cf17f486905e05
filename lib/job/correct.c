#define _XOPEN_SOURCE 700 /* realpath */
#include "job/correct.h"

#include "base/table.h"
#include "base/tone.h"
#include "correct/reading.h"
#include "job/files.h"
#include "job/look.h"
#include "job/picture.h"
#include "job/texts.h"

#include <errno.h>
#include <limits.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct work {
    const struct carn_correct *asked;
    struct carn_corrected *done;
    struct carn_error *err;
    const char *patches, *neutral; /* NULL: not known, none */
    bool grounds;                  /* there is something to measure */
    struct carn_run run;
    struct carn_texts texts;
};

/* ---- files of the folder ---- */

/* A text that lives as long as the work; "" when memory is out. */
__attribute__((format(printf, 2, 3))) static const char *text(struct work *w, const char *format,
                                                              ...)
{
    va_list args;
    va_start(args, format);
    const char *kept = carn_texts_print(&w->texts, w->err, format, args);
    va_end(args);
    return kept;
}

static const char *file(struct work *w, const char *name)
{
    return text(w, "%s/%s", w->asked->folder, name);
}

/* What stands for the corrected picture while it is measured: under the name of IN, so that its
 * patches serve whatever OUT is called. */
static const char *delivered_name(struct work *w)
{
    const char *slash = strrchr(w->asked->in, '/');
    return text(w, "%s/delivered/%s", w->asked->folder, slash != NULL ? slash + 1 : w->asked->in);
}

static int copy_file(struct work *w, const char *from, const char *to)
{
    char *all = carn_text(from, w->err);
    int rc = all != NULL && carn_keep(to, all, w->err) >= 0 ? 0 : -1;
    free(all);
    return rc;
}

static bool is_one(const struct stat *a, const struct stat *b)
{
    return a->st_dev == b->st_dev && a->st_ino == b->st_ino;
}

/* Which of the files to be read this one of the folder is, as an earlier run left it; or NULL. */
static const char *find_input(const struct work *w, const char *path)
{
    const struct carn_correct *asked = w->asked;
    const char *const inputs[] = {asked->in,   asked->patches,    asked->card,   asked->neutral,
                                  asked->aims, asked->separation, asked->profile};
    struct stat own, other;
    if (lstat(path, &own) != 0)
        return NULL;
    for (size_t i = 0; i < sizeof inputs / sizeof *inputs; i++)
        if (inputs[i] != NULL && ((lstat(inputs[i], &other) == 0 && is_one(&own, &other)) ||
                                  (stat(inputs[i], &other) == 0 && is_one(&own, &other))))
            return inputs[i];
    return NULL;
}

/* The files that an earlier run may have left there, by number; false behind the last. The curves
 * of several people go on as long as there are some. */
static bool own_file(const struct work *w, int number, char path[PATH_MAX])
{
    static const char *const names[] = {"found.readings", "card.readings", "before.readings",
                                        "after.readings", "before.scored", "after.scored",
                                        "neutral.curve",  "skin.curve",    "found.patches",
                                        "skin.pbm",       "skin.readings"};
    enum { NAMES = sizeof names / sizeof *names };
    if (number < NAMES)
        snprintf(path, PATH_MAX, "%s/%s", w->asked->folder, names[number]);
    else
        snprintf(path, PATH_MAX, "%s/skin-%d.curve", w->asked->folder, number - NAMES + 1);
    return number < NAMES || access(path, F_OK) == 0;
}

/* Removes them, unless some of them are to be read. */
static int clear_folder(struct work *w)
{
    const char *read = find_input(w, delivered_name(w));
    char path[PATH_MAX];
    for (int i = 0; read == NULL && own_file(w, i, path); i++)
        read = find_input(w, path);
    if (read != NULL)
        return carn_fail_at(w->err, CARN_USAGE, read,
                            "is one of the files that -w writes; copy it, or name another folder");
    for (int i = 0; own_file(w, i, path); i++)
        (void)unlink(path);
    return w->err->kind == CARN_NONE ? 0 : -1;
}

/* ---- runs ---- */

static const char *program(struct work *w, const char *name)
{
    return text(w, "%s/%s", w->asked->bin, name);
}

static int add(struct work *w, int from, const char *name)
{
    return carn_run_add(&w->run, from, NULL, program(w, name));
}

static void option(struct work *w, const char *name, const char *value)
{
    if (value != NULL)
        carn_run_words(&w->run, name, value);
}

static void ink(struct work *w)
{
    if (w->asked->no_black_point)
        carn_run_word(&w->run, "-B");
    option(w, "-k", w->asked->separation);
}

static void aim(struct work *w)
{
    option(w, "-a", w->asked->aim);
    option(w, "-f", w->asked->aims);
}

static int decode(struct work *w, const char *picture)
{
    int at = add(w, CARN_NO_STAGE, "carn-decode");
    carn_run_words(&w->run, "--", picture);
    return at;
}

static int apply(struct work *w, int from, const char *curve)
{
    int at = add(w, from, "carn-curve-apply");
    carn_run_words(&w->run, "-c", curve);
    return at;
}

static void keep_said(struct carn_corrected *done, const char *said, struct carn_error *err)
{
    size_t size = said != NULL ? strlen(said) : 0;
    char *grown = size > 0 ? carn_grow(done->said, done->size + size + 1, 1, err) : NULL;
    if (grown == NULL)
        return;
    memcpy(grown + done->size, said, size + 1);
    done->said = grown;
    done->size += size;
}

/* Runs what was added, its last stage's output to the file `to`. Gives the highest status, 0 or 1;
 * -1 with a message. quiet: what the filters said goes to this file and is not told unless it
 * fails. */
static int go(struct work *w, const char *to, const char *quiet)
{
    w->run.stages[w->run.count - 1].out = to;
    if (*w->asked->stop != 0)
        return carn_fail(w->err, CARN_SYSTEM, "stopped by signal %d", (int)*w->asked->stop);
    int rc = w->err->kind == CARN_NONE ? carn_run_all(&w->run, w->err) : -1;
    struct carn_corrected noted = {0};
    struct carn_corrected *keeper = quiet != NULL && rc == 0 ? &noted : w->done;
    for (size_t i = 0; i < w->run.count; i++)
        keep_said(keeper, w->run.stages[i].said, w->err);
    if (rc == 0)
        rc = w->run.highest;
    if (rc >= 0 && quiet != NULL &&
        carn_keep(quiet, noted.said != NULL ? noted.said : "", w->err) < 0)
        rc = -1;
    free(noted.said);
    carn_run_clear(&w->run);
    return rc;
}

/* The same for filters that know only done and trouble. */
static int must(struct work *w, const char *to, const char *quiet)
{
    int rc = go(w, to, quiet);
    return rc <= 0 ? rc : carn_fail(w->err, CARN_INPUT, "a filter found nothing to do");
}

/* skin: --skin-to, --skin, or NULL. Faces are read before and after at the same pixels. */
static int read_picture(struct work *w, const char *picture, const char *skin, bool neutral,
                        const char *to)
{
    int at = decode(w, picture);
    if (neutral)
        at = apply(w, at, w->neutral);
    add(w, at, "carn-sample");
    carn_run_words(&w->run, "-q", "-p");
    carn_run_word(&w->run, w->patches);
    if (skin != NULL)
        carn_run_words(&w->run, skin, file(w, "skin.pbm"));
    ink(w);
    return must(w, to, neutral ? file(w, "notes") : NULL);
}

/* ---- what there is to measure ---- */

static int find_faces(struct work *w)
{
    w->patches = file(w, "found.patches");
    add(w, decode(w, w->asked->in), "carn-patch-find");
    int rc = go(w, w->patches, NULL);
    w->grounds = w->grounds && rc == 0;
    return rc < 0 ? -1 : 0;
}

static int read_found(struct work *w)
{
    const char *found = file(w, "found.readings");
    return w->grounds ? read_picture(w, w->asked->in, "--skin-to", false, found)
                      : (carn_keep(found, "", w->err) < 0 ? -1 : 0);
}

/* What a table of readings holds. */
struct holds {
    bool card, others; /* rows of the card; of anything but card and backdrop */
    bool skin;         /* of these, one that has the colour of skin */
};

static bool is_not_skin(const struct carn_table *table, size_t row)
{
    return carn_flags_have(carn_table_text(table, row, "flags"), CARN_NOT_SKIN);
}

static struct holds look(const char *path)
{
    struct holds holds = {0};
    struct carn_table *table = carn_table_try(path);
    for (size_t i = 0; table != NULL && i < carn_table_rows(table); i++) {
        bool other = carn_tone_is_skin(carn_table_text(table, i, "tone"));
        holds.card =
            holds.card || carn_tone_of(carn_table_text(table, i, "tone")) == CARN_TONE_CARD;
        holds.others = holds.others || other;
        holds.skin = holds.skin || (other && !is_not_skin(table, i));
    }
    carn_table_close(table);
    return holds;
}

/* The card, of a picture of its own or of this one, and what makes it neutral. */
static int make_neutral(struct work *w)
{
    const char *readings = file(w, "card.readings"), *found = file(w, "found.readings");
    w->neutral = w->asked->neutral;
    if (w->asked->card != NULL) {
        if (read_picture(w, w->asked->card, NULL, false, readings) != 0)
            return -1;
    } else if (w->neutral == NULL && look(found).card) {
        if (copy_file(w, found, readings) != 0)
            return -1;
    } else {
        return 0;
    }
    w->neutral = file(w, "neutral.curve");
    add(w, CARN_NO_STAGE, "carn-curve-neutral");
    carn_run_word(&w->run, readings);
    return must(w, w->neutral, NULL);
}

static int measure(struct work *w)
{
    const char *found = file(w, "found.readings"), *before = file(w, "before.readings");
    w->patches = w->asked->patches;
    w->grounds = true;
    if ((w->patches == NULL && find_faces(w) != 0) || read_found(w) != 0 || make_neutral(w) != 0)
        return -1;
    /* Only card and backdrop are marked: the faces are found. */
    if (w->asked->patches != NULL && !look(found).others &&
        (find_faces(w) != 0 || read_found(w) != 0))
        return -1;
    if (w->grounds && w->neutral != NULL &&
        read_picture(w, w->asked->in, "--skin-to", true, before) != 0)
        return -1;
    if (w->grounds && w->neutral == NULL && copy_file(w, found, before) != 0)
        return -1;
    w->grounds = w->grounds && look(before).skin;
    return 0;
}

/* ---- curves ---- */

/* Several faces are several people, each with a colour, so each with a curve. Any other skin in the
 * table: one curve for all. */
static int find_people(struct work *w)
{
    struct carn_table *table = carn_table_read(file(w, "before.readings"), w->err);
    size_t rows = table != NULL ? carn_table_rows(table) : 0, count = 0;
    char **names = carn_alloc(rows + 1, sizeof *names, w->err);
    bool other = false;
    for (size_t i = 0; names != NULL && i < rows; i++) {
        if (!carn_tone_is_skin(carn_table_text(table, i, "tone")))
            continue;
        other = other || strcmp(carn_table_text(table, i, "hue_spread"), "-") == 0;
        if (carn_tone_of(carn_table_text(table, i, "tone")) == CARN_TONE_MIDDLE &&
            !is_not_skin(table, i))
            names[count++] = carn_copy(carn_table_text(table, i, "patch"), w->err);
    }
    carn_table_close(table);
    w->done->names = names;
    w->done->people = count;
    if (other || count < 2)
        w->done->people = 0;
    for (size_t i = w->done->people; i < count; i++)
        free(names[i]);
    return w->err->kind == CARN_NONE ? 0 : -1;
}

/* The readings of one patch. */
static int take_rows(struct work *w, const char *patch, const char *to)
{
    struct carn_page page;
    struct carn_table *table = carn_table_read(file(w, "before.readings"), w->err);
    if (table == NULL || carn_page_open(&page, w->err) != 0) {
        carn_table_close(table);
        return -1;
    }
    carn_table_print_names(page.to, table);
    fputc('\n', page.to);
    for (size_t i = 0; i < carn_table_rows(table); i++) {
        if (strcmp(carn_table_text(table, i, "patch"), patch) != 0)
            continue;
        carn_table_print_row(page.to, table, i, -1, NULL);
        fputc('\n', page.to);
    }
    carn_table_close(table);
    return carn_page_keep(&page, to, w->err) < 0 ? -1 : 0;
}

static int solve(struct work *w, const char *readings, const char *curve)
{
    add(w, CARN_NO_STAGE, "carn-curve-solve");
    aim(w);
    ink(w);
    option(w, "--bound", w->asked->bound);
    if (w->asked->whole)
        carn_run_word(&w->run, "-W");
    option(w, "-r", w->asked->in);
    carn_run_word(&w->run, readings);
    return must(w, curve, NULL);
}

static const char *curve_of(struct work *w, size_t person)
{
    return text(w, "%s/skin-%zu.curve", w->asked->folder, person + 1);
}

/* One curve, or one a person and all of them in a table for carn-score. */
static int solve_all(struct work *w, bool apart)
{
    const char *all = file(w, "skin.curve"), *one = file(w, "skin.readings");
    if (!apart)
        return solve(w, file(w, "before.readings"), all);
    struct carn_page page;
    if (carn_page_open(&page, w->err) != 0)
        return -1;
    int rc = 0;
    for (size_t i = 0; rc == 0 && i < w->done->people; i++) {
        rc = take_rows(w, w->done->names[i], one);
        if (rc == 0)
            rc = solve(w, one, curve_of(w, i));
        char *made = rc == 0 ? carn_text(curve_of(w, i), w->err) : NULL;
        char *rows = made != NULL && i > 0 ? strchr(made, '\n') : made;
        fputs(rows == NULL ? "" : i > 0 ? rows + 1 : rows, page.to);
        free(made);
    }
    return carn_page_keep(&page, all, w->err) < 0 ? -1 : rc;
}

/* ---- the picture ---- */

static int weigh(struct work *w, int from, const char *patch)
{
    int at = add(w, from, "carn-skin-weight");
    carn_run_words(&w->run, "-r", file(w, "before.readings"));
    carn_run_words(&w->run, "-p", w->patches);
    option(w, "--patch", patch);
    return at;
}

/* Through the weight only what is like the readings moves: card, backdrop and cloth stay. */
static int move_skin(struct work *w, int at, bool apart)
{
    if (!apart) {
        if (!w->asked->whole)
            at = weigh(w, at, NULL);
        return apply(w, at, file(w, "skin.curve"));
    }
    for (size_t i = 0; i < w->done->people; i++) {
        if (i > 0)
            at = carn_picture_drop_weight(&w->run, at, program(w, "carn-encode"),
                                          program(w, "carn-decode"), w->asked->in);
        at = apply(w, weigh(w, at, w->done->names[i]), curve_of(w, i));
    }
    return at;
}

/* The picture through the curves that there are, into the profile asked for. */
static int deliver(struct work *w, bool apart)
{
    int at = decode(w, w->asked->in);
    if (w->neutral != NULL)
        at = apply(w, at, w->neutral);
    if (w->grounds)
        at = move_skin(w, at, apart);
    if (w->asked->profile != NULL) {
        at = add(w, at, "carn-to-profile");
        option(w, "-o", w->asked->profile);
    }
    (void)add(w, at, "carn-encode");
    option(w, "-b", w->asked->bits);
    option(w, "-q", w->asked->quality);
    option(w, "-z", w->asked->compression);
    carn_run_words(&w->run, "--", w->asked->out);
    return must(w, NULL, NULL);
}

static int prove(struct work *w)
{
    const char *folder = file(w, "delivered"), *name = delivered_name(w);
    const char *before = file(w, "before.readings"), *after = file(w, "after.readings");
    char whole[PATH_MAX];
    if (realpath(w->asked->out, whole) == NULL)
        return carn_fail_at(w->err, CARN_SYSTEM, w->asked->out, "%s", strerror(errno));
    if (carn_folder(folder, w->err) != 0)
        return -1;
    (void)unlink(name);
    if (symlink(whole, name) != 0)
        return carn_fail_at(w->err, CARN_SYSTEM, name, "cannot be made: %s", strerror(errno));
    if (read_picture(w, name, "--skin", false, after) != 0)
        return -1;
    add(w, CARN_NO_STAGE, "carn-score");
    aim(w);
    ink(w);
    carn_run_word(&w->run, before);
    if (go(w, file(w, "before.scored"), NULL) < 0)
        return -1;
    add(w, CARN_NO_STAGE, "carn-score");
    aim(w);
    ink(w);
    carn_run_words(&w->run, "-c", file(w, "skin.curve"));
    carn_run_words(&w->run, "--before", before);
    carn_run_word(&w->run, after);
    int rc = go(w, file(w, "after.scored"), NULL);
    w->done->status = rc > 0;
    return rc < 0 ? -1 : 0;
}

static int correct(struct work *w)
{
    if (clear_folder(w) != 0 || measure(w) != 0)
        return -1;
    if (!w->grounds) {
        w->done->delivered = true;
        w->done->status = 1;
        return deliver(w, false);
    }
    if (find_people(w) != 0)
        return -1;
    bool apart = w->done->people > 1 && !w->asked->whole;
    return solve_all(w, apart) != 0 || deliver(w, apart) != 0 ? -1 : prove(w);
}

int carn_correct(const struct carn_correct *asked, struct carn_corrected *corrected,
                 struct carn_error *err)
{
    struct work w = {.asked = asked, .done = corrected, .err = err};
    struct carn_error ignored = {0}; /* carn-decode tells it */
    struct carn_look_at look;
    w.run.inside = asked->filters;
    (void)carn_look(asked->in, asked->filters != NULL, false, &look, &ignored);
    w.run.in_turn = look.small;
    int rc = correct(&w);
    carn_run_clear(&w.run);
    carn_texts_clear(&w.texts);
    return rc;
}

void carn_corrected_clear(struct carn_corrected *corrected)
{
    for (size_t i = 0; i < corrected->people; i++)
        free(corrected->names[i]);
    free(corrected->names);
    free(corrected->said);
    *corrected = (struct carn_corrected){0};
}
