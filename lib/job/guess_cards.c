#include "job/guess_own.h"
#include "job/record.h"
#include "job/run.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- looking for cards ---- */

static double percent(const struct carn_table *table, const char *column)
{
    return strtod(carn_table_at(table, 0, column), NULL);
}

/* A file that cannot be decoded has no card; carn-facts has reported it. */
static int look_at(struct guess_work *w, struct carn_guess_picture *p)
{
    struct carn_error *err = w->err, why = {0};
    struct carn_run run = {0};
    char original[4400], decode[4200], find[4200];
    snprintf(original, sizeof original, "frames/%s", p->frame);
    snprintf(decode, sizeof decode, "%s/carn-decode", w->bin);
    snprintf(find, sizeof find, "%s/carn-card-find", w->bin);
    int from = carn_run_add(&run, CARN_NO_STAGE, NULL, decode);
    carn_run_word(&run, original);
    int at = carn_run_add(&run, from, NULL, find);
    run.stages[at].out = "work/card";
    bool seen = carn_run_all(&run, &why) == 0;
    carn_run_clear(&run);
    if (!seen)
        return 0;
    struct carn_table *table = carn_table_read("work/card", err);
    if (table != NULL && carn_table_rows(table) > 0)
        p->seen = (struct carn_guess_card){.found = true,
                                           .x = percent(table, "x"),
                                           .y = percent(table, "y"),
                                           .w = percent(table, "w"),
                                           .h = percent(table, "h"),
                                           .L = percent(table, "L"),
                                           .chroma = percent(table, "chroma"),
                                           .confidence = percent(table, "confidence")};
    carn_table_close(table);
    (void)unlink("work/card");
    return err->kind == CARN_NONE ? 0 : -1;
}

int guess_look(struct guess_work *w)
{
    for (size_t i = 0; i < w->guess.count; i++)
        if (w->guess.pictures[i].look && look_at(w, &w->guess.pictures[i]) != 0)
            return -1;
    return 0;
}

/* ---- the card of a group ---- */

static void put_card(struct guess_work *w, const struct carn_guess_picture *p)
{
    static const char *const columns[] = {"frame", "patch", "tone", "x", "y", "w", "h"};
    char places[4][16];
    const double numbers[] = {p->seen.x, p->seen.y, p->seen.w, p->seen.h};
    for (int i = 0; i < 4; i++)
        snprintf(places[i], sizeof places[i], "%.2f%%", numbers[i]);
    const char *const cells[] = {p->frame,  "card",    "card",   places[0],
                                 places[1], places[2], places[3]};
    guess_row(w->cards.to, w->patches, columns, cells, 7);
    fputs("  card: ", w->told.to);
    carn_show(w->told.to, p->frame);
    fprintf(w->told.to, " at %s %s, %s by %s; L* %.1f, chroma %.1f; %.0f %% sure\n", places[0],
            places[1], places[2], places[3], p->seen.L, p->seen.chroma, 100 * p->seen.confidence);
}

/* The pictures of a group, in order. */
struct members {
    size_t count, fresh;
    const struct carn_guess_picture *first, *last, *carded, *row;
};

static struct members members_of(const struct carn_guess *guess, size_t group)
{
    struct members m = {0};
    for (size_t k = 0; k < guess->count; k++) {
        const struct carn_guess_picture *p = &guess->pictures[guess->order[k]];
        if (p->group != group)
            continue;
        m.first = m.count++ == 0 ? p : m.first;
        m.last = p;
        m.fresh += p->fresh ? 1 : 0;
        if (!p->fresh && strcmp(p->card, "-") != 0 && p->card[0] != '\0')
            m.carded = p; /* a card that somebody named for this group serves the new ones too */
        if (m.row == NULL && p->has_card_row)
            m.row = p;
    }
    return m;
}

/* Names of cameras may come from folders and times from Exif, so both are shown escaped. */
static void tell_group(struct guess_work *w, size_t group, const struct members *m)
{
    FILE *to = w->told.to;
    fprintf(to, "group %zu: camera ", group + 1);
    carn_show(to, strcmp(m->first->camera, "-") == 0 ? "unknown" : m->first->camera);
    fprintf(to, ", %zu picture%s", m->count, m->count == 1 ? "" : "s");
    carn_show(to, m->first->said);
    if (strlen(m->first->clock) > 16 && strlen(m->last->clock) > 16)
        fprintf(to, ", %.10s %.5s to %.5s", m->first->clock, m->first->clock + 11,
                m->last->clock + 11);
    fputc('\n', to);
}

/* The frame that shows the group's card, NULL for none. before: of the session's last group. */
static const char *choose_card(struct guess_work *w, size_t group, const struct members *m,
                               const char *before)
{
    FILE *to = w->told.to;
    bool room = false;
    if (m->carded != NULL)
        return m->carded->card;
    if (m->row != NULL) {
        fputs("  card: ", to);
        carn_show(to, m->row->frame);
        fputs(", by its row in patches.tsv\n", to);
        return m->row->frame;
    }
    size_t at = carn_guess_card_of(&w->guess, group, &room);
    if (at != SIZE_MAX) {
        put_card(w, &w->guess.pictures[at]);
        return w->guess.pictures[at].frame;
    }
    fputs(room ? "  card: what looks like one stands still in all pictures looked at" : "", to);
    fputs(room ? ", so it is part of the room\n" : "", to);
    if (before != NULL) {
        fputs("  card: none seen here; the one before on this camera, ", to);
        carn_show(to, before);
        fputc('\n', to);
    } else if (!room) {
        fputs("  card: none seen in its first pictures\n", to);
    }
    return before;
}

static int give_card(struct guess_work *w, size_t group, const char *card)
{
    for (size_t i = 0; i < w->guess.count; i++) {
        struct carn_guess_picture *p = &w->guess.pictures[i];
        if (p->group != group || !p->fresh)
            continue;
        free(p->card);
        p->card = carn_copy(card != NULL ? card : "-", w->err);
        if (p->card == NULL)
            return -1;
    }
    return 0;
}

int guess_choose_cards(struct guess_work *w, FILE *without)
{
    char *before = NULL;
    size_t session = SIZE_MAX;
    int rc = 0;
    for (size_t group = 0; rc == 0 && group < w->guess.groups; group++) {
        struct members m = members_of(&w->guess, group);
        if (m.first == NULL)
            continue;
        if (m.first->session != session) {
            free(before);
            before = NULL;
        }
        session = m.first->session;
        if (m.fresh == 0)
            continue;
        tell_group(w, group, &m);
        const char *card = choose_card(w, group, &m, before);
        if (card == NULL)
            fprintf(without, "%s%zu", ftell(without) > 0 ? ", " : "", group + 1);
        char *kept = card != NULL ? carn_copy(card, w->err) : NULL;
        rc = give_card(w, group, card);
        free(before);
        before = kept;
    }
    free(before);
    return rc;
}
