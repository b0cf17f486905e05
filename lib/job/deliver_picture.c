/* The stages that correct a frame and write it. */
#define _XOPEN_SOURCE 700
#include "job/deliver_own.h"

#include "job/picture.h"

#include <stdio.h>
#include <string.h>

/* Settings, and the options of carn-encode that they become. */
static const char *const options[][2] = {{"DEPTH", "-b"}, {"COMPRESSION", "-z"}, {"QUALITY", "-q"}};

static void add_encoding(struct delivering *d, struct carn_run *run)
{
    for (size_t i = 0; i < 3; i++)
        if (!deliver_asked_is(d, options[i][0], "same"))
            carn_run_words(run, options[i][1], deliver_asked(d, options[i][0]));
}

const char *deliver_encoding(struct delivering *d)
{
    const char *words = "";
    for (size_t i = 0; i < 3; i++)
        if (!deliver_asked_is(d, options[i][0], "same"))
            words = step_text(d->step, "%s%s%s %s", words, words[0] != '\0' ? " " : "",
                              options[i][1], deliver_asked(d, options[i][0]));
    return words;
}

/* A suffix that carn-encode knows, NULL when the name has none: then the original's bytes tell. */
const char *deliver_type(struct delivering *d)
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

static int drop_weight(struct delivering *d, struct carn_run *run, int from)
{
    return carn_picture_drop_weight(run, from, step_program(d->step, "carn-encode"),
                                    step_program(d->step, "carn-decode"), d->original);
}

int deliver_apply(struct delivering *d, struct carn_run *run, int from, const char *curve)
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

/* The patch of a person's readings in this frame; NULL for none. */
static const char *patch_of(struct delivering *d, const char *subject)
{
    struct carn_error ignored = {0};
    struct carn_table *table = carn_table_read(d->readings, &ignored);
    const char *patch = NULL;
    for (size_t i = 0; table != NULL && patch == NULL && i < carn_table_rows(table); i++)
        if (strcmp(carn_table_at(table, i, "subject"), subject) == 0)
            patch = step_text(d->step, "%s", carn_table_at(table, i, "patch"));
    carn_table_close(table);
    return patch;
}

/* The weight of person k, from its readings and the place of its face. With several people it
 * passes smoothly to the others, so their readings are needed too. */
static void add_weight_words(struct delivering *d, struct carn_run *run, size_t k)
{
    const char *faces = step_file(d->step, "faces.tsv"), *patch = NULL;
    bool placed = d->person[k].own && deliver_has_rows(faces);
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
        from = deliver_apply(d, run, from, d->neutral);
    for (size_t k = 0; k < d->people; k++) {
        if (d->person[k].curve == NULL)
            continue;
        if (*weighted)
            from = drop_weight(d, run, from);
        from = carn_run_add(run, from, NULL, step_program(d->step, "carn-skin-weight"));
        add_weight_words(d, run, k);
        from = deliver_apply(d, run, from, d->person[k].curve);
        *weighted = true;
    }
    return from;
}

bool deliver_has_look(const struct delivering *d)
{
    return !deliver_asked_is(d, "LOOK", "none") && !d->as_it_is;
}

/* The look comes last and leaves the aim on purpose: what is judged branches off before it. */
static int correct(struct delivering *d, struct carn_run *run, int from)
{
    const char *look = deliver_has_look(d) ? deliver_asked(d, "LOOK") : NULL;
    bool weighted = false;
    if (deliver_asked_is(d, "SKIN", "no")) {
        if (look != NULL)
            (void)deliver_add_proof(d, run, correct_whole(d, run, from, NULL), "plain", false);
        return correct_whole(d, run, from, look);
    }
    from = correct_skin(d, run, from, &weighted);
    if (look == NULL)
        return from;
    (void)deliver_add_proof(d, run, from, "plain", false);
    if (weighted)
        from = drop_weight(d, run, from);
    return deliver_apply(d, run, from, look);
}

int deliver_make(struct delivering *d)
{
    struct carn_step *step = d->step;
    struct carn_run run = {0};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-decode"));
    carn_run_word(&run, d->original);
    if (!d->as_it_is)
        deliver_add_faces(d, &run, at, d->neutral, "before");
    if (!d->as_it_is)
        at = correct(d, &run, at);
    if (!deliver_asked_is(d, "PROFILE", "same")) {
        at = carn_run_add(&run, at, NULL, step_program(step, "carn-to-profile"));
        carn_run_words(&run, "-o", deliver_asked(d, "PROFILE"));
    }
    carn_run_add(&run, at, NULL, step_program(step, "carn-encode"));
    const char *type = deliver_type(d);
    if (type != NULL)
        carn_run_words(&run, "-t", type);
    add_encoding(d, &run);
    carn_run_word(&run, d->new);
    return step_run(step, &run, NULL);
}
