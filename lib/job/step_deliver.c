/* step: deliver one frame: correct it, write it, put it in place, and prove it. */
#define _XOPEN_SOURCE 700
#include "job/deliver_own.h"

#include "correct/reading.h"
#include "job/kept.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

bool deliver_asked_is(const struct delivering *d, const char *key, const char *value)
{
    return strcmp(deliver_asked(d, key), value) == 0;
}

static int put_in_place(struct delivering *d, struct carn_error *err)
{
    struct carn_step *step = d->step;
    struct stat st;
    bool there = lstat(d->out, &st) == 0;
    if (there && !S_ISREG(st.st_mode))
        return carn_fail(&step->why, CARN_INPUT, "%s: is no plain file, so it is left alone",
                         d->out);
    bool same = there && carn_same_bytes(d->new, d->out);
    if (there && !same && deliver_asked_is(d, "approved", "yes"))
        return unlink(d->new) != 0 || deliver_keep_frozen(d, err) != 0 ? -1 : 0;
    (void)unlink(step_file(step, "frozen"));
    if (same)
        (void)unlink(d->new);
    else if (carn_move(d->new, d->out, &step->why) != 0)
        return -1;
    return deliver_write_made(d, true, err);
}

static int deliver(struct delivering *d, struct carn_error *err)
{
    struct carn_step *step = d->step;
    const char *const none[] = {NULL};
    char *failed = carn_step_failed(d->readings, err);
    if (failed != NULL)
        carn_fail(&step->why, CARN_INPUT, "%s", failed);
    free(failed);
    if (step->why.kind != CARN_NONE)
        return -1;
    if (d->grounds.table == NULL)
        return carn_fail_from(&step->why, &d->no_grounds, NULL);
    if (d->as_it_is || d->grounds.ground == CARN_GROUND_CARD) {
        deliver_drop_faces(d, "before");
        deliver_drop_faces(d, "after");
    }
    if (d->grounds.ground == CARN_GROUND_CARD) { /* measured, not delivered */
        (void)unlink(step_text(step, "report/pictures/%s.after.jpg", step->id));
        return step_merge(none, 1, d->after, d->frame, NULL, NULL, err);
    }
    if (!d->as_it_is && deliver_find_people(d) != 0)
        return -1;
    struct carn_error ignored = {0}; /* carn-decode tells it */
    size_t colours;
    (void)step_look_at(step, d->original, &colours, &ignored);
    if (deliver_make(d) != 0 || put_in_place(d, err) != 0)
        return -1;
    return deliver_prove(d, err);
}

static void clear_away(struct delivering *d)
{
    static const char *const files[] = {"faces.after", "squares.after", "all.after",
                                        "faces.plain", "squares.plain", "all.plain"};
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        (void)unlink(step_file(d->step, files[i]));
    (void)unlink(d->new);
}

enum { INPUTS = 8 + 4 * SKIN_PEOPLE };

/* A frame without a curve is judged by the house's own aims themselves, not by what its group made
 * of them. */
static bool has_curve(struct delivering *d, const char *path)
{
    char *failed = carn_step_failed(path, &d->step->why);
    bool has = failed == NULL && access(path, R_OK) == 0;
    free(failed);
    return has;
}

/* The tables that the picture is made from and judged by, its own and those of its groups; gives
 * how many. */
static size_t list_inputs(struct delivering *d, const char *paths[INPUTS])
{
    struct carn_step *step = d->step;
    size_t count = 0;
    bool curves = true;
    paths[count++] = step_file(step, "request.tsv");
    paths[count++] = step_file(step, "deliver.tsv");
    paths[count++] = step_file(step, "grounds.tsv");
    paths[count++] = step_file(step, "faces.tsv");
    paths[count++] = step_file(step, "squares.tsv");
    paths[count++] = d->readings;
    paths[count++] = d->neutral;
    for (size_t i = 0; i < d->groups; i++) {
        const char *group = step_text(step, "work/group/%s", d->group[i].group);
        size_t curve = d->group[i].curve;
        paths[count++] = step_text(step, "%s/solved.tsv", group);
        paths[count++] = step_text(step, "%s/aim.tsv", group);
        paths[count++] = step_text(step, "%s/curve-%zu.tsv", group, curve);
        curves = curves && has_curve(d, paths[count - 1]);
        if (!d->sure)
            paths[count++] = step_text(step, "%s/pooled-%zu.tsv", group, curve);
    }
    if (!curves)
        paths[count++] = "aims.tsv";
    return count;
}

/* The neutral curve of the frame's card; NULL without one that was measured. */
static const char *find_neutral(struct carn_step *step, struct carn_error *err)
{
    const char *card = step_asked(step, "card");
    if (card[0] == '\0')
        return NULL;
    const char *neutral = step_text(step, "work/card/%s/neutral.tsv", card);
    char *failed = carn_step_failed(neutral, err);
    bool none = failed != NULL || access(neutral, R_OK) != 0;
    free(failed);
    return none ? NULL : neutral;
}

/* Names the files, and reads what the frame was measured on. */
static void prepare(struct delivering *d, struct carn_error *err)
{
    struct carn_step *step = d->step;
    const char *suffix = strrchr(deliver_asked(d, "out"), '.');
    d->frame = step_asked(step, "frame");
    d->readings = step_file(step, "readings.tsv");
    d->after = step_file(step, "after.tsv");
    d->plain = step_file(step, "plain.tsv");
    d->original = step_text(step, "frames/%s", d->frame);
    d->out = step_text(step, "out/%s", deliver_asked(d, "out"));
    d->new = step_text(step, "%s/new%s", step->folder,
                       deliver_type(d) == NULL && suffix != NULL ? suffix : "");
    d->neutral = find_neutral(step, err);
    deliver_read_groups(d);
    (void)carn_grounds_read(step_file(step, "grounds.tsv"), &d->grounds, &d->no_grounds);
    d->sure = carn_grounds_are_sure(&d->grounds, strtod(deliver_asked(d, "CONFIDENCE"), NULL));
    d->as_it_is = carn_ground_is_as_it_is(d->grounds.ground);
}

int carn_step_deliver(struct carn_step *step, struct carn_error *err)
{
    struct delivering d = {.step = step,
                           .how = carn_table_read(step_file(step, "deliver.tsv"), err)};
    const char *inputs[INPUTS];
    if (d.how == NULL)
        return -1;
    prepare(&d, err);
    const struct step_made made = step_made(step, "delivered", inputs, list_inputs(&d, inputs));
    int rc;
    if (step_is_made(&made, d.after, err) &&
        carn_kept_delivered(step->id, deliver_asked(&d, "out"))) {
        rc = carn_touch(made.stamp, err) != 0 ? -1 : 1;
    } else {
        step_unmake(&made);
        (void)unlink(step_file(step, "delivered.notes"));
        rc = deliver(&d, err);
        if (rc == 0)
            rc = step_keep_notes(step, "delivered.notes", err);
        if (rc != 0 && step->why.kind == CARN_NONE)
            (void)carn_fail_from(&step->why, err, NULL);
        rc = rc != 0 ? step_write_failed(step, d.after, carn_reading_print_header, err)
                     : step_keep_made(&made, err);
        clear_away(&d);
    }
    carn_grounds_close(&d.grounds);
    carn_table_close(d.how);
    return rc;
}
