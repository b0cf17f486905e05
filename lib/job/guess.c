#include "job/guess.h"

#include "base/tone.h"

#include <ctype.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What stays put: the middle moves by less than 2 % of the picture, L* by less than 4. */
static const double SAME_PLACE = 2, SAME_LIGHT = 4;

double carn_guess_seconds(const char *time)
{
    int y, m, d, hour, minute;
    double second = 0;
    if (sscanf(time, "%4d-%2d-%2dT%2d:%2d:%lf", &y, &m, &d, &hour, &minute, &second) < 5 || m < 1 ||
        m > 12 || d < 1 || d > 31)
        return (double)NAN;
    if (m <= 2) { /* the year begins in March, so that leap days come last */
        y--;
        m += 12;
    }
    long days = 365L * y + y / 4 - y / 100 + y / 400 + (153L * (m - 3) + 2) / 5 + d;
    return (double)days * 86400 + hour * 3600 + minute * 60 + second;
}

/* ---- cells ---- */

static bool known(const char *text)
{
    return text != NULL && text[0] != '\0' && strcmp(text, "-") != 0;
}

static bool has_card_row(const struct carn_table *patches, const char *frame)
{
    int column = carn_table_find(patches, "frame");
    for (size_t i = 0; column >= 0 && i < carn_table_rows(patches); i++)
        if (strcmp(carn_table_cell(patches, i, column), frame) == 0 &&
            carn_tone_of(carn_table_text(patches, i, "tone")) == CARN_TONE_CARD)
            return true;
    return false;
}

/* Does text begin with the word, whatever their case? */
static bool begins(const char *text, const char *word)
{
    for (; *word != '\0'; text++, word++)
        if (tolower((unsigned char)*text) != tolower((unsigned char)*word))
            return false;
    return true;
}

/* ---- cameras ---- */

static char *model_of(const struct carn_table *facts, size_t i, struct carn_error *err)
{
    const char *make = carn_table_text(facts, i, "make"),
               *model = carn_table_text(facts, i, "model");
    char text[512];
    if (!known(model))
        return carn_copy("", err);
    bool with_make = known(make) && !begins(model, make);
    snprintf(text, sizeof text, "%s%s%s", with_make ? make : "", with_make ? " " : "", model);
    return carn_copy(text, err);
}

/* Are there two serial numbers among the pictures of row i's model? */
static bool several_bodies(const struct carn_table *facts, size_t i)
{
    for (size_t k = 0; k < carn_table_rows(facts); k++)
        if (strcmp(carn_table_text(facts, k, "model"), carn_table_text(facts, i, "model")) == 0 &&
            strcmp(carn_table_text(facts, k, "make"), carn_table_text(facts, i, "make")) == 0 &&
            known(carn_table_text(facts, k, "serial")) &&
            strcmp(carn_table_text(facts, k, "serial"), carn_table_text(facts, i, "serial")) != 0)
            return true;
    return false;
}

static bool several_folders(const struct carn_table *parents)
{
    for (size_t i = 1; parents != NULL && i < carn_table_rows(parents); i++)
        if (strcmp(carn_table_text(parents, i, "folder"), carn_table_text(parents, 0, "folder")) !=
            0)
            return true;
    return false;
}

/* Two bodies of a model are two cameras; without any Exif, a folder each is a good guess. */
static char *camera_of(const struct carn_guess_from *from, size_t i, bool folders,
                       struct carn_error *err)
{
    char text[600], *model = model_of(from->facts, i, err);
    if (model == NULL)
        return NULL;
    size_t parent =
        folders ? carn_table_row(from->parents, "frame", carn_table_text(from->facts, i, "frame"))
                : SIZE_MAX;
    if (model[0] == '\0')
        snprintf(text, sizeof text, "%s",
                 parent != SIZE_MAX ? carn_table_text(from->parents, parent, "folder") : "-");
    else if (several_bodies(from->facts, i))
        snprintf(text, sizeof text, "%s #%s", model, carn_table_text(from->facts, i, "serial"));
    else
        snprintf(text, sizeof text, "%s", model);
    free(model);
    return carn_copy(text, err);
}

/* ---- a picture ---- */

static char *settings_of(const struct carn_table *facts, size_t i, struct carn_error *err)
{
    char text[512];
    snprintf(text, sizeof text, "%s\t%s\t%s\t%s\t%s", carn_table_text(facts, i, "iso"),
             carn_table_text(facts, i, "shutter"), carn_table_text(facts, i, "aperture"),
             carn_table_text(facts, i, "flash"), carn_table_text(facts, i, "white_balance"));
    return carn_copy(text, err);
}

static char *said_of(const struct carn_table *facts, size_t i, struct carn_error *err)
{
    static const struct {
        const char *column, *before, *after;
    } parts[] = {{"shutter", ", ", " s"}, {"aperture", ", f/", ""}, {"iso", ", ISO ", ""}};
    char text[512] = "";
    for (size_t k = 0; k < sizeof parts / sizeof *parts; k++) {
        size_t used = strlen(text);
        if (known(carn_table_text(facts, i, parts[k].column)))
            snprintf(text + used, sizeof text - used, "%s%s%s", parts[k].before,
                     carn_table_text(facts, i, parts[k].column), parts[k].after);
    }
    size_t used = strlen(text);
    snprintf(text + used, sizeof text - used, "%s%s",
             strcmp(carn_table_text(facts, i, "flash"), "fired") == 0 ? ", flash" : "",
             strcmp(carn_table_text(facts, i, "white_balance"), "auto") == 0
                 ? ", automatic white balance"
                 : "");
    return carn_copy(text, err);
}

static int fill(const struct carn_guess_from *from, size_t i, bool folders,
                struct carn_guess_picture *p, struct carn_error *err)
{
    size_t row = 0;
    p->frame = carn_table_text(from->facts, i, "frame");
    p->clock = carn_table_text(from->facts, i, "time");
    p->time = carn_guess_seconds(p->clock);
    p->readable = known(carn_table_text(from->facts, i, "width"));
    p->has_card_row = has_card_row(from->patches, p->frame);
    row = carn_table_row(from->jobs, "frame", p->frame);
    p->fresh = row == SIZE_MAX;
    p->camera = p->fresh ? camera_of(from, i, folders, err)
                         : carn_copy(carn_table_text(from->jobs, row, "camera"), err);
    p->subject = carn_copy(p->fresh ? "-" : carn_table_text(from->jobs, row, "subject"), err);
    p->card = carn_copy(p->fresh ? "" : carn_table_text(from->jobs, row, "card"), err);
    p->settings = settings_of(from->facts, i, err);
    p->said = said_of(from->facts, i, err);
    return err->kind == CARN_NONE ? 0 : -1;
}

/* ---- order ---- */

/* Those without a time come last. */
static int by_time(const struct carn_guess_picture *p, const struct carn_guess_picture *q)
{
    if (isnan(p->time) || isnan(q->time))
        return (isnan(p->time) ? 1 : 0) - (isnan(q->time) ? 1 : 0);
    return p->time < q->time ? -1 : p->time > q->time ? 1 : 0;
}

static int compare_clock(const void *one, const void *other)
{
    const struct carn_guess_picture *p = *(struct carn_guess_picture *const *)one;
    const struct carn_guess_picture *q = *(struct carn_guess_picture *const *)other;
    int c = by_time(p, q);
    return c != 0 ? c : strcmp(p->frame, q->frame);
}

static int compare_camera(const void *one, const void *other)
{
    const struct carn_guess_picture *p = *(struct carn_guess_picture *const *)one;
    const struct carn_guess_picture *q = *(struct carn_guess_picture *const *)other;
    int c = strcmp(p->camera, q->camera);
    return c != 0 ? c : compare_clock(one, other);
}

/* ---- groups and subjects ---- */

static void group(struct carn_guess_picture **sorted, size_t count, double gap, size_t look,
                  struct carn_guess *guess)
{
    size_t session = 0, group = 0, in_group = 0;
    for (size_t k = 0; k < count; k++) {
        struct carn_guess_picture *p = sorted[k], *last = k > 0 ? sorted[k - 1] : NULL;
        bool other_session = last != NULL && (strcmp(p->camera, last->camera) != 0 ||
                                              p->time - last->time > gap * 60);
        session += other_session ? 1 : 0;
        if (last != NULL && (other_session || strcmp(p->settings, last->settings) != 0)) {
            group++;
            in_group = 0;
        }
        p->session = session;
        p->group = group;
        p->look = in_group++ < look && p->readable && p->fresh;
        guess->order[k] = (size_t)(p - guess->pictures);
    }
    guess->groups = count > 0 ? group + 1 : 0;
}

/* A name that a person wrote for a picture of the same subject serves the new ones. */
static int name_subject(struct carn_guess_picture **sorted, size_t first, size_t end, size_t number,
                        struct carn_error *err)
{
    char text[32];
    const char *name = text;
    snprintf(text, sizeof text, "subject-%02zu", number);
    for (size_t k = first; k < end; k++)
        if (!sorted[k]->fresh && known(sorted[k]->subject))
            name = sorted[k]->subject;
    for (size_t k = first; k < end; k++) {
        sorted[k]->number = number;
        if (!sorted[k]->fresh)
            continue;
        char *own = carn_copy(name, err);
        if (own == NULL)
            return -1;
        free(sorted[k]->subject);
        sorted[k]->subject = own;
    }
    return 0;
}

static int part_subjects(struct carn_guess_picture **sorted, size_t count, double pause,
                         struct carn_guess *guess, struct carn_error *err)
{
    size_t first = 0;
    for (size_t k = 1; k <= count && !isnan(sorted[first]->time); k++) {
        if (k < count && sorted[k]->time - sorted[k - 1]->time <= pause)
            continue;
        if (name_subject(sorted, first, k, ++guess->subjects, err) != 0)
            return -1;
        first = k;
        if (k == count)
            break;
    }
    return 0;
}

int carn_guess_make(const struct carn_guess_from *from, struct carn_guess *guess,
                    struct carn_error *err)
{
    size_t count = carn_table_rows(from->facts);
    *guess = (struct carn_guess){.count = count};
    guess->pictures = carn_alloc(count + 1, sizeof *guess->pictures, err);
    guess->order = carn_alloc(count + 1, sizeof *guess->order, err);
    struct carn_guess_picture **sorted = carn_alloc(count + 1, sizeof(void *), err);
    bool folders = several_folders(from->parents);
    int rc = guess->pictures != NULL && guess->order != NULL && sorted != NULL ? 0 : -1;
    for (size_t i = 0; rc == 0 && i < count; i++) {
        sorted[i] = &guess->pictures[i];
        rc = fill(from, i, folders, sorted[i], err);
    }
    if (rc == 0 && count > 0) {
        qsort(sorted, count, sizeof(void *), compare_camera);
        group(sorted, count, from->gap, from->look, guess);
        qsort(sorted, count, sizeof(void *), compare_clock);
        rc = part_subjects(sorted, count, from->pause, guess, err);
    }
    free(sorted);
    return rc;
}

void carn_guess_close(struct carn_guess *guess)
{
    for (size_t i = 0; guess->pictures != NULL && i < guess->count; i++) {
        struct carn_guess_picture *p = &guess->pictures[i];
        free(p->camera);
        free(p->subject);
        free(p->card);
        free(p->settings);
        free(p->said);
    }
    free(guess->pictures);
    free(guess->order);
    *guess = (struct carn_guess){0};
}

/* ---- cards ---- */

static bool same_thing(const struct carn_guess_card *one, const struct carn_guess_card *other)
{
    return one->found && other->found &&
           fabs(one->x + one->w / 2 - other->x - other->w / 2) < SAME_PLACE &&
           fabs(one->y + one->h / 2 - other->y - other->h / 2) < SAME_PLACE &&
           fabs(one->L - other->L) < SAME_LIGHT;
}

size_t carn_guess_card_of(const struct carn_guess *guess, size_t group, bool *room)
{
    size_t best = SIZE_MAX, looked = 0, alike = 0;
    for (size_t k = 0; k < guess->count; k++) {
        const struct carn_guess_picture *p = &guess->pictures[guess->order[k]];
        if (p->group == group && p->look && p->seen.found &&
            (best == SIZE_MAX || p->seen.confidence > guess->pictures[best].seen.confidence))
            best = guess->order[k];
    }
    for (size_t i = 0; best != SIZE_MAX && i < guess->count; i++) {
        const struct carn_guess_picture *p = &guess->pictures[i];
        if (p->group != group || !p->look)
            continue;
        looked++;
        alike += same_thing(&p->seen, &guess->pictures[best].seen) ? 1 : 0;
    }
    *room = looked > 1 && alike == looked;
    return *room ? SIZE_MAX : best;
}
