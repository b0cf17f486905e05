#include "correct/pair.h"

#include "correct/pool.h"

#include <stdlib.h>
#include <string.h>

static bool has_key(const struct carn_reading *r, const struct carn_pair *key, bool any_subject)
{
    return strcmp(r->patch, key->patch) == 0 && strcmp(r->tone, key->tone) == 0 &&
           (any_subject || strcmp(r->subject, key->subject) == 0);
}

/* Has a row before this one the same key? */
static bool is_seen(const struct carn_readings *readings, size_t row, const struct carn_pair *key,
                    bool any_subject)
{
    for (size_t i = 0; i < row; i++)
        if (has_key(&readings->rows[i], key, any_subject))
            return true;
    return false;
}

static int pool_key(const struct carn_readings *readings, const struct carn_pair *key,
                    bool any_subject, bool *pick, struct carn_lab *lab, size_t *rows,
                    struct carn_error *err)
{
    for (size_t i = 0; i < readings->count; i++)
        pick[i] = has_key(&readings->rows[i], key, any_subject);
    return carn_pool(readings, pick, lab, rows, err);
}

/* Adds the keys of one of the tables; those of `added` (NULL: of none) are there already. */
static int add_keys(const struct carn_readings *from, const struct carn_readings *added,
                    const struct carn_readings *first, const struct carn_readings *second,
                    bool any_subject, bool *pick, struct carn_pairs *pairs, struct carn_error *err)
{
    for (size_t i = 0; i < from->count; i++) {
        const struct carn_reading *r = &from->rows[i];
        struct carn_pair p = {
            .subject = any_subject ? "*" : r->subject, .patch = r->patch, .tone = r->tone};
        if (is_seen(from, i, &p, any_subject) ||
            (added != NULL && is_seen(added, added->count, &p, any_subject)))
            continue;
        if (pool_key(first, &p, any_subject, pick, &p.first, &p.first_rows, err) != 0 ||
            pool_key(second, &p, any_subject, pick, &p.second, &p.second_rows, err) != 0)
            return -1;
        pairs->pairs[pairs->count++] = p;
    }
    return 0;
}

static int whole_first(const void *a, const void *b)
{
    const struct carn_pair *const *p = a, *const *q = b;
    bool x = (*p)->first_rows > 0 && (*p)->second_rows > 0;
    bool y = (*q)->first_rows > 0 && (*q)->second_rows > 0;
    if (x != y)
        return x ? -1 : 1;
    return *p < *q ? -1 : *p > *q;
}

/* Puts the whole pairs first and keeps the order otherwise. */
static int sort_pairs(struct carn_pairs *pairs, struct carn_error *err)
{
    const struct carn_pair **order = carn_alloc(pairs->count, sizeof *order, err);
    struct carn_pair *sorted = carn_alloc(pairs->count, sizeof *sorted, err);
    if (order == NULL || sorted == NULL) {
        free(order);
        free(sorted);
        return -1;
    }
    for (size_t i = 0; i < pairs->count; i++)
        order[i] = &pairs->pairs[i];
    qsort(order, pairs->count, sizeof *order, whole_first);
    for (size_t i = 0; i < pairs->count; i++) {
        sorted[i] = *order[i];
        pairs->whole += sorted[i].first_rows > 0 && sorted[i].second_rows > 0;
    }
    free(order);
    free(pairs->pairs);
    pairs->pairs = sorted;
    return 0;
}

int carn_pairs_make(const struct carn_readings *first, const struct carn_readings *second,
                    bool any_subject, struct carn_pairs *pairs, struct carn_error *err)
{
    size_t rows = first->count + second->count;
    *pairs = (struct carn_pairs){0};
    pairs->pairs = carn_alloc(rows, sizeof *pairs->pairs, err);
    bool *pick = carn_alloc(rows, sizeof *pick, err);
    int rc = pairs->pairs == NULL || pick == NULL ? -1 : 0;
    if (rc == 0)
        rc = add_keys(first, NULL, first, second, any_subject, pick, pairs, err);
    if (rc == 0)
        rc = add_keys(second, first, first, second, any_subject, pick, pairs, err);
    free(pick);
    if (rc == 0)
        rc = sort_pairs(pairs, err);
    if (rc == 0 && pairs->whole == 0)
        rc = carn_fail(err, CARN_INPUT, "%s and %s have no subject, patch and tone in common",
                       carn_table_label(first->table), carn_table_label(second->table));
    if (rc != 0)
        carn_pairs_clear(pairs);
    return rc;
}

void carn_pairs_clear(struct carn_pairs *pairs)
{
    free(pairs->pairs);
    *pairs = (struct carn_pairs){0};
}

static void add(struct carn_lab *sum, struct carn_lab lab)
{
    sum->L += lab.L;
    sum->a += lab.a;
    sum->b += lab.b;
}

size_t carn_pairs_mean(const struct carn_pairs *pairs, enum carn_tone tone, struct carn_lab *first,
                       struct carn_lab *second)
{
    const char *word = carn_tone_word(tone);
    struct carn_lab x = {0, 0, 0}, y = {0, 0, 0};
    size_t n = 0;
    for (size_t i = 0; i < pairs->whole; i++) {
        const struct carn_pair *p = &pairs->pairs[i];
        if (strcmp(p->tone, word) != 0)
            continue;
        n++;
        add(&x, p->first);
        add(&y, p->second);
    }
    if (n == 0)
        return 0;
    double k = 1.0 / (double)n;
    *first = (struct carn_lab){x.L * k, x.a * k, x.b * k};
    *second = (struct carn_lab){y.L * k, y.a * k, y.b * k};
    return n;
}
