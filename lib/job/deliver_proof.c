/* The delivered file read and judged; it is decoded once. */
#define _XOPEN_SOURCE 700
#include "job/deliver_own.h"

#include "job/picture.h"

#include <string.h>
#include <unistd.h>

/* Twice what a page shows, for screens of small pixels. */
static const char FACE_WIDTH[] = "260";

bool deliver_has_rows(const char *path)
{
    struct carn_error ignored = {0};
    struct carn_table *table = carn_table_read(path, &ignored);
    bool any = table != NULL && carn_table_rows(table) > 0;
    carn_table_close(table);
    return any;
}

/* Reads faces at the pixels that were skin when the frame was measured. */
static void add_skin(struct delivering *d, struct carn_run *run)
{
    const char *skin = step_file(d->step, "skin.pbm");
    if (access(skin, R_OK) == 0)
        carn_run_words(run, "--skin", skin);
}

int deliver_add_proof(struct delivering *d, struct carn_run *run, int from, const char *name,
                      bool picture)
{
    struct carn_step *step = d->step;
    const char *squares = step_file(step, "squares.tsv"), *faces = step_file(step, "faces.tsv");
    bool given = d->grounds.ground == CARN_GROUND_GIVEN, any = deliver_has_rows(squares);
    int small = CARN_NO_STAGE;
    if (picture || deliver_has_rows(faces) || (any && !given)) {
        small = carn_run_add(run, from, NULL, step_program(step, "carn-blur-average"));
        carn_run_words(run, "-w", STEP_SMALL);
    }
    if (any)
        step_add_sample(d->step, run, given ? from : small, NULL, squares,
                        step_file(step, step_text(step, "squares.%s", name)));
    if (deliver_has_rows(faces)) {
        step_add_sample(d->step, run, small, NULL, faces,
                        step_file(step, step_text(step, "faces.%s", name)));
        add_skin(d, run);
    }
    return small;
}

void deliver_drop_faces(struct delivering *d, const char *when)
{
    char path[STEP_PATH];
    for (size_t k = 1; k <= SKIN_PEOPLE; k++) {
        snprintf(path, sizeof path, "report/pictures/%s.%s.face-%zu.jpg", d->step->id, when, k);
        if (unlink(path) != 0)
            break;
    }
}

void deliver_add_faces(struct delivering *d, struct carn_run *run, int from, const char *curve,
                       const char *when)
{
    struct carn_step *step = d->step;
    const char *faces = step_file(step, "faces.tsv");
    deliver_drop_faces(d, when); /* an earlier run may have had more */
    if (!deliver_has_rows(faces))
        return;
    from = carn_run_add(run, from, NULL, step_program(step, "carn-crop"));
    carn_run_words(run, "-p", faces);
    carn_run_words(run, "-w", FACE_WIDTH);
    if (curve != NULL)
        from = deliver_apply(d, run, from, curve);
    carn_picture_stages(run, from, NULL, step_program(step, "carn-to-profile"),
                        step_program(step, "carn-encode"),
                        step_text(step, "report/pictures/%s.%s.face-{n}.jpg", step->id, when));
}

/* Whose patch it is, by the readings after the card. */
static const char *subject_by_patch(const void *with, const char *patch)
{
    const struct carn_table *readings = with;
    int patch_at = carn_table_find(readings, "patch");
    for (size_t i = 0; i < carn_table_rows(readings); i++)
        if (strcmp(carn_table_cell(readings, i, patch_at), patch) == 0)
            return carn_table_at(readings, i, "subject");
    return "-";
}

/* The colours of all its people in one table. */
static int gather_aims(struct delivering *d, const char *to)
{
    const char *paths[SKIN_PEOPLE];
    size_t count = 0;
    for (size_t k = 0; k < d->people; k++) {
        bool known = false; /* people without a name share their frame's group */
        for (size_t i = 0; i < k; i++)
            known = known || strcmp(d->person[i].group, d->person[k].group) == 0;
        if (!known)
            paths[count++] = step_text(d->step, "work/group/%s/aim.tsv", d->person[k].group);
    }
    return step_merge(paths, count, to, "-", NULL, NULL, &d->step->why);
}

/* A table of the frame's readings, scored. */
static int judge(struct delivering *d, const char *read, const char *to)
{
    struct carn_step *step = d->step;
    const char *aims = step_file(step, "aims.tsv");
    struct carn_run run = {0};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-score"));
    bool coloured = true;
    for (size_t k = 0; k < d->people; k++)
        coloured = coloured && d->person[k].curve != NULL;
    if (coloured) {
        if (gather_aims(d, aims) != 0)
            return -1;
        carn_run_word(&run, "--by-subject");
        carn_run_words(&run, "-f", aims);
    } else {
        carn_run_words(&run, "-a", deliver_asked(d, "AIM"));
        if (access("aims.tsv", F_OK) == 0)
            carn_run_words(&run, "-f", "aims.tsv");
    }
    carn_run_words(&run, "--before", d->readings);
    if (d->people == 1 && d->person[0].curve != NULL)
        carn_run_words(&run, "-c", d->person[0].curve);
    step_ink(step, &run);
    carn_run_word(&run, read);
    run.stages[at].out = to;
    return step_run(step, &run, NULL);
}

/* The readings of a stream, under the frame's own name and its people's, scored. */
static int score(struct delivering *d, const char *name, const char *to)
{
    struct carn_step *step = d->step;
    const char *const parts[] = {step_file(step, step_text(step, "faces.%s", name)),
                                 step_file(step, step_text(step, "squares.%s", name))};
    const char *read = step_file(step, step_text(step, "all.%s", name));
    struct carn_table *readings = carn_table_read(d->readings, &step->why);
    int rc = readings == NULL
                 ? -1
                 : step_merge(parts, 2, read, d->frame, subject_by_patch, readings, &step->why);
    carn_table_close(readings);
    return rc == 0 ? judge(d, read, to) : -1;
}

/* What the picture was before the look. That of a frozen picture was read when it was made: this
 * run's is of another one. */
static int score_plain(struct delivering *d)
{
    struct carn_step *step = d->step;
    bool frozen = access(step_file(step, "frozen"), F_OK) == 0;
    if (!frozen && deliver_has_look(d))
        return score(d, "plain", d->plain);
    if (!frozen || judge(d, d->plain, d->plain) != 0)
        (void)unlink(d->plain);
    if (frozen)
        step->why = (struct carn_error){0};
    return 0;
}

int deliver_prove(struct delivering *d, struct carn_error *err)
{
    struct carn_step *step = d->step;
    struct carn_run run = {0};
    const char *const none[] = {NULL};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-decode"));
    carn_run_words(&run, "-j", step_file(step, "labels.tsv"));
    carn_run_word(&run, d->out);
    if (!d->as_it_is)
        deliver_add_faces(d, &run, at, NULL, "after");
    at = deliver_add_proof(d, &run, at, "after", true);
    carn_picture_stages(&run, at, NULL, step_program(step, "carn-to-profile"),
                        step_program(step, "carn-encode"),
                        step_text(step, "report/pictures/%s.after.jpg", step->id));
    if (step_run(step, &run, NULL) != 0)
        return -1;
    bool rows = deliver_has_rows(d->readings);
    if (!rows) { /* nor of an earlier run's */
        (void)unlink(d->plain);
        return step_merge(none, 1, d->after, d->frame, NULL, NULL, err);
    }
    if (score_plain(d) != 0)
        return -1;
    return score(d, "after", d->after);
}
