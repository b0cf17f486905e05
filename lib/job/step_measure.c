/* step: measure one frame: its original is decoded once, for all who need it. */
#define _XOPEN_SOURCE 700
#include "job/step_own.h"

#include "base/tone.h"
#include "correct/reading.h"
#include "job/grounds.h"
#include "job/kept.h"
#include "job/people.h"
#include "job/picture.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* What is known while the step runs. */
struct measuring {
    struct carn_step *step;
    const char *original, *labels, *proxy, *neutral; /* neutral: NULL without a card */
    const char *squares, *faces, *shot, *readings, *grounds, *skin, *picture;
    bool have_squares, have_faces;
    enum carn_ground ground;
    struct carn_people people;
};

/* ---- tables ---- */

static int write_labels(struct measuring *m, struct carn_error *err)
{
    struct carn_page page;
    if (carn_page_open(&page, err) != 0)
        return -1;
    fputs("frame\tsubject\tcamera\n*\t", page.to);
    carn_table_print(page.to, step_asked(m->step, "subject"));
    fputc('\t', page.to);
    carn_table_print(page.to, step_asked(m->step, "camera"));
    fputc('\n', page.to);
    return carn_page_keep(&page, m->labels, err) < 0 ? -1 : 0;
}

/* The rows of patches that count, of tone all or the others, as a table at path. */
static int write_rows(const struct carn_table *patches, const struct carn_people *people, bool all,
                      const char *path, bool *any, struct carn_error *err)
{
    struct carn_page page;
    if (carn_page_open(&page, err) != 0)
        return -1;
    int tone = carn_table_find(patches, "tone"), frame = carn_table_find(patches, "frame");
    *any = false;
    carn_table_print_names(page.to, patches);
    fputc('\n', page.to);
    for (size_t i = 0; i < carn_table_rows(patches); i++) {
        enum carn_tone own = carn_tone_of(carn_table_cell(patches, i, tone));
        bool backdrop = own == CARN_TONE_BACKDROP;
        if ((own == CARN_TONE_ALL) != all || (people->person[i] < 0 && !backdrop))
            continue;
        *any = true;
        carn_table_print_row(page.to, patches, i, frame, "*");
        fputc('\n', page.to);
    }
    return carn_page_keep(&page, path, err) < 0 ? -1 : 0;
}

/* Whose rows they are, and the tables to measure by. */
static int match_people(struct measuring *m, const char *path, bool found, struct carn_error *err)
{
    struct carn_step *step = m->step;
    struct carn_table *patches = carn_table_read(path, &step->why);
    if (patches == NULL)
        return -1;
    int rc = carn_people_match(patches, found, step_asked(step, "subject"),
                               step_asked(step, "frame"), &m->people, &step->why);
    if (rc == 0)
        rc = write_rows(patches, &m->people, true, m->faces, &m->have_faces, err);
    if (rc == 0)
        rc = write_rows(patches, &m->people, false, m->squares, &m->have_squares, err);
    carn_table_close(patches);
    return rc;
}

/* ---- pipelines ---- */

/* The faces of the small picture; skin: tell which pixels were read, for the proof. */
static void add_faces(struct measuring *m, struct carn_run *run, int from, const char *name,
                      bool skin)
{
    step_add_sample(m->step, run, from, from == CARN_NO_STAGE ? m->proxy : NULL, m->faces,
                    step_file(m->step, step_text(m->step, "faces.%s", name)));
    if (skin)
        carn_run_words(run, "--skin-to", m->skin);
}

static int add_neutral(struct measuring *m, struct carn_run *run, int from, const char *in)
{
    int at = carn_run_add(run, from, in, step_program(m->step, "carn-curve-apply"));
    carn_run_words(run, "-c", m->neutral);
    return at;
}

/* The original once: averaged down for faces and for people to look at, and whole for squares. */
static int decode(struct measuring *m, bool squares)
{
    struct carn_step *step = m->step;
    struct carn_run run = {0};
    int from = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-decode"));
    carn_run_words(&run, "-j", m->labels);
    carn_run_word(&run, m->original);
    int small = carn_run_add(&run, from, NULL, step_program(step, "carn-blur-average"));
    carn_run_words(&run, "-w", STEP_SMALL);
    run.stages[small].out = m->proxy;
    if (squares) {
        step_add_sample(m->step, &run, from, NULL, m->squares, step_file(step, "squares.shot"));
        if (m->neutral != NULL)
            step_add_sample(m->step, &run, add_neutral(m, &run, from, NULL), NULL, m->squares,
                            step_file(step, "squares.readings"));
    }
    return step_run(step, &run, NULL);
}

/* What the small picture is good for: readings of faces (and of squares found on it), and a
 * picture to look at, as it is after the card. */
static int use_proxy(struct measuring *m, bool squares)
{
    struct carn_step *step = m->step;
    struct carn_run run = {0};
    int after = CARN_NO_STAGE;
    run.in_turn = true;
    if (m->neutral != NULL)
        after = add_neutral(m, &run, CARN_NO_STAGE, m->proxy);
    bool carded = after != CARN_NO_STAGE;
    if (m->have_faces)
        add_faces(m, &run, CARN_NO_STAGE, "shot", !carded);
    if (m->have_faces && carded)
        add_faces(m, &run, after, "readings", true);
    if (squares)
        step_add_sample(m->step, &run, CARN_NO_STAGE, m->proxy, m->squares,
                        step_file(step, "squares.shot"));
    if (squares && carded)
        step_add_sample(m->step, &run, after, NULL, m->squares,
                        step_file(step, "squares.readings"));
    carn_picture_stages(&run, after, m->proxy, step_program(step, "carn-to-profile"),
                        step_program(step, "carn-encode"), m->picture);
    return step_run(step, &run, NULL);
}

static int find(struct measuring *m, struct carn_error *err)
{
    struct carn_step *step = m->step;
    struct carn_run run = {0};
    const char *found = step_file(step, "found.tsv");
    int status = 0;
    int at = carn_run_add(&run, CARN_NO_STAGE, m->proxy, step_program(step, "carn-patch-find"));
    run.stages[at].out = found;
    if (step_run(step, &run, &status) != 0)
        return -1;
    if (status == 0 && match_people(m, found, true, err) != 0)
        return -1;
    m->ground = m->have_faces || m->have_squares           ? CARN_GROUND_FOUND
                : step_asked_is(step, "shows_card", "yes") ? CARN_GROUND_CARD
                                                           : CARN_GROUND_NONE;
    return 0;
}

/* ---- the step ---- */

static int measure(struct measuring *m, struct carn_error *err)
{
    struct carn_step *step = m->step;
    bool given = step_asked_is(step, "given", "yes");
    const char *trouble = step_asked(step, "trouble");
    if (trouble[0] != '\0')
        return carn_fail(&step->why, CARN_INPUT, "%s", trouble);
    size_t colours = 0;
    if (step_look_at(step, m->original, &colours, &step->why) != 0 || write_labels(m, err) != 0)
        return -1;
    if (colours == 1) {
        m->ground = CARN_GROUND_GREY;
        m->neutral = NULL;
        return decode(m, false) == 0 ? use_proxy(m, false) : -1;
    }
    if (given && match_people(m, step_file(step, "patches.tsv"), false, err) != 0)
        return -1;
    if (decode(m, given && m->have_squares) != 0)
        return -1;
    if (given)
        return use_proxy(m, false);
    int one = carn_picture_one_colour(m->proxy, &step->why);
    if (one < 0 || (one == 0 && find(m, err) != 0))
        return -1;
    if (one > 0) {
        m->ground = CARN_GROUND_ONE_COLOUR;
        m->neutral = NULL;
    }
    return use_proxy(m, m->have_squares);
}

/* Readings as shot and after the card, people by name; without a card they are the same. */
static int write_readings(struct measuring *m, struct carn_error *err)
{
    struct carn_step *step = m->step;
    const char *const shot[] = {step_file(step, "faces.shot"), step_file(step, "squares.shot")};
    const char *const after[] = {step_file(step, "faces.readings"),
                                 step_file(step, "squares.readings")};
    const char *frame = step_asked(step, "frame");
    if (step_merge(shot, 2, m->shot, frame, carn_people_of, &m->people, err) != 0)
        return -1;
    return step_merge(m->neutral != NULL ? after : shot, 2, m->readings, frame, carn_people_of,
                      &m->people, err);
}

static void clear_away(struct measuring *m)
{
    static const char *const files[] = {"faces.shot", "faces.readings", "squares.shot",
                                        "squares.readings", "proxy.pam"};
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        (void)unlink(step_file(m->step, files[i]));
}

/* All its tables, without rows. */
static int fail_whole(struct measuring *m, struct carn_error *err)
{
    return step_write_failed(m->step, m->readings, carn_reading_print_header, err) != 0 ||
                   step_write_failed(m->step, m->shot, carn_reading_print_header, err) != 0 ||
                   step_write_failed(m->step, m->grounds, carn_record_begin, err) != 0
               ? -1
               : 0;
}

/* The neutral curve of the frame's card; NULL when it has none, or one that failed. */
static const char *use_neutral(const char *neutral, struct carn_error *err)
{
    char *failed = neutral != NULL ? carn_step_failed(neutral, err) : NULL;
    bool none = failed != NULL;
    free(failed);
    return none ? NULL : neutral;
}

int carn_step_measure(struct carn_step *step, struct carn_error *err)
{
    const char *card = step_asked(step, "card");
    const char *neutral =
        card[0] != '\0' ? step_text(step, "work/card/%s/neutral.tsv", card) : NULL;
    struct measuring m = {
        .step = step,
        .original = step_text(step, "frames/%s", step_asked(step, "frame")),
        .labels = step_file(step, "labels.tsv"),
        .proxy = step_file(step, "proxy.pam"),
        .neutral = use_neutral(neutral, err),
        .squares = step_file(step, "squares.tsv"),
        .faces = step_file(step, "faces.tsv"),
        .shot = step_file(step, "shot.tsv"),
        .readings = step_file(step, "readings.tsv"),
        .grounds = step_file(step, "grounds.tsv"),
        .skin = step_file(step, "skin.pbm"),
        .picture = step_text(step, "report/pictures/%s.before.jpg", step->id),
        .ground = CARN_GROUND_GIVEN,
    };
    const char *const inputs[] = {step_file(step, "request.tsv"), step_file(step, "patches.tsv"),
                                  neutral};
    const struct step_made made = step_made(step, "measured", inputs, 3);
    if (step_is_made(&made, m.readings, err) && carn_kept_measured(step->id))
        return carn_touch(made.stamp, err) != 0 ? -1 : 1;
    step_unmake(&made);
    (void)unlink(m.faces);
    (void)unlink(m.squares);
    (void)unlink(m.skin);
    (void)unlink(step_file(step, "measured.notes"));
    int rc = measure(&m, err);
    if (rc == 0)
        rc = write_readings(&m, err);
    if (rc == 0)
        rc = carn_grounds_keep(m.grounds, m.ground, &m.people, err);
    if (rc == 0)
        rc = step_keep_notes(step, "measured.notes", err);
    if (rc != 0 && step->why.kind == CARN_NONE)
        (void)carn_fail_from(&step->why, err, NULL); /* a table that could not be written */
    rc = rc != 0 ? fail_whole(&m, err) : step_keep_made(&made, err);
    clear_away(&m);
    carn_people_clear(&m.people);
    return rc;
}
