#include "correct/aim.h"

static void take_ranges(const struct carn_aim *aim, enum carn_tone tone, double L,
                        struct carn_aim_values *at)
{
    for (size_t i = 0; i < aim->range_count; i++) {
        const struct carn_aim_range *r = &aim->ranges[i];
        if (r->tone == tone && r->from <= L && (L < r->to || (L == 100 && r->to == 100)))
            at->values[r->quantity] = r->value;
    }
}

struct carn_aim_values carn_aim_at(const struct carn_aim *aim, enum carn_tone tone, double L)
{
    struct carn_aim_values at = {.name = aim->name, .by_lightness = aim->by_lightness};
    for (size_t i = 0; i < CARN_QUANTITIES; i++)
        at.values[i] = aim->values[i];
    take_ranges(aim, CARN_UNTONED, L, &at);
    if (tone != CARN_UNTONED)
        take_ranges(aim, tone, L, &at);
    return at;
}

bool carn_aim_has_tone(const struct carn_aim *aim, enum carn_tone tone)
{
    for (size_t i = 0; i < aim->range_count; i++)
        if (aim->ranges[i].tone == tone)
            return true;
    return false;
}

bool carn_aim_is_empty(const struct carn_aim_values *at)
{
    for (size_t i = 0; i < CARN_DIFFERENCE; i++)
        if (at->values[i].set)
            return false;
    return !at->by_lightness;
}

bool carn_aim_has_ratios(const struct carn_aim_values *at)
{
    return at->values[CARN_MAGENTA_BY_CYAN].set && at->values[CARN_YELLOW_BY_MAGENTA].set;
}

bool carn_aim_has_chroma(const struct carn_aim *aim, enum carn_tone tone, double L)
{
    struct carn_aim_values at = carn_aim_at(aim, tone, L);
    return at.by_lightness || at.values[CARN_CHROMA].set || at.values[CARN_A].set ||
           at.values[CARN_B].set;
}
