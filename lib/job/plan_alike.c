/* plan: names that were hardly meant to be two. */
#include "job/plan_own.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

/* A name and what it is without capitals and accents. */
struct alike {
    const char *name;
    char *plain;
};

/* The letters of Unicode's Latin-1 supplement, U+00C0 to U+00FF, without accents; ' ': none. */
static const char LATIN[] = "aaaaaaaceeeeiiiidnooooo ouuuuy saaaaaaaceeeeiiiidnooooo ouuuuy y";

/* UTF-8: U+00C0 to U+00FF are C3 80 to C3 BF; combining accents, U+0300 to U+036F, CC 80 to CD AF.
 * All other bytes stay. */
static char *plain_of(const char *name, struct carn_error *err)
{
    char *plain = carn_alloc(strlen(name) + 1, 1, err), *to = plain;
    for (const char *at = name; plain != NULL && *at != '\0'; at++) {
        unsigned char first = (unsigned char)at[0], second = (unsigned char)at[1];
        bool pair = second >= 0x80 && second <= 0xBF;
        if (pair && (first == 0xCC || (first == 0xCD && second <= 0xAF))) {
            at++;
        } else if (pair && first == 0xC3 && LATIN[second - 0x80] != ' ') {
            *to++ = LATIN[second - 0x80];
            at++;
        } else {
            *to++ = (char)(first < 0x80 ? tolower(first) : first);
        }
    }
    return plain;
}

static int by_plain(const void *a, const void *b)
{
    const struct alike *x = a, *y = b;
    int order = strcmp(x->plain, y->plain);
    return order != 0 ? order : strcmp(x->name, y->name);
}

int plan_note_alike(struct carn_plan *plan, const char *what, const char *const *names,
                    size_t count, struct carn_error *err)
{
    struct alike *all = carn_alloc(count + 1, sizeof *all, err);
    int rc = all != NULL ? 0 : -1;
    size_t got = 0;
    for (; rc == 0 && got < count; got++) {
        all[got] = (struct alike){.name = names[got], .plain = plain_of(names[got], err)};
        rc = all[got].plain != NULL ? 0 : -1;
    }
    if (rc == 0)
        qsort(all, count, sizeof *all, by_plain);
    for (size_t i = 1; rc == 0 && i < count; i++)
        if (strcmp(all[i].plain, all[i - 1].plain) == 0 &&
            strcmp(all[i].name, all[i - 1].name) != 0)
            rc = plan_note(plan, err, "%s and %s differ only in capitals or accents: two %s",
                           all[i - 1].name, all[i].name, what);
    for (size_t i = 0; i < got; i++)
        free(all[i].plain);
    free(all);
    return rc;
}
