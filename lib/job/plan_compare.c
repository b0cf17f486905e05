/* plan: what a run would make anew, and why. */
#define _XOPEN_SOURCE 700
#include "job/plan_own.h"

#include "base/text.h"
#include "job/kept.h"

#include <stdint.h>
#include <stdlib.h>
#include <unistd.h>

/* Why each part would be made anew; NULL: it would not. A card's reason is not told, so it has
 * none. */
struct anew {
    bool *cards;
    char **frames, **groups;
};

static int compare_cards(struct plan_writer *w, struct anew *anew)
{
    bool any = false;
    for (size_t i = 0; i < w->plan->count; i++) {
        const struct carn_plan_frame *f = &w->plan->frames[i];
        if (!f->shows_card)
            continue;
        w->reason[0] = '\0';
        if (plan_put_card(w, f) != 0)
            return -1;
        anew->cards[i] = w->reason[0] != '\0' || plan_card_is_due(f);
        any = any || anew->cards[i];
    }
    if (!carn_setting_is(w->plan->settings, CARN_SET_EQUALISE, "yes"))
        return 0;
    w->reason[0] = '\0';
    if (plan_put_cards(w) != 0)
        return -1;
    for (size_t i = 0; (any || w->reason[0] != '\0' || plan_level_is_due()) && i < w->plan->count;
         i++)
        anew->cards[i] = true; /* all come to another level */
    return 0;
}

/* The measurement of each frame; one that is made anew has its groups solved anew. */
static int compare_frames(struct plan_writer *w, struct anew *anew)
{
    for (size_t i = 0; i < w->plan->count; i++) {
        const struct carn_plan_frame *f = &w->plan->frames[i];
        if (!f->listed)
            continue;
        w->reason[0] = '\0';
        if (plan_put_frame(w, f) != 0)
            return -1;
        if (f->card_at != SIZE_MAX && anew->cards[f->card_at])
            plan_reason(w, "its card is measured anew");
        if (w->reason[0] == '\0' && plan_frame_is_due(w->plan, f))
            plan_reason(w, "not measured yet, not to the end, or in trouble last time");
        if (w->reason[0] == '\0')
            continue;
        anew->frames[i] = carn_copy(w->reason, w->err);
        for (size_t k = 0; k < f->people; k++)
            if (anew->groups[f->group[k]] == NULL)
                anew->groups[f->group[k]] = carn_copy("its group is solved anew", w->err);
    }
    return w->err->kind == CARN_NONE ? 0 : -1;
}

static int compare_groups(struct plan_writer *w, struct anew *anew)
{
    char text[600];
    for (size_t g = 0; g < w->plan->groups; g++) {
        w->reason[0] = '\0';
        if (plan_put_group(w, g) != 0)
            return -1;
        if (w->reason[0] == '\0' && plan_group_is_due(w->plan, g))
            plan_reason(w, "not solved yet, not to the end, or in trouble last time");
        if (w->reason[0] == '\0' || anew->groups[g] != NULL)
            continue;
        snprintf(text, sizeof text, "its group: %s", w->reason);
        anew->groups[g] = carn_copy(text, w->err);
    }
    return w->err->kind == CARN_NONE ? 0 : -1;
}

/* The delivery of frame i: w->reason says why it would be made anew. */
static int compare_delivery(struct plan_writer *w, const struct anew *anew, size_t i)
{
    const struct carn_plan_frame *f = &w->plan->frames[i];
    const char *own = anew->frames[i];
    char out[4200];
    snprintf(w->reason, sizeof w->reason, "%s", own != NULL ? own : "");
    if (plan_put_delivery(w, f) != 0)
        return -1;
    if (own != NULL)
        return 0;
    snprintf(out, sizeof out, "out/%s", f->out);
    if (access(out, F_OK) != 0 && !carn_kept_is_card(f->id))
        plan_reason(w, "no delivered file");
    for (size_t k = 0; k < f->people; k++)
        if (anew->groups[f->group[k]] != NULL)
            plan_reason(w, anew->groups[f->group[k]]);
    if (w->reason[0] == '\0' && plan_delivery_is_due(w->plan, f))
        plan_reason(w, "not delivered yet, not to the end, or in trouble last time");
    return 0;
}

int carn_plan_compare(const struct carn_plan *plan, FILE *to, size_t *count, struct carn_error *err)
{
    struct plan_writer w = {.plan = plan, .dry = true, .err = err};
    struct anew anew = {.cards = carn_alloc(plan->count + 1, sizeof *anew.cards, err),
                        .frames = carn_alloc(plan->count + 1, sizeof *anew.frames, err),
                        .groups = carn_alloc(plan->groups + 1, sizeof *anew.groups, err)};
    bool room = anew.cards != NULL && anew.frames != NULL && anew.groups != NULL;
    int rc = room && plan_sum_files(&w) == 0 && compare_cards(&w, &anew) == 0 &&
                     compare_frames(&w, &anew) == 0 && compare_groups(&w, &anew) == 0
                 ? 0
                 : -1;
    *count = 0;
    for (size_t i = 0; rc == 0 && i < plan->count; i++) {
        if (!plan->frames[i].listed)
            continue;
        rc = compare_delivery(&w, &anew, i);
        if (w.reason[0] == '\0')
            continue;
        ++*count;
        carn_show(to, plan->frames[i].name);
        fputs(": ", to);
        carn_show(to, w.reason);
        fputc('\n', to);
    }
    for (size_t i = 0; anew.frames != NULL && i < plan->count; i++)
        free(anew.frames[i]);
    for (size_t g = 0; anew.groups != NULL && g < plan->groups; g++)
        free(anew.groups[g]);
    free(anew.cards);
    free(anew.frames);
    free(anew.groups);
    return rc;
}
