/* step: reads a card, finds the level of all cards, makes a card's neutral curve. */
#define _XOPEN_SOURCE 700
#include "job/step_own.h"

#include "base/order.h"
#include "correct/curve.h"
#include "correct/reading.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* work/card/ID/card.tsv: the readings of the card's rows, as shot. */
int carn_step_read_card(struct carn_step *step, struct carn_error *err)
{
    const char *card = step_file(step, "card.tsv");
    const char *const inputs[] = {step_file(step, "request.tsv"), step_file(step, "patches.tsv")};
    const struct step_made made = step_made(step, "read", inputs, 2);
    const char *trouble = step_asked(step, "trouble");
    if (step_is_made(&made, card, err))
        return carn_touch(made.stamp, err) != 0 ? -1 : 1;
    step_unmake(&made);
    struct carn_table *patches = carn_table_read(inputs[1], &step->why);
    if (trouble[0] != '\0')
        carn_fail(&step->why, CARN_INPUT, "%s", trouble);
    else if (patches != NULL && carn_table_rows(patches) == 0)
        carn_fail(&step->why, CARN_INPUT, "patches.tsv: no row of tone card serves %s",
                  step_asked(step, "frame"));
    carn_table_close(patches);
    struct carn_run run = {0};
    struct carn_error ignored = {0}; /* carn-decode tells it */
    const char *frame = step_text(step, "frames/%s", step_asked(step, "frame"));
    size_t colours;
    (void)step_look_at(step, frame, &colours, &ignored);
    int from = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-decode"));
    carn_run_word(&run, frame);
    int at = carn_run_add(&run, from, NULL, step_program(step, "carn-sample"));
    carn_run_words(&run, "-q", "-p");
    carn_run_word(&run, inputs[1]);
    step_ink(step, &run);
    run.stages[at].out = step_file(step, "card.read");
    int rc = step_run(step, &run, NULL);
    if (rc == 0) {
        const char *const read[] = {step_file(step, "card.read")};
        rc = step_merge(read, 1, card, step_asked(step, "frame"), NULL, NULL, &step->why);
        (void)unlink(read[0]);
    }
    if (rc != 0)
        return step_write_failed(step, card, carn_reading_print_header, err);
    return step_keep_made(&made, err);
}

/* The median L* of a card's readings; NAN when it has none. */
static double card_lightness(const char *path)
{
    struct carn_error ignored = {0};
    struct carn_readings readings;
    if (carn_readings_read(path, CARN_NEED_LAB, &readings, &ignored) != 0)
        return (double)NAN;
    double *L = carn_alloc(readings.count, sizeof *L, &ignored);
    for (size_t i = 0; L != NULL && i < readings.count; i++)
        L[i] = readings.rows[i].lab.L;
    double median = L != NULL ? carn_median(L, readings.count) : (double)NAN;
    free(L);
    carn_readings_clear(&readings);
    return median;
}

/* work/level: the L* that all cards are brought to, the median of theirs as shot. */
int carn_step_level(struct carn_step *step, struct carn_error *err)
{
    struct carn_table *frames = carn_table_read("work/frames.tsv", err);
    if (frames == NULL)
        return -1;
    size_t count = 0;
    double *L = carn_alloc(carn_table_rows(frames) + 1, sizeof *L, err);
    for (size_t i = 0; L != NULL && i < carn_table_rows(frames); i++) {
        const char *id = carn_table_at(frames, i, "id");
        double v = card_lightness(step_text(step, "work/card/%s/card.tsv", id));
        if (!isnan(v))
            L[count++] = v;
    }
    char text[32] = "";
    if (count > 0)
        snprintf(text, sizeof text, "%.4f\n", carn_median(L, count));
    free(L);
    carn_table_close(frames);
    if (carn_keep("work/level.txt", text, err) < 0)
        return -1;
    return carn_touch("work/level", err);
}

/* A neutral's gains can bring the card to any lightness, not only keep its own. */
static int level_curve(struct carn_step *step, const char *from, const char *to, const char *level)
{
    struct carn_table *curve = carn_table_read(from, &step->why);
    struct carn_page page;
    if (curve == NULL || carn_page_open(&page, &step->why) != 0) {
        carn_table_close(curve);
        return -1;
    }
    carn_curve_print_header(page.to);
    for (size_t i = 0; i < carn_table_rows(curve); i++) {
        for (size_t c = 0; c < 5; c++) {
            const char *cell = carn_table_at(curve, i, carn_curve_columns[c]);
            if (c == 2 && level[0] != '\0')
                fprintf(page.to, "\t%.*s 0.0000 0.0000", (int)strcspn(level, "\n"), level);
            else
                fprintf(page.to, "%s%s", c > 0 ? "\t" : "", cell);
            if (c == 4 && level[0] != '\0')
                fputs(", to the level of all cards", page.to);
        }
        fputc('\n', page.to);
    }
    carn_table_close(curve);
    return carn_page_keep(&page, to, &step->why) < 0 ? -1 : 0;
}

/* work/card/ID/neutral.tsv. */
int carn_step_neutral(struct carn_step *step, struct carn_error *err)
{
    const char *neutral = step_file(step, "neutral.tsv"), *stamp = step_file(step, "measured");
    const char *card = step_file(step, "card.tsv"), *made = step_file(step, "neutral.made");
    (void)unlink(stamp);
    (void)unlink(step_file(step, "measured.notes"));
    char *failed = carn_step_failed(card, err), *level = NULL;
    if (failed != NULL)
        carn_fail(&step->why, CARN_INPUT, "%s", failed);
    free(failed);
    if (step_asked_is(step, "EQUALISE", "yes"))
        level = carn_text("work/level.txt", &step->why);
    struct carn_run run = {0};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, step_program(step, "carn-curve-neutral"));
    carn_run_word(&run, card);
    run.stages[at].out = made;
    int rc = step_run(step, &run, NULL);
    if (rc == 0)
        rc = level_curve(step, made, neutral, level != NULL ? level : "");
    free(level);
    (void)unlink(made);
    if (rc != 0)
        return step_write_failed(step, neutral, carn_curve_print_header, err);
    if (step_keep_notes(step, "measured.notes", err) != 0)
        return -1;
    return carn_touch(stamp, err);
}
