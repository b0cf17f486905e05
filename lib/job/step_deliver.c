/* step: deliver one frame: correct it, write it, put it in place, and prove it. */
#define _XOPEN_SOURCE 700
#include "job/deliver_own.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

bool deliver_asked_is(const struct delivering *d, const char *key, const char *value)
{
    return strcmp(deliver_asked(d, key), value) == 0;
}

static bool is_plain(const char *path)
{
    struct stat st;
    return lstat(path, &st) == 0 && S_ISREG(st.st_mode);
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
    d->grounds = carn_table_read(step_file(step, "grounds.tsv"), &step->why);
    if (d->grounds == NULL)
        return -1;
    d->kind = carn_record_get(d->grounds, "grounds");
    d->sure = strtod(carn_record_get(d->grounds, "confidence"), NULL) >=
              strtod(deliver_asked(d, "CONFIDENCE"), NULL);
    if (strcmp(d->kind, "card") == 0) /* of the card alone: measured, not delivered */
        return step_merge(none, 1, d->after, d->frame, NULL, NULL, err);
    d->as_it_is = strcmp(d->kind, "grey") == 0 || strcmp(d->kind, "one-colour") == 0;
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

/* The sum of all that the picture depends on: its own tables and those of its groups. */
static unsigned long long sum_inputs(struct delivering *d)
{
    struct carn_step *step = d->step;
    const char *paths[6 + 4 * SKIN_PEOPLE];
    size_t count = 0;
    paths[count++] = step_file(step, "request.tsv");
    paths[count++] = step_file(step, "deliver.tsv");
    paths[count++] = step_file(step, "grounds.tsv");
    paths[count++] = d->readings;
    paths[count++] = d->neutral;
    char *list = carn_copy(deliver_asked(d, "groups"), &step->why), *rest = NULL;
    for (char *word = list != NULL ? strtok_r(list, " ", &rest) : NULL;
         word != NULL && count + 4 <= sizeof paths / sizeof *paths;
         word = strtok_r(NULL, " ", &rest)) {
        const char *number = strtok_r(NULL, " ", &rest);
        const char *group = step_text(step, "work/group/%s", word);
        paths[count++] = step_text(step, "%s/solved.tsv", group);
        paths[count++] = step_text(step, "%s/aim.tsv", group);
        paths[count++] = step_text(step, "%s/curve-%s.tsv", group, number != NULL ? number : "1");
        struct carn_error ignored = {0};
        struct carn_table *grounds = carn_table_read(paths[2], &ignored);
        bool own = grounds != NULL && strtod(carn_record_get(grounds, "confidence"), NULL) >=
                                          strtod(deliver_asked(d, "CONFIDENCE"), NULL);
        carn_table_close(grounds);
        if (!own)
            paths[count++] =
                step_text(step, "%s/pooled-%s.tsv", group, number != NULL ? number : "1");
    }
    free(list);
    return step_sum(paths, count);
}

int carn_step_deliver(struct carn_step *step, struct carn_error *err)
{
    struct delivering d = {
        .step = step,
        .how = carn_table_read(step_file(step, "deliver.tsv"), err),
        .frame = step_asked(step, "frame"),
        .readings = step_file(step, "readings.tsv"),
        .after = step_file(step, "after.tsv"),
        .plain = step_file(step, "plain.tsv"),
        .kind = "none",
    };
    if (d.how == NULL)
        return -1;
    const char *stamp = step_file(step, "delivered"), *key = step_file(step, "delivered.key");
    const char *card = step_asked(step, "card"), *suffix = strrchr(deliver_asked(&d, "out"), '.');
    d.original = step_text(step, "frames/%s", d.frame);
    d.out = step_text(step, "out/%s", deliver_asked(&d, "out"));
    d.new = step_text(step, "%s/new%s", step->folder,
                      deliver_type(&d) == NULL && suffix != NULL ? suffix : "");
    if (card[0] != '\0') {
        d.neutral = step_text(step, "work/card/%s/neutral.tsv", card);
        char *failed = carn_step_failed(d.neutral, err);
        if (failed != NULL || access(d.neutral, R_OK) != 0)
            d.neutral = NULL;
        free(failed);
    }
    unsigned long long sum = sum_inputs(&d);
    char *failed = carn_step_failed(d.after, err);
    struct carn_error ignored = {0};
    struct carn_table *grounds = carn_table_read(step_file(step, "grounds.tsv"), &ignored);
    bool only_card = grounds != NULL && strcmp(carn_record_get(grounds, "grounds"), "card") == 0;
    carn_table_close(grounds);
    const char *picture = step_text(step, "report/pictures/%s.after.jpg", step->id);
    bool same = failed == NULL && step_key_holds(key, sum) && access(d.after, R_OK) == 0 &&
                (only_card || (is_plain(d.out) && access(picture, R_OK) == 0 &&
                               access(step_file(step, "made.tsv"), R_OK) == 0));
    free(failed);
    if (same) {
        carn_table_close(d.how);
        return carn_touch(stamp, err) != 0 ? -1 : 1;
    }
    (void)unlink(stamp);
    (void)unlink(key);
    int rc = deliver(&d, err);
    if (rc == 0 && carn_keep(step_file(step, "delivered.notes"),
                             step->notes != NULL ? step->notes : "", err) < 0)
        rc = -1;
    if (rc != 0 && step->why.kind == CARN_NONE)
        (void)carn_fail_from(&step->why, err, NULL);
    if (rc != 0)
        rc = step_write_failed(step, d.after, step_readings_header, err);
    else if (step_key_keep(key, sum, err) != 0 || carn_touch(stamp, err) != 0)
        rc = -1;
    clear_away(&d);
    carn_table_close(d.grounds);
    carn_table_close(d.how);
    return rc;
}
