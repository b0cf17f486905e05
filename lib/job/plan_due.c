/* plan: steps to do again although what is asked of them is as it was. */
#define _XOPEN_SOURCE 700 /* st_mtim */
#include "job/plan_own.h"

#include "job/kept.h"

#include <stdint.h>
#include <sys/stat.h>
#include <unistd.h>

/* As make has it: a stamp that is missing, or older than what its step reads. */
static bool is_older(const char *stamp, const char *input)
{
    struct stat a, b;
    if (stat(stamp, &a) != 0 || stat(input, &b) != 0)
        return true;
    return a.st_mtim.tv_sec != b.st_mtim.tv_sec ? a.st_mtim.tv_sec < b.st_mtim.tv_sec
                                                : a.st_mtim.tv_nsec < b.st_mtim.tv_nsec;
}

/* Is a stamp of work/KIND/ID older than a file of work/ON/OF? */
static bool is_behind(const char *kind, const char *id, const char *stamp, const char *on,
                      const char *of, const char *input)
{
    char a[CARN_ID + 64], b[CARN_ID + 64];
    plan_path(a, kind, id, stamp);
    plan_path(b, on, of, input);
    return is_older(a, b);
}

static bool has_card(const struct carn_plan_frame *f)
{
    return !plan_missing("card", f->id, "card.tsv") && !plan_missing("card", f->id, "neutral.tsv");
}

static bool has_group(const struct carn_plan_group *group)
{
    char file[40];
    bool all = !plan_missing("group", group->id, "solved.tsv") &&
               !plan_missing("group", group->id, "before.tsv");
    for (size_t k = 1; all && k <= group->curves; k++) {
        snprintf(file, sizeof file, "curve-%zu.tsv", k);
        all = !plan_missing("group", group->id, file);
    }
    return all;
}

bool plan_card_is_due(const struct carn_plan_frame *f)
{
    return is_behind("card", f->id, "read", "card", f->id, "request.tsv") ||
           is_behind("card", f->id, "read", "card", f->id, "patches.tsv") ||
           is_behind("card", f->id, "measured", "card", f->id, "read") || !has_card(f);
}

bool plan_level_is_due(void)
{
    return is_older("work/level", "work/cards.tsv") || access("work/level.txt", F_OK) != 0;
}

bool plan_frame_is_due(const struct carn_plan *plan, const struct carn_plan_frame *f)
{
    bool due = is_behind("frame", f->id, "measured", "frame", f->id, "request.tsv") ||
               is_behind("frame", f->id, "measured", "frame", f->id, "patches.tsv");
    if (f->card_at != SIZE_MAX)
        due = due || is_behind("frame", f->id, "measured", "card", plan->frames[f->card_at].id,
                               "measured");
    return due || !carn_kept_measured(f->id);
}

bool plan_group_is_due(const struct carn_plan *plan, size_t g)
{
    const char *id = plan->group[g].id;
    bool due = is_behind("group", id, "solved", "group", id, "request.tsv") ||
               is_behind("group", id, "solved", "group", id, "members.tsv");
    for (size_t i = 0; !due && i < plan->count; i++)
        for (size_t k = 0; !due && k < plan->frames[i].people; k++)
            due = plan->frames[i].group[k] == g &&
                  is_behind("group", id, "solved", "frame", plan->frames[i].id, "measured");
    return due || !has_group(&plan->group[g]);
}

bool plan_delivery_is_due(const struct carn_plan *plan, const struct carn_plan_frame *f)
{
    bool due = is_behind("frame", f->id, "delivered", "frame", f->id, "deliver.tsv") ||
               is_behind("frame", f->id, "delivered", "frame", f->id, "measured");
    for (size_t k = 0; !due && k < f->people; k++)
        due =
            is_behind("frame", f->id, "delivered", "group", plan->group[f->group[k]].id, "solved");
    return due || !carn_kept_delivered(f->id, f->out);
}

static void forget(const char *kind, const char *id, const char *stamp)
{
    char path[CARN_ID + 64];
    plan_path(path, kind, id, stamp);
    (void)unlink(path);
}

void plan_forget(const struct carn_plan *plan)
{
    for (size_t i = 0; i < plan->count; i++) {
        const struct carn_plan_frame *f = &plan->frames[i];
        if (f->shows_card && !has_card(f))
            forget("card", f->id, "read");
        if (f->listed && !carn_kept_measured(f->id))
            forget("frame", f->id, "measured");
        if (f->listed && !carn_kept_delivered(f->id, f->out))
            forget("frame", f->id, "delivered");
    }
    for (size_t g = 0; g < plan->groups; g++)
        if (!has_group(&plan->group[g]))
            forget("group", plan->group[g].id, "solved");
    bool equalise = carn_setting_is(plan->settings, CARN_SET_EQUALISE, "yes");
    if (!equalise)
        (void)unlink("work/level.txt");
    if (!equalise || access("work/level.txt", F_OK) != 0)
        (void)unlink("work/level");
}
