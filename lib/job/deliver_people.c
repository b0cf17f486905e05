/* Who is in a delivered frame, and which curve and weight serves each person. */
#define _XOPEN_SOURCE 700
#include "job/deliver_own.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

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
    int frame_at = carn_table_find(table, "frame"), subject_at = carn_table_find(table, "subject");
    carn_table_print_names(page.to, table);
    fputc('\n', page.to);
    *rows = 0;
    for (size_t i = 0; i < carn_table_rows(table); i++) {
        if (subject != NULL && strcmp(carn_table_cell(table, i, subject_at), subject) != 0)
            continue;
        ++*rows;
        carn_table_print_row(page.to, table, i, frame_at, d->frame);
        fputc('\n', page.to);
    }
    carn_table_close(table);
    return carn_page_keep(&page, to, err) < 0 ? -1 : 0;
}

/* What the group's solve step left for its frames (solved.tsv). */
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
    bool surer = false, measured = carn_ground_has_skin(d->grounds.ground);
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

void deliver_read_groups(struct delivering *d)
{
    const char *at = deliver_asked(d, "groups");
    at += strspn(at, " ");
    while (*at != '\0' && d->groups < SKIN_PEOPLE) {
        struct serving *serving = &d->group[d->groups++];
        size_t n = strcspn(at, " ");
        serving->group = step_text(d->step, "%.*s", (int)n, at);
        at += n + strspn(at + n, " ");
        serving->curve = *at != '\0' ? strtoul(at, NULL, 10) : 1;
        at += strcspn(at, " ");
        at += strspn(at, " ");
    }
}

int deliver_find_people(struct delivering *d)
{
    struct carn_step *step = d->step;
    if (d->groups == 0)
        return carn_fail(&step->why, CARN_INPUT, "deliver.tsv: no group");
    int rc = 0;
    const char *name;
    while (rc == 0 && d->people < SKIN_PEOPLE &&
           (name = carn_grounds_person(&d->grounds, d->people)) != NULL) {
        size_t k = d->people++;
        const struct serving *serving = &d->group[k < d->groups ? k : 0];
        struct person *person = &d->person[k];
        person->subject = step_text(step, "%s", name);
        const char *stranger = strrchr(person->subject, '#');
        bool nameless = d->groups == 1 && stranger != NULL && step_asked_is(step, "subject", "");
        rc = serve_person(d, person, serving->group,
                          nameless ? strtoul(stranger + 1, NULL, 10) : serving->curve, k);
    }
    if (rc == 0 && d->people == 0) { /* nobody found: the curve of whom job.tsv names */
        d->people = 1;
        d->person[0].subject = step_text(step, "%s", step_asked(step, "subject"));
        rc = serve_person(d, &d->person[0], d->group[0].group, d->group[0].curve, 0);
    }
    return rc;
}
