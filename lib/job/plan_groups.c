/* plan: who shares a colour and a curve. */
#include "job/plan_own.h"

#include <stdlib.h>
#include <string.h>

/* A person of a frame with the group it belongs to and the curve that serves it there. */
struct member {
    char *group, *curve; /* keys */
    size_t frame, person;
};

static int by_group(const void *a, const void *b)
{
    const struct member *x = a, *y = b;
    int order = strcmp(x->group, y->group);
    if (order == 0)
        order = strcmp(x->curve, y->curve);
    if (order == 0)
        order = x->frame < y->frame ? -1 : x->frame > y->frame;
    return order != 0 ? order : x->person < y->person ? -1 : x->person > y->person;
}

static char *joined(struct carn_error *err, const char *a, const char *b, const char *c)
{
    size_t size = strlen(a) + strlen(b) + strlen(c) + 3;
    char *text = carn_alloc(size, 1, err);
    if (text != NULL)
        snprintf(text, size, "%s\n%s\n%s", a, b, c);
    return text;
}

static int add_members(struct carn_plan *plan, size_t i, struct member *members, size_t *count,
                       struct carn_error *err)
{
    struct carn_plan_frame *frame = &plan->frames[i];
    char *names[CARN_PEOPLE];
    struct carn_error why = {0};
    int people = carn_plan_people(frame->subject, names, &why);
    if (people < 0)
        return carn_fail_at(err, CARN_INPUT, "job.tsv", "line %zu: %s", frame->line, why.text);
    frame->people = (size_t)people;
    for (size_t k = 0; k < frame->people; k++) {
        bool nameless = strcmp(names[k], "-") == 0;
        members[*count] = (struct member){
            .group = nameless ? joined(err, "frame", frame->name, "")
                              : joined(err, "subject", names[k], ""),
            .curve = frame->own_curve ? joined(err, "frame", frame->name, "")
                                      : joined(err, "camera", frame->camera, frame->card),
            .frame = i,
            .person = k};
        free(names[k]);
        if (members[*count].group == NULL || members[(*count)++].curve == NULL)
            return -1;
    }
    return 0;
}

static int number_groups(struct carn_plan *plan, struct member *members, size_t count,
                         struct plan_ids *ids, struct carn_error *err)
{
    qsort(members, count, sizeof *members, by_group);
    plan->group = carn_alloc(count + 1, sizeof *plan->group, err);
    if (plan->group == NULL)
        return -1;
    for (size_t i = 0; i < count; i++) {
        bool first = i == 0 || strcmp(members[i].group, members[i - 1].group) != 0;
        if (first) {
            struct carn_plan_group *group = &plan->group[plan->groups++];
            char *name = strchr(members[i].group, '\n') + 1;
            *strchr(name, '\n') = '\0'; /* the key ends here from now on, in all uses alike */
            bool nameless = members[i].group[0] == 'f';
            *group = (struct carn_plan_group){.subject = carn_copy(nameless ? "-" : name, err)};
            if (group->subject == NULL ||
                plan_ids_give(ids, nameless ? "alone" : "subject", name, group->id, err) != 0)
                return -1;
            name[strlen(name)] = '\n';
        }
        struct carn_plan_group *group = &plan->group[plan->groups - 1];
        if (first || strcmp(members[i].curve, members[i - 1].curve) != 0)
            group->curves++;
        struct carn_plan_frame *frame = &plan->frames[members[i].frame];
        frame->group[members[i].person] = plan->groups - 1;
        frame->curve[members[i].person] = group->curves;
    }
    return 0;
}

int plan_make_groups(struct carn_plan *plan, struct plan_ids *ids, struct carn_error *err)
{
    size_t count = 0;
    struct member *members = carn_alloc(plan->count * CARN_PEOPLE + 1, sizeof *members, err);
    int rc = members != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < plan->count; i++)
        if (plan->frames[i].listed)
            rc = add_members(plan, i, members, &count, err);
    if (rc == 0)
        rc = number_groups(plan, members, count, ids, err);
    for (size_t i = 0; i < count; i++) {
        free(members[i].group);
        free(members[i].curve);
    }
    free(members);
    return rc;
}
