/* carn-job-guess: guesses the rows of a new job's tables and says what it guessed; for
 * carn-job-new. */
#include "base/table.h"
#include "base/tone.h"
#include "base/tool.h"
#include "job/files.h"
#include "job/guess.h"
#include "job/record.h"
#include "job/run.h"

#include <errno.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MOST = 1000000 }; /* of minutes, seconds, pictures */

static const char *const SKIN_ROW = "*<tab>cheek<tab>middle<tab>38%<tab>52%<tab>5%<tab>4%";

struct job {
    struct carn_tool *tool;
    const char *folder;
    char bin[4096];
    struct carn_table *facts, *jobs, *patches, *parents;
    struct carn_guess_from from;
    struct carn_guess guess;
    struct carn_page told, rows, cards;
};

/* ---- looking for cards ---- */

static double percent(const struct carn_table *table, const char *column)
{
    return strtod(carn_table_cell(table, 0, carn_table_find(table, column)), NULL);
}

/* A file that cannot be decoded has no card; carn-facts has reported it. */
static int look_at(struct job *job, struct carn_guess_picture *p)
{
    struct carn_error *err = &job->tool->err, why = {0};
    struct carn_run run = {0};
    char original[4400], decode[4200], find[4200];
    snprintf(original, sizeof original, "frames/%s", p->frame);
    snprintf(decode, sizeof decode, "%s/carn-decode", job->bin);
    snprintf(find, sizeof find, "%s/carn-card-find", job->bin);
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

/* ---- rows ---- */

/* A row with the columns of the table that it is appended to; a column without a cell is empty. */
static void print_row(FILE *to, const struct carn_table *table, const char *const *columns,
                      const char *const *cells, size_t count)
{
    for (size_t c = 0; c < carn_table_columns(table); c++) {
        const char *cell = "";
        for (size_t k = 0; k < count; k++)
            if (strcmp(carn_table_name(table, c), columns[k]) == 0)
                cell = cells[k];
        fputs(c > 0 ? "\t" : "", to);
        carn_table_print(to, cell);
    }
    fputc('\n', to);
}

static void put_card(struct job *job, const struct carn_guess_picture *p)
{
    static const char *const columns[] = {"frame", "patch", "tone", "x", "y", "w", "h"};
    char places[4][16];
    const double numbers[] = {p->seen.x, p->seen.y, p->seen.w, p->seen.h};
    for (int i = 0; i < 4; i++)
        snprintf(places[i], sizeof places[i], "%.2f%%", numbers[i]);
    const char *const cells[] = {p->frame,  "card",    "card",   places[0],
                                 places[1], places[2], places[3]};
    print_row(job->cards.to, job->patches, columns, cells, 7);
    fputs("  card: ", job->told.to);
    carn_show(job->told.to, p->frame);
    fprintf(job->told.to, " at %s %s, %s by %s; L* %.1f, chroma %.1f; %.0f %% sure\n", places[0],
            places[1], places[2], places[3], p->seen.L, p->seen.chroma, 100 * p->seen.confidence);
}

static void put_rows(struct job *job)
{
    static const char *const columns[] = {"frame", "subject", "camera", "card"};
    for (size_t i = 0; i < job->guess.count; i++) {
        const struct carn_guess_picture *p = &job->guess.pictures[job->guess.order[i]];
        const char *const cells[] = {p->frame, p->subject, p->camera, p->card};
        if (p->fresh)
            print_row(job->rows.to, job->jobs, columns, cells, 4);
    }
}

/* Appends to a table of the job in one go, keeping what stands there. */
static int append(const char *path, struct carn_page *page, struct carn_error *err)
{
    struct carn_page whole;
    if (carn_page_close(page, err) != 0)
        return -1;
    char *old = page->size > 0 ? carn_text(path, err) : NULL;
    int rc = err->kind == CARN_NONE ? 0 : -1;
    if (rc == 0 && old != NULL && (rc = carn_page_open(&whole, err)) == 0) {
        size_t n = strlen(old);
        fprintf(whole.to, "%s%s%s", old, n > 0 && old[n - 1] != '\n' ? "\n" : "", page->text);
        rc = carn_page_keep(&whole, path, err) < 0 ? -1 : 0;
    }
    free(old);
    return rc;
}

/* ---- groups ---- */

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
static void tell_group(struct job *job, size_t group, const struct members *m)
{
    FILE *to = job->told.to;
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
static const char *choose_card(struct job *job, size_t group, const struct members *m,
                               const char *before)
{
    FILE *to = job->told.to;
    bool room = false;
    if (m->carded != NULL)
        return m->carded->card;
    if (m->row != NULL) {
        fputs("  card: ", to);
        carn_show(to, m->row->frame);
        fputs(", by its row in patches.tsv\n", to);
        return m->row->frame;
    }
    size_t at = carn_guess_card_of(&job->guess, group, &room);
    if (at != SIZE_MAX) {
        put_card(job, &job->guess.pictures[at]);
        return job->guess.pictures[at].frame;
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

static int give_card(struct job *job, size_t group, const char *card)
{
    for (size_t i = 0; i < job->guess.count; i++) {
        struct carn_guess_picture *p = &job->guess.pictures[i];
        if (p->group != group || !p->fresh)
            continue;
        free(p->card);
        p->card = carn_copy(card != NULL ? card : "-", &job->tool->err);
        if (p->card == NULL)
            return -1;
    }
    return 0;
}

/* Chooses the cards of all groups. without: for the message, the numbers of groups that have none.
 */
static int choose_cards(struct job *job, FILE *without)
{
    char *before = NULL;
    size_t session = SIZE_MAX;
    int rc = 0;
    for (size_t group = 0; rc == 0 && group < job->guess.groups; group++) {
        struct members m = members_of(&job->guess, group);
        if (m.first == NULL)
            continue;
        if (m.first->session != session) {
            free(before);
            before = NULL;
        }
        session = m.first->session;
        if (m.fresh == 0)
            continue;
        tell_group(job, group, &m);
        const char *card = choose_card(job, group, &m, before);
        if (card == NULL)
            fprintf(without, "%s%zu", ftell(without) > 0 ? ", " : "", group + 1);
        char *kept = card != NULL ? carn_copy(card, &job->tool->err) : NULL;
        rc = give_card(job, group, card);
        free(before);
        before = kept;
    }
    free(before);
    return rc;
}

/* ---- words ---- */

static void tell_count(FILE *to, size_t count, const char *one, const char *many)
{
    fprintf(to, "%zu %s", count, count == 1 ? one : many);
}

static size_t count_cameras(const struct carn_guess *guess)
{
    size_t count = 0;
    for (size_t k = 0; k < guess->count; k++) /* ordered by camera */
        if (k == 0 || strcmp(guess->pictures[guess->order[k]].camera,
                             guess->pictures[guess->order[k - 1]].camera) != 0)
            count++;
    return count;
}

static bool any_skin(const struct carn_table *patches)
{
    for (size_t i = 0; i < carn_table_rows(patches); i++)
        if (carn_tone_is_skin(carn_table_cell(patches, i, carn_table_find(patches, "tone"))))
            return true;
    return false;
}

static void tell_rest(struct job *job, const char *without)
{
    FILE *to = job->told.to;
    size_t nobody = 0, unknown = 0, unreadable = 0;
    fputs("To look at before carn-job:\n", to);
    for (size_t i = 0; i < job->guess.count; i++) {
        const struct carn_guess_picture *p = &job->guess.pictures[i];
        if (!p->readable) {
            fputs(unreadable++ == 0 ? "- cannot be read: " : ", ", to);
            carn_show(to, p->frame);
        }
        nobody += p->fresh && strcmp(p->subject, "-") == 0 ? 1 : 0;
        unknown += p->fresh && strcmp(p->camera, "-") == 0 ? 1 : 0;
    }
    fputs(unreadable > 0 ? "\n" : "", to);
    if (unknown > 0) {
        fputs("- job.tsv: ", to);
        tell_count(to, unknown, "picture", "pictures");
        fputs(" of an unknown camera: write which, and its card\n", to);
    }
    if (nobody > 0) {
        fputs("- job.tsv: ", to);
        tell_count(to, nobody, "picture", "pictures");
        fputs(" without a subject: write who it is, so that one person's pictures share a curve\n",
              to);
    }
    if (job->guess.subjects > 0) {
        fputs("- job.tsv: ", to);
        tell_count(to, job->guess.subjects, "subject", "subjects");
        fprintf(to, "%s, guessed by pauses: write who it is\n", nobody > 0 ? " besides" : "");
    }
    if (without[0] != '\0')
        fprintf(to,
                "- job.tsv: no card for group %s: name the picture that shows it, with a row of "
                "tone card in patches.tsv\n",
                without);
    else
        fputs("- patches.tsv: do the rows of tone card lie on the grey card?\n", to);
    if (!any_skin(job->patches))
        fprintf(to,
                "- patches.tsv: no row of skin: carn-job finds it and shows where in "
                "report/contact.html (carn-job JOB audit, to look first); a row as '%s' wins\n",
                SKIN_ROW);
}

/* ---- */

static int read_tables(struct job *job, const char *const paths[2])
{
    struct carn_error *err = &job->tool->err;
    job->parents = carn_table_read(paths[0], err);
    job->facts = job->parents != NULL ? carn_table_read(paths[1], err) : NULL;
    if (job->facts == NULL || chdir(job->folder) != 0)
        return err->kind != CARN_NONE
                   ? -1
                   : carn_fail(err, CARN_SYSTEM, "%s: %s", job->folder, strerror(errno));
    job->jobs = carn_table_read("job.tsv", err);
    job->patches = job->jobs != NULL ? carn_table_read("patches.tsv", err) : NULL;
    job->from.facts = job->facts;
    job->from.jobs = job->jobs;
    job->from.patches = job->patches;
    job->from.parents = job->parents;
    /* Rows would go to columns that are not there. */
    bool sound = job->patches != NULL && carn_table_need(job->jobs, "frame", err) >= 0 &&
                 carn_table_need(job->patches, "frame", err) >= 0;
    return sound ? 0 : -1;
}

static int guess(struct job *job)
{
    struct carn_error *err = &job->tool->err;
    struct carn_page without;
    if (carn_page_open(&without, err) != 0)
        return -1;
    int rc = carn_guess_make(&job->from, &job->guess, err);
    for (size_t i = 0; rc == 0 && i < job->guess.count; i++)
        if (job->guess.pictures[i].look)
            rc = look_at(job, &job->guess.pictures[i]);
    if (rc == 0) {
        tell_count(job->told.to, count_cameras(&job->guess), "camera", "cameras");
        fputs("; ", job->told.to);
        tell_count(job->told.to, job->guess.groups, "group", "groups");
        fputs(" of one camera, one setting and one session\n", job->told.to);
        rc = choose_cards(job, without.to);
    }
    if (carn_page_close(&without, err) != 0)
        rc = -1;
    if (rc == 0) {
        put_rows(job);
        tell_rest(job, without.text);
    }
    free(without.text);
    return rc;
}

static int write_all(struct job *job)
{
    struct carn_error *err = &job->tool->err;
    size_t fresh = 0;
    if (append("patches.tsv", &job->cards, err) != 0 || append("job.tsv", &job->rows, err) != 0 ||
        carn_page_close(&job->told, err) != 0)
        return -1;
    for (size_t i = 0; i < job->guess.count; i++)
        fresh += job->guess.pictures[i].fresh ? 1 : 0;
    carn_show(stdout, job->folder);
    printf(": %zu new, %zu pictures in all\n%s", fresh, job->guess.count, job->told.text);
    return 0;
}

static void close_page(struct carn_page *page)
{
    struct carn_error ignored = {0};
    (void)carn_page_close(page, &ignored);
    free(page->text);
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {
        {'g', "gap", "MINUTES", "a longer gap on one camera begins another session; 30"},
        {'p', "pause", "SECONDS", "a longer pause begins another subject; 90"},
        {'n', "look", "N", "look for the card in the first N pictures of a group; 3"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-job-guess",
                             .operands = "JOB PARENTS FACTS",
                             .purpose = "Guesses the rows of a new job's tables.",
                             .options = options};
    struct job job = {.tool = &tool, .from = {.gap = 30, .pause = 90, .look = 3}};

    /* arguments */
    int key;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        size_t number = 0;
        const char *what = key == 'g' ? "--gap" : key == 'p' ? "--pause" : "--look";
        if (carn_tool_whole(&tool, what, 0, MOST, &number) != 0)
            break;
        if (key == 'g')
            job.from.gap = (double)number;
        else if (key == 'p')
            job.from.pause = (double)number;
        else
            job.from.look = number;
    }
    if (key == 0 && argc - optind != 3)
        carn_fail(&tool.err, CARN_USAGE, "give the job and two tables; see %s --help", tool.name);
    bool go = key == 0 && tool.err.kind == CARN_NONE;

    /* prepare */
    if (go) {
        const char *const paths[] = {argv[optind + 1], argv[optind + 2]};
        job.folder = argv[optind];
        go = carn_tool_folder(job.bin, sizeof job.bin, &tool.err) == 0 &&
             read_tables(&job, paths) == 0 && carn_page_open(&job.told, &tool.err) == 0 &&
             carn_page_open(&job.rows, &tool.err) == 0 &&
             carn_page_open(&job.cards, &tool.err) == 0;
    }

    /* data */
    if (go && guess(&job) == 0)
        (void)write_all(&job);

    /* clean up */
    close_page(&job.told);
    close_page(&job.rows);
    close_page(&job.cards);
    carn_guess_close(&job.guess);
    carn_table_close(job.facts);
    carn_table_close(job.jobs);
    carn_table_close(job.patches);
    carn_table_close(job.parents);
    return carn_tool_end(&tool);
}
