/* step: deliver one frame, and prove it from the delivered file, which is decoded once. */
#define _XOPEN_SOURCE 700
#include "job/step_own.h"

#include "job/picture.h"
#include "job/result.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* One person of the frame: the curve, and the readings that the weight is made from. */
struct person {
    const char *subject, *group, *curve; /* curve: NULL when this person is not moved */
    const char *weight;                  /* readings that tell what is skin */
    bool own;                            /* they are this frame's own */
};

struct delivering {
    struct carn_step *step;
    struct carn_table *how, *grounds;
    const char *frame, *original, *out, *new, *neutral, *readings, *after, *plain, *proxy;
    const char *kind; /* of grounds: given, found, none, grey, one-colour, card */
    bool sure, borrows, as_it_is, followed;
    size_t people;
    struct person person[SKIN_PEOPLE];
};

static const char *asked(const struct delivering *d, const char *key)
{
    return carn_record_get(d->how, key);
}

static bool is_plain(const char *path)
{
    struct stat st;
    return lstat(path, &st) == 0 && S_ISREG(st.st_mode);
}

static bool asked_is(const struct delivering *d, const char *key, const char *value)
{
    return strcmp(carn_record_get(d->how, key), value) == 0;
}

/* ---- who is in it, and what serves them ---- */

/* The rows of one person, or of all (subject NULL), under this frame's name. */
static int write_weight(struct delivering *d, const char *from, const char *subject, const char *to,
                        size_t *rows)
{
    struct carn_error *err = &d->step->why;
    struct carn_table *table = carn_table_read(from, err);
    struct carn_page page;
    if (table == NULL || carn_page_open(&page, err) != 0) {
        carn_table_close(table);
        return -1;
    }
    size_t columns = carn_table_columns(table);
    int frame_at = carn_table_find(table, "frame"), subject_at = carn_table_find(table, "subject");
    for (size_t c = 0; c < columns; c++) {
        carn_table_print(page.to, carn_table_name(table, c));
        fputc(c + 1 < columns ? '\t' : '\n', page.to);
    }
    *rows = 0;
    for (size_t i = 0; i < carn_table_rows(table); i++) {
        if (subject != NULL && strcmp(carn_table_cell(table, i, subject_at), subject) != 0)
            continue;
        ++*rows;
        for (size_t c = 0; c < columns; c++) {
            carn_table_print(page.to,
                             (int)c == frame_at ? d->frame : carn_table_cell(table, i, (int)c));
            fputc(c + 1 < columns ? '\t' : '\n', page.to);
        }
    }
    carn_table_close(table);
    return carn_page_keep(&page, to, err) < 0 ? -1 : 0;
}

/* The group's word on itself. */
static int read_group(struct delivering *d, const char *group, bool *surer)
{
    struct carn_step *step = d->step;
    struct carn_table *solved =
        carn_table_read(step_text(step, "work/group/%s/solved.tsv", group), &step->why);
    if (solved == NULL)
        return -1;
    const char *trouble = carn_record_get(solved, "trouble");
    if (trouble[0] != '\0')
        carn_fail(&step->why, CARN_INPUT, "%s", trouble);
    *surer = strcmp(carn_record_get(solved, "sure_rows"), "0") != 0;
    d->followed = d->followed || strcmp(carn_record_get(solved, "followed"), "yes") == 0;
    carn_table_close(solved);
    return trouble[0] == '\0' ? 0 : -1;
}

static int serve_person(struct delivering *d, struct person *person, const char *group,
                        size_t curve, size_t k)
{
    struct carn_step *step = d->step;
    bool surer = false, measured = strcmp(d->kind, "given") == 0 || strcmp(d->kind, "found") == 0;
    person->group = group;
    if (read_group(d, group, &surer) != 0)
        return -1;
    person->own = measured && d->sure;
    const char *path = step_text(step, "work/group/%s/curve-%zu.tsv", group, curve);
    char *failed = carn_step_failed(path, &step->why);
    person->curve = failed == NULL && access(path, R_OK) == 0 ? path : NULL;
    free(failed);
    if (person->curve == NULL && !measured)
        return carn_fail(&step->why, CARN_INPUT,
                         "no skin found, nor in the other frames of its group; write in "
                         "patches.tsv where to measure it");
    if (person->curve == NULL)
        return 0;
    size_t rows = 0;
    person->weight = step_file(step, step_text(step, "weight-%zu.tsv", k + 1));
    const char *from =
        person->own ? d->readings : step_text(step, "work/group/%s/pooled-%zu.tsv", group, curve);
    return write_weight(d, from, person->own ? person->subject : NULL, person->weight, &rows);
}

/* The people as grounds.tsv has them, each with its group and curve of deliver.tsv. */
static int find_people(struct delivering *d)
{
    struct carn_step *step = d->step;
    char *groups[SKIN_PEOPLE] = {0}, *list = carn_copy(asked(d, "groups"), &step->why),
         *rest = NULL;
    size_t curves[SKIN_PEOPLE] = {0}, count = 0;
    if (list == NULL)
        return -1;
    for (char *word = strtok_r(list, " ", &rest); word != NULL && count < SKIN_PEOPLE;
         word = strtok_r(NULL, " ", &rest)) {
        const char *number = strtok_r(NULL, " ", &rest);
        groups[count] = word;
        curves[count++] = number != NULL ? strtoul(number, NULL, 10) : 1;
    }
    int rc = count > 0 ? 0 : carn_fail(&step->why, CARN_INPUT, "deliver.tsv: no group");
    for (size_t i = 0; rc == 0 && i < carn_table_rows(d->grounds); i++) {
        if (strcmp(carn_table_cell(d->grounds, i, 0), "person") != 0 || d->people == SKIN_PEOPLE)
            continue;
        size_t k = d->people++;
        struct person *person = &d->person[k];
        person->subject = step_text(step, "%s", carn_table_cell(d->grounds, i, 1));
        const char *stranger = strrchr(person->subject, '#');
        bool nameless =
            count == 1 && k < SKIN_PEOPLE && stranger != NULL && step_asked_is(step, "subject", "");
        rc =
            serve_person(d, person, step_text(step, "%s", groups[k < count ? k : 0]),
                         nameless ? strtoul(stranger + 1, NULL, 10) : curves[k < count ? k : 0], k);
    }
    if (rc == 0 && d->people == 0) { /* nobody found: the curve of whom job.tsv names */
        d->people = 1;
        d->person[0].subject = step_text(step, "%s", step_asked(step, "subject"));
        rc = serve_person(d, &d->person[0], step_text(step, "%s", groups[0]), curves[0], 0);
    }
    free(list);
    return rc;
}

/* ---- the picture ---- */

/* Twice what a page shows, for screens of small pixels. */
static const char FACE_WIDTH[] = "260";

static void add_encoding(struct delivering *d, struct carn_run *run)
{
    static const char *const options[][2] = {
        {"DEPTH", "-b"}, {"COMPRESSION", "-z"}, {"QUALITY", "-q"}};
    for (size_t i = 0; i < 3; i++)
        if (!asked_is(d, options[i][0], "same"))
            carn_run_words(run, options[i][1], asked(d, options[i][0]));
}

static const char *encoding_words(struct delivering *d)
{
    const char *words = "";
    static const char *const options[][2] = {
        {"DEPTH", "-b"}, {"COMPRESSION", "-z"}, {"QUALITY", "-q"}};
    for (size_t i = 0; i < 3; i++)
        if (!asked_is(d, options[i][0], "same"))
            words = step_text(d->step, "%s%s%s %s", words, words[0] != '\0' ? " " : "",
                              options[i][1], asked(d, options[i][0]));
    return words;
}

/* A suffix that carn-encode knows, NULL when the name has none: then the original's bytes tell. */
static const char *type_of(struct delivering *d)
{
    static const char *const known[] = {"png", "tif", "tiff", "jpg", "jpeg",
                                        "jpe", "pnm", "pam",  "ppm", "pgm"};
    static const struct {
        const char *begin, *type;
    } magic[] = {{"\x89P", "png"}, {"\xff\xd8", "jpg"}, {"II", "tif"}, {"MM", "tif"}, {"P", "pnm"}};
    const char *dot = strrchr(d->out, '.');
    char head[4] = "";
    for (size_t i = 0; dot != NULL && i < sizeof known / sizeof *known; i++) {
        size_t n = 0;
        while (dot[1 + n] != '\0' && (dot[1 + n] | 0x20) == known[i][n])
            n++;
        if (dot[1 + n] == '\0' && known[i][n] == '\0')
            return NULL;
    }
    FILE *from = fopen(d->original, "rb");
    if (from != NULL) {
        (void)!fread(head, 1, 3, from);
        fclose(from);
    }
    for (size_t i = 0; i < sizeof magic / sizeof *magic; i++)
        if (strncmp(head, magic[i].begin, strlen(magic[i].begin)) == 0)
            return magic[i].type;
    return "tif";
}

/* Drops the weight, which PAM files do not hold. */
static int drop_weight(struct delivering *d, struct carn_run *run, int from)
{
    int at = carn_run_add(run, from, NULL, step_program(d->step, "carn-encode"));
    carn_run_words(run, "-b", "16");
    carn_run_words(run, "-t", "pam");
    carn_run_word(run, "-");
    at = carn_run_add(run, at, NULL, step_program(d->step, "carn-decode"));
    carn_run_words(run, "--as", d->original);
    carn_run_word(run, "-");
    return at;
}

static int apply(struct delivering *d, struct carn_run *run, int from, const char *curve)
{
    int at = carn_run_add(run, from, NULL, step_program(d->step, "carn-curve-apply"));
    carn_run_words(run, "-c", curve);
    return at;
}

/* Where the whole picture moves: all curves in one table a channel, rounded once. */
static int correct_whole(struct delivering *d, struct carn_run *run, int from, const char *look)
{
    bool any = d->neutral != NULL || look != NULL;
    for (size_t k = 0; k < d->people; k++)
        any = any || d->person[k].curve != NULL;
    if (!any)
        return from;
    from = carn_run_add(run, from, NULL, step_program(d->step, "carn-curve-apply"));
    if (d->neutral != NULL)
        carn_run_words(run, "-c", d->neutral);
    for (size_t k = 0; k < d->people; k++)
        if (d->person[k].curve != NULL)
            carn_run_words(run, "-c", d->person[k].curve);
    if (look != NULL)
        carn_run_words(run, "-c", look);
    return from;
}

static bool has_rows(const char *path)
{
    struct carn_error ignored = {0};
    struct carn_table *table = carn_table_read(path, &ignored);
    bool any = table != NULL && carn_table_rows(table) > 0;
    carn_table_close(table);
    return any;
}

/* The patch of a person's readings in this frame; NULL for none. */
static const char *patch_of(struct delivering *d, const char *subject)
{
    struct carn_error ignored = {0};
    struct carn_table *table = carn_table_read(d->readings, &ignored);
    const char *patch = NULL;
    for (size_t i = 0; table != NULL && patch == NULL && i < carn_table_rows(table); i++)
        if (strcmp(carn_table_cell(table, i, carn_table_find(table, "subject")), subject) == 0)
            patch = step_text(d->step, "%s",
                              carn_table_cell(table, i, carn_table_find(table, "patch")));
    carn_table_close(table);
    return patch;
}

/* The weight of person k, from its readings and the place of its face. With several people it
 * passes smoothly to the others, so their readings are needed too. */
static void add_weight_words(struct delivering *d, struct carn_run *run, size_t k)
{
    const char *faces = step_file(d->step, "faces.tsv"), *patch = NULL;
    bool placed = d->person[k].own && has_rows(faces);
    if (placed && d->people > 1)
        patch = patch_of(d, d->person[k].subject);
    carn_run_words(run, "-r", patch != NULL ? d->readings : d->person[k].weight);
    if (placed)
        carn_run_words(run, "-p", faces);
    if (patch != NULL)
        carn_run_words(run, "--patch", patch);
}

/* Neutral, and each person's skin through a weight of its own; gives the stage. */
static int correct_skin(struct delivering *d, struct carn_run *run, int from, bool *weighted)
{
    *weighted = false;
    if (d->neutral != NULL)
        from = apply(d, run, from, d->neutral);
    for (size_t k = 0; k < d->people; k++) {
        if (d->person[k].curve == NULL)
            continue;
        if (*weighted)
            from = drop_weight(d, run, from);
        from = carn_run_add(run, from, NULL, step_program(d->step, "carn-skin-weight"));
        add_weight_words(d, run, k);
        from = apply(d, run, from, d->person[k].curve);
        *weighted = true;
    }
    return from;
}

static bool has_look(const struct delivering *d)
{
    return !asked_is(d, "LOOK", "none") && !d->as_it_is;
}

static void add_sample(struct delivering *d, struct carn_run *run, int from, const char *in,
                       const char *patches, const char *out)
{
    int at = carn_run_add(run, from, in, step_program(d->step, "carn-sample"));
    carn_run_words(run, "-q", "-p");
    carn_run_word(run, patches);
    step_ink(d->step, run);
    run->stages[at].out = out;
}

/* At the pixels that were skin when it was measured. */
static void add_skin(struct delivering *d, struct carn_run *run)
{
    const char *skin = step_file(d->step, "skin.pbm");
    if (access(skin, R_OK) == 0)
        carn_run_words(run, "--skin", skin);
}

/* What measures a stream: its small picture for faces, itself for squares; found squares were
 * measured on the small picture, so they are here as well. picture: the small one is wanted in any
 * case. Gives its stage. */
static int add_proof(struct delivering *d, struct carn_run *run, int from, const char *name,
                     bool picture)
{
    struct carn_step *step = d->step;
    const char *squares = step_file(step, "squares.tsv"), *faces = step_file(step, "faces.tsv");
    bool given = strcmp(d->kind, "given") == 0, any = has_rows(squares);
    int small = CARN_NO_STAGE;
    if (picture || has_rows(faces) || (any && !given)) {
        small = carn_run_add(run, from, NULL, step_program(step, "carn-blur-average"));
        carn_run_words(run, "-w", "512");
    }
    if (any)
        add_sample(d, run, given ? from : small, NULL, squares,
                   step_file(step, step_text(step, "squares.%s", name)));
    if (has_rows(faces)) {
        add_sample(d, run, small, NULL, faces, step_file(step, step_text(step, "faces.%s", name)));
        add_skin(d, run);
    }
    return small;
}

/* The look comes last and leaves the aim on purpose: what is judged branches off before it. */
static int correct(struct delivering *d, struct carn_run *run, int from)
{
    const char *look = has_look(d) ? asked(d, "LOOK") : NULL;
    bool weighted = false;
    if (asked_is(d, "SKIN", "no")) {
        if (look != NULL)
            (void)add_proof(d, run, correct_whole(d, run, from, NULL), "plain", false);
        return correct_whole(d, run, from, look);
    }
    from = correct_skin(d, run, from, &weighted);
    if (look == NULL)
        return from;
    (void)add_proof(d, run, from, "plain", false);
    if (weighted)
        from = drop_weight(d, run, from);
    return apply(d, run, from, look);
}

/* The faces of a stream at full size, for people to look at: a picture each, in the order of
 * faces.tsv. curve: what is still to be applied, or NULL. */
static void add_face_pictures(struct delivering *d, struct carn_run *run, int from,
                              const char *curve, const char *when)
{
    struct carn_step *step = d->step;
    const char *faces = step_file(step, "faces.tsv");
    for (size_t k = 1; k <= SKIN_PEOPLE;
         k++) { /* those of an earlier run, which may have had more */
        char path[STEP_PATH];
        snprintf(path, sizeof path, "report/pictures/%s.%s.face-%zu.jpg", step->id, when, k);
        if (unlink(path) != 0)
            break;
    }
    if (!has_rows(faces))
        return;
    from = carn_run_add(run, from, NULL, step_program(step, "carn-crop"));
    carn_run_words(run, "-p", faces);
    carn_run_words(run, "-w", FACE_WIDTH);
    if (curve != NULL)
        from = apply(d, run, from, curve);
    carn_picture_stages(run, from, NULL, step_program(step, "carn-to-profile"),
                        step_program(step, "carn-encode"),
                        step_text(step, "report/pictures/%s.%s.face-{n}.jpg", step->id, when));
}

static int make_picture(struct delivering *d)
{
    struct carn_step *step = d->step;
    struct carn_run run = {0};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-decode"));
    carn_run_word(&run, d->original);
    if (!d->as_it_is)
        add_face_pictures(d, &run, at, d->neutral, "before");
    if (!d->as_it_is)
        at = correct(d, &run, at);
    if (!asked_is(d, "PROFILE", "same")) {
        at = carn_run_add(&run, at, NULL, step_program(step, "carn-to-profile"));
        carn_run_words(&run, "-o", asked(d, "PROFILE"));
    }
    carn_run_add(&run, at, NULL, step_program(step, "carn-encode"));
    const char *type = type_of(d);
    if (type != NULL)
        carn_run_words(&run, "-t", type);
    add_encoding(d, &run);
    carn_run_word(&run, d->new);
    return step_run(step, &run, NULL);
}

/* ---- the proof ---- */

/* Whose patch it is, by the readings after the card. */
static const char *subject_by_patch(const void *with, const char *patch)
{
    const struct carn_table *readings = with;
    int patch_at = carn_table_find(readings, "patch");
    for (size_t i = 0; i < carn_table_rows(readings); i++)
        if (strcmp(carn_table_cell(readings, i, patch_at), patch) == 0)
            return carn_table_cell(readings, i, carn_table_find(readings, "subject"));
    return "-";
}

/* The colours of all its people in one table. */
static int gather_aims(struct delivering *d, const char *to)
{
    const char *paths[SKIN_PEOPLE];
    for (size_t k = 0; k < d->people; k++)
        paths[k] = step_text(d->step, "work/group/%s/aim.tsv", d->person[k].group);
    return step_merge(paths, d->people, to, "-", NULL, NULL, &d->step->why);
}

/* The readings of a stream, under the frame's own name and its people's, scored. */
static int score(struct delivering *d, const char *name, const char *to)
{
    struct carn_step *step = d->step;
    const char *const parts[] = {step_file(step, step_text(step, "faces.%s", name)),
                                 step_file(step, step_text(step, "squares.%s", name))};
    const char *read = step_file(step, step_text(step, "all.%s", name));
    const char *aims = step_file(step, "aims.tsv");
    struct carn_run run = {0};
    struct carn_table *readings = carn_table_read(d->readings, &step->why);
    int rc = readings == NULL
                 ? -1
                 : step_merge(parts, 2, read, d->frame, subject_by_patch, readings, &step->why);
    carn_table_close(readings);
    if (rc != 0)
        return -1;
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-score"));
    bool coloured = step_score_by_subject;
    for (size_t k = 0; k < d->people; k++)
        coloured = coloured && d->person[k].curve != NULL;
    if (coloured) {
        if (gather_aims(d, aims) != 0)
            return -1;
        carn_run_word(&run, "--by-subject");
        carn_run_words(&run, "-f", aims);
    } else {
        carn_run_words(&run, "-a", asked(d, "AIM"));
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

static int prove(struct delivering *d, struct carn_error *err)
{
    struct carn_step *step = d->step;
    struct carn_run run = {0};
    const char *const none[] = {NULL};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-decode"));
    carn_run_words(&run, "-j", step_file(step, "labels.tsv"));
    carn_run_word(&run, d->out);
    if (!d->as_it_is)
        add_face_pictures(d, &run, at, NULL, "after");
    at = add_proof(d, &run, at, "after", true);
    carn_picture_stages(&run, at, NULL, step_program(step, "carn-to-profile"),
                        step_program(step, "carn-encode"),
                        step_text(step, "report/pictures/%s.after.jpg", step->id));
    if (step_run(step, &run, NULL) != 0)
        return -1;
    bool rows = has_rows(d->readings);
    if (!rows)
        return step_merge(none, 1, d->after, d->frame, NULL, NULL, err);
    if (has_look(d) && score(d, "plain", d->plain) != 0)
        return -1;
    return score(d, "after", d->after);
}

/* ---- what it was made with ---- */

/* The rows of a table in one cell: cells parted by ` ; `, rows by ` | `. columns NULL: all. */
static void print_flat(FILE *to, const char *path, const char *const *columns, size_t count)
{
    struct carn_error ignored = {0};
    struct carn_table *table = path != NULL ? carn_table_read(path, &ignored) : NULL;
    if (table == NULL || carn_table_rows(table) == 0)
        fputc('-', to);
    for (size_t i = 0; table != NULL && i < carn_table_rows(table); i++) {
        fputs(i > 0 ? " | " : "", to);
        for (size_t c = 0; c < count; c++) {
            fputs(c > 0 ? " ; " : "", to);
            carn_table_print(to, carn_table_cell(table, i, carn_table_find(table, columns[c])));
        }
    }
    carn_table_close(table);
}

static const char *const curve_columns[] = {"kind", "from", "to", "asked", "note"};
static const char *const face_columns[] = {"patch", "tone", "x", "y", "w", "h", "tilt", "points"};
static const char *const weight_columns[] = {"L", "a", "b", "tone", "spread"};

/* Of several people one after another, parted by ` || `. */
static void print_people(const struct delivering *d, FILE *to, bool weights)
{
    bool skin = asked_is(d, "SKIN", "yes"), any = false;
    for (size_t k = 0; k < d->people; k++) {
        if (d->person[k].curve == NULL || (weights && !skin))
            continue;
        fputs(any ? " || " : "", to);
        any = true;
        if (weights)
            print_flat(to, d->person[k].weight, weight_columns, 5);
        else
            print_flat(to, d->person[k].curve, curve_columns, 5);
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

static int write_made(struct delivering *d, bool known, struct carn_error *err)
{
    struct carn_step *step = d->step;
    char original[65], delivered[65];
    struct carn_page page;
    if (carn_sha256(d->original, original, err) != 0 || carn_sha256(d->out, delivered, err) != 0 ||
        carn_page_open(&page, err) != 0)
        return -1;
    FILE *to = page.to;
    const char *slash = strchr(d->out, '/');
    const char *follow = asked(d, "FOLLOW");
    bool follows = d->followed && strcmp(follow, step_asked(step, "camera")) != 0;
    fputs("frame\tfile\tsubject\tcamera\tcard\tversion\tseparation\taim\tbound\tstrength\tneutral\t"
          "curve\tlook\tweight\tprofile\tencode\toriginal_sha256\tdelivered_sha256\tfound_L\t"
          "found_a\tfound_b\tneutral_L\tneutral_a\tneutral_b\tfaces\n",
          to);
    struct carn_table *card = NULL;
    struct carn_error ignored = {0};
    if (step_asked(step, "card")[0] != '\0')
        card = carn_table_read(
            step_text(step, "work/card/%s/request.tsv", step_asked(step, "card")), &ignored);
    struct carn_result shot;
    const char *separation = "-";
    if (carn_result_read(step_file(step, "shot.tsv"), NULL, &shot, &ignored) == 0)
        separation = shot.separation;
    const char *const cells[] = {d->frame,
                                 slash != NULL ? slash + 1 : d->out,
                                 step_asked(step, "subject"),
                                 step_asked(step, "camera"),
                                 card != NULL ? carn_record_get(card, "frame") : "-",
                                 step_asked(step, "version"),
                                 separation,
                                 d->as_it_is ? "-"
                                 : follows   ? step_text(step, "follow %s", follow)
                                             : asked(d, "AIM"),
                                 asked(d, "BOUND"),
                                 follows ? "1" : asked(d, "STRENGTH")};
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
        fputs(i > 0 ? "\t" : "", to);
        carn_table_print(to, cells[i]);
    }
    fputc('\t', to);
    if (known) {
        print_flat(to, d->neutral, curve_columns, 5);
        fputc('\t', to);
        print_people(d, to, false);
        fputc('\t', to);
        print_flat(to, has_look(d) ? asked(d, "LOOK") : NULL, curve_columns, 5);
        fputc('\t', to);
        print_people(d, to, true);
    } else {
        fputs("-\t-\t-\t-", to);
    }
    const char *profile = asked(d, "PROFILE"), *type = type_of(d);
    const char *words = encoding_words(d);
    fputc('\t', to);
    carn_table_print(to, strcmp(profile, "same") == 0 ? "-" : profile);
    fputc('\t', to);
    if (type != NULL)
        words = step_text(step, "-t %s%s%s", type, words[0] != '\0' ? " " : "", words);
    carn_table_print(to, words);
    fprintf(to, "\t%s\t%s", original, delivered);
    print_lab(to, step_file(step, "shot.tsv"));
    print_lab(to, d->readings);
    fputc('\t', to);
    bool placed =
        known && !d->as_it_is && asked_is(d, "SKIN", "yes") && d->people > 0 && d->person[0].own;
    print_flat(to, placed ? step_file(step, "faces.tsv") : NULL, face_columns, 8);
    fputc('\n', to);
    carn_table_close(card);
    return carn_page_keep(&page, step_file(step, "made.tsv"), err) < 0 ? -1 : 0;
}

/* An approved picture that this run would change: its row is that of the run that made it. */
static int keep_frozen(struct delivering *d, struct carn_error *err)
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
        return write_made(d, false, err);
    int frame_at = carn_table_find(old, "frame");
    int last = carn_table_find(old, "faces");
    size_t row = 0;
    while (row < carn_table_rows(old) && strcmp(carn_table_cell(old, row, frame_at), d->frame) != 0)
        row++;
    if (row == carn_table_rows(old) || last < 0) {
        carn_table_close(old);
        return write_made(d, false, err);
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

/* ---- the step ---- */

static int put_in_place(struct delivering *d, struct carn_error *err)
{
    struct carn_step *step = d->step;
    struct stat st;
    bool there = lstat(d->out, &st) == 0;
    if (there && !S_ISREG(st.st_mode))
        return carn_fail(&step->why, CARN_INPUT, "%s: is no plain file, so it is left alone",
                         d->out);
    bool same = there && carn_same_bytes(d->new, d->out);
    if (there && !same && asked_is(d, "approved", "yes"))
        return unlink(d->new) != 0 || keep_frozen(d, err) != 0 ? -1 : 0;
    (void)unlink(step_file(step, "frozen"));
    if (same)
        (void)unlink(d->new);
    else if (carn_move(d->new, d->out, &step->why) != 0)
        return -1;
    return write_made(d, true, err);
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
              strtod(asked(d, "CONFIDENCE"), NULL);
    if (strcmp(d->kind, "card") == 0) /* of the card alone: measured, not delivered */
        return step_merge(none, 1, d->after, d->frame, NULL, NULL, err);
    d->as_it_is = strcmp(d->kind, "grey") == 0 || strcmp(d->kind, "one-colour") == 0;
    if (!d->as_it_is && find_people(d) != 0)
        return -1;
    if (make_picture(d) != 0 || put_in_place(d, err) != 0)
        return -1;
    return prove(d, err);
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
    char *list = carn_copy(asked(d, "groups"), &step->why), *rest = NULL;
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
                                          strtod(asked(d, "CONFIDENCE"), NULL);
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
    const char *card = step_asked(step, "card"), *suffix = strrchr(asked(&d, "out"), '.');
    d.original = step_text(step, "frames/%s", d.frame);
    d.out = step_text(step, "out/%s", asked(&d, "out"));
    d.new = step_text(step, "%s/new%s", step->folder,
                      type_of(&d) == NULL && suffix != NULL ? suffix : "");
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
