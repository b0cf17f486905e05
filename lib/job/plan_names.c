/* plan: ids, people and names of delivered files. */
#include "job/plan.h"

#include "base/match.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void carn_plan_id(char id[CARN_ID], size_t number, const char *name)
{
    static const char plain[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._-";
    int n = snprintf(id, CARN_ID, "%04zu-", number);
    for (size_t at = (size_t)n; at + 1 < CARN_ID && *name != '\0'; name++) {
        id[at++] = strchr(plain, *name) != NULL ? *name : '_';
        id[at] = '\0';
    }
}

int carn_plan_people(const char *subject, char *names[CARN_PEOPLE], struct carn_error *err)
{
    int count = 0;
    for (const char *at = subject; *at != '\0';) {
        size_t n = strcspn(at, ",");
        const char *from = at, *to = at + n;
        while (from < to && *from == ' ')
            from++;
        while (to > from && to[-1] == ' ')
            to--;
        at += n + (at[n] == ',');
        if (from == to)
            continue;
        if (count == CARN_PEOPLE)
            return carn_fail(err, CARN_LIMIT, "more than %d people", CARN_PEOPLE);
        names[count] = carn_alloc((size_t)(to - from) + 1, 1, err);
        if (names[count] == NULL)
            return -1;
        memcpy(names[count++], from, (size_t)(to - from));
    }
    if (count == 0) {
        names[0] = carn_copy("-", err);
        return names[0] != NULL ? 1 : -1;
    }
    return count;
}

/* Names given so far, a hash table with open addressing: a thousand frames, a million look-ups. */
struct taken {
    size_t room;
    const char **names;
};

static bool take(struct taken *taken, const char *name)
{
    size_t at = 5381;
    for (const char *c = name; *c != '\0'; c++)
        at = at * 33 + (unsigned char)*c;
    for (at %= taken->room; taken->names[at] != NULL; at = (at + 1) % taken->room)
        if (strcmp(taken->names[at], name) == 0)
            return false;
    taken->names[at] = name;
    return true;
}

static char *out_name(const char *name, size_t length, const char *more, const char *format,
                      struct carn_error *err)
{
    size_t size = length + strlen(more) + strlen(format) + 2;
    char *out = carn_alloc(size, 1, err);
    if (out != NULL)
        snprintf(out, size, "%.*s%s.%s", (int)length, name, more, format);
    return out;
}

/* In a second way when the first is taken: the whole name with the new suffix, then numbers. */
static int other_name(struct taken *taken, struct carn_plan_frame *frame, const char *format,
                      struct carn_error *err)
{
    for (int n = 1;; n++) {
        char more[16] = "";
        if (n > 1)
            snprintf(more, sizeof more, "-%d", n);
        frame->out = out_name(frame->name, strlen(frame->name), more, format, err);
        if (frame->out == NULL)
            return -1;
        if (take(taken, frame->out))
            return 0;
        free(frame->out);
        frame->out = NULL;
    }
}

int carn_plan_out_names(struct carn_plan_frame *frames, size_t count, const char *format,
                        struct carn_error *err)
{
    bool same = strcmp(format, "same") == 0;
    struct taken taken = {.room = 2 * count + 3};
    taken.names = carn_alloc(taken.room, sizeof *taken.names, err);
    bool *waits = carn_alloc(count + 1, sizeof *waits, err);
    int rc = taken.names != NULL && waits != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < count; i++)
        if (frames[i].out != NULL && !take(&taken, frames[i].out)) {
            free(frames[i].out);
            frames[i].out = NULL;
        }
    for (size_t i = 0; rc == 0 && i < count; i++) {
        const char *name = frames[i].name;
        if (frames[i].out != NULL)
            continue;
        frames[i].out =
            same ? carn_copy(name, err) : out_name(name, carn_stem(name), "", format, err);
        if (frames[i].out == NULL) {
            rc = -1;
        } else if (!take(&taken, frames[i].out)) {
            free(frames[i].out);
            frames[i].out = NULL;
            waits[i] = true;
        }
    }
    for (size_t i = 0; rc == 0 && i < count; i++)
        if (waits[i])
            rc = other_name(&taken, &frames[i], same ? "again" : format, err);
    free(waits);
    free(taken.names);
    return rc;
}
