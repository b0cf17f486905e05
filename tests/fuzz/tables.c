/* Tables as people and spreadsheets write them. */
#include "fuzz.h"

#include "base/table.h"
#include "base/tool.h"
#include "colour/profile.h"
#include "colour/separation.h"
#include "correct/aim_table.h"
#include "correct/correction.h"
#include "correct/curve.h"
#include "correct/meet.h"
#include "correct/pair.h"
#include "correct/reading.h"
#include "correct/scored.h"
#include "correct/solve.h"
#include "frame/keys.h"
#include "frame/patch.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- any table: printed and read again, it has the same cells ---- */

static void print(FILE *to, const struct carn_table *table)
{
    size_t columns = carn_table_columns(table);
    for (size_t c = 0; c < columns; c++) {
        carn_table_print(to, carn_table_name(table, c));
        fputc(c + 1 < columns ? '\t' : '\n', to);
    }
    for (size_t row = 0; row < carn_table_rows(table); row++)
        for (size_t c = 0; c < columns; c++) {
            carn_table_print(to, carn_table_cell(table, row, (int)c));
            fputc(c + 1 < columns ? '\t' : '\n', to);
        }
}

void fuzz_table(const uint8_t *data, size_t size)
{
    struct carn_error err = {0};
    struct carn_table *table = carn_table_read(fuzz_file(0, data, size), &err);
    fuzz_must(table != NULL || err.kind != CARN_NONE, "a table is refused with a message");
    if (table == NULL)
        return;
    char *text = NULL;
    size_t length = 0;
    FILE *to = open_memstream(&text, &length);
    fuzz_must(to != NULL, "memory");
    print(to, table);
    fclose(to);
    struct carn_table *again = carn_table_read(fuzz_file(1, text, length), &err);
    fuzz_must(again != NULL && carn_table_rows(again) == carn_table_rows(table),
              "a table printed is read, with all its rows");
    for (size_t row = 0; row < carn_table_rows(table); row++)
        for (size_t c = 0; c < carn_table_columns(table); c++) {
            const char *cell = carn_table_cell(table, row, (int)c);
            double value, twin;
            struct carn_error ignored = {0};
            fuzz_must(strcmp(carn_table_cell(again, row, (int)c), cell[0] != '\0' ? cell : "-") ==
                          0,
                      "a cell printed is read the same");
            if (carn_table_number(table, row, (int)c, &value, &ignored) == 1)
                fuzz_must(isfinite(value) &&
                              carn_table_number(again, row, (int)c, &twin, &ignored) == 1 &&
                              value == twin,
                          "a number is finite and read the same");
        }
    carn_table_close(again);
    carn_table_close(table);
    free(text);
}

/* ---- patches on frames of several kinds ---- */

void fuzz_patches(const uint8_t *data, size_t size)
{
    static const struct {
        const char *name, *orientation, *full;
        size_t width, height;
    } frames[] = {{"a.tif", "1", NULL, 600, 400},
                  {"north-01-aino.tif", "6", "6000%204000", 60, 40},
                  {"b", "8", NULL, 1, 1}};
    struct carn_error err = {0};
    size_t line = 0, row = 0;
    struct carn_patches *patches = carn_patches_read(fuzz_file(0, data, size), &err);
    fuzz_must(patches != NULL || err.kind != CARN_NONE, "patches are refused with a message");
    if (patches == NULL)
        return;
    for (size_t i = 0; i < 3; i++) {
        struct carn_error why = {0};
        struct carn_frame frame = fuzz_small_frame();
        frame.width = frames[i].width;
        frame.height = frames[i].height;
        size_t count = 0;
        carn_frame_set(&frame, "orientation", frames[i].orientation, &why);
        if (frames[i].full != NULL)
            carn_frame_set(&frame, "full", frames[i].full, &why);
        carn_frame_set_text(&frame, "name", frames[i].name, &why);
        struct carn_box *boxes = carn_patches_boxes(patches, &frame, &count, &why);
        fuzz_must((boxes != NULL) == (why.kind == CARN_NONE), "boxes, or a message");
        for (size_t b = 0; boxes != NULL && b < count; b++)
            fuzz_must(boxes[b].x0 < boxes[b].x1 && boxes[b].x1 <= frame.width &&
                          boxes[b].y0 < boxes[b].y1 && boxes[b].y1 <= frame.height,
                      "a box lies in its frame and is not empty");
        free(boxes);
        carn_frame_clear(&frame);
    }
    (void)carn_patches_fractions(patches, &line);
    while (carn_patches_unused(patches, &row, &line) != NULL)
        ;
    carn_patches_close(patches);
}

static struct carn_profile *srgb(void)
{
    static struct carn_profile *profile;
    struct carn_error err = {0};
    if (profile == NULL)
        profile = carn_profile_open(NULL, 0, 3, &err);
    fuzz_must(profile != NULL, "sRGB is there");
    return profile;
}

/* ---- a curve: applied, printed and read again ---- */

void fuzz_curve(const uint8_t *data, size_t size)
{
    struct carn_error err = {0};
    struct carn_curve curve = {0}, again = {0};
    if (carn_curve_read(fuzz_file(0, data, size), &curve, &err) != 0) {
        fuzz_must(err.kind != CARN_NONE, "a curve is refused with a message");
        return;
    }
    char *text = NULL;
    size_t length = 0;
    FILE *to = open_memstream(&text, &length);
    carn_curve_print_header(to);
    for (size_t i = 0; i < curve.count; i++)
        carn_curve_print(to, &curve.moves[i], "-");
    fclose(to);
    if (carn_curve_read(fuzz_file(1, text, length), &again, &err) == 0)
        fuzz_must(again.count == curve.count, "a curve printed is read with all its moves");
    struct carn_error why = {0};
    struct carn_gains gains;
    struct carn_correction *correction = carn_correction_open(&curve, 1, srgb(), &gains, &why);
    fuzz_must((correction != NULL) == (why.kind == CARN_NONE), "a correction, or a message");
    if (correction != NULL) {
        struct carn_frame frame = fuzz_small_frame();
        uint16_t rows[4][6] = {{0, 0, 0, 65535, 65535, 65535},
                               {50000, 40000, 33000, 20000, 14000, 11000},
                               {65535, 0, 0, 0, 65535, 0},
                               {30000, 30000, 30000, 1, 2, 3}};
        for (size_t i = 0; i < 4; i++)
            carn_correction_row(correction, &frame, rows[i]);
    }
    carn_correction_close(correction);
    carn_curve_clear(&curve);
    carn_curve_clear(&again);
    free(text);
}

/* ---- aims and readings, all that is made of both ---- */

static const char few[] =
    "frame\tsubject\tcamera\tpatch\ttone\tpixels\tL\ta\tb\tcyan\tmagenta\tyellow\tblack\n"
    "a.tif\taino\tnorth\tcheek\tlight\t900\t72\t14\t18\t8\t30\t40\t0\n"
    "a.tif\taino\tnorth\tcheek\tmiddle\t900\t61\t20\t32\t15\t40\t60\t2\n"
    "a.tif\taino\tnorth\tcheek\tshade\t900\t30\t9\t10\t40\t60\t70\t30\n"
    "b.tif\tbirk\tsouth\tface\t-\t900\t45\t18\t16\t30\t55\t60\t10\n";

static void read_few(struct carn_readings *readings)
{
    struct carn_error err = {0};
    fuzz_must(readings->table != NULL || carn_readings_read(fuzz_file(2, few, sizeof few - 1),
                                                            CARN_NEED_LAB, readings, &err) == 0,
              "the readings here are sound");
}

static struct carn_separation *inks(void)
{
    static struct carn_separation *separation;
    struct carn_error err = {0};
    char path[4096];
    if (separation == NULL && carn_tool_separation(NULL, path, sizeof path, &err) != NULL)
        separation = carn_separation_open(path, true, &err);
    fuzz_must(separation != NULL, "the project's separation is there");
    return separation;
}

static void judge(const struct carn_readings *readings, const struct carn_aim *aim,
                  const struct carn_table *people)
{
    static FILE *nowhere;
    struct carn_error err = {0};
    struct carn_scored scored = {0};
    struct carn_judges by = {
        .aim = aim, .people = people, .separation = inks(), .before = readings};
    if (nowhere == NULL)
        nowhere = fopen("/dev/null", "w");
    if (carn_scored_make(&scored, &by, readings, &err) == 0) {
        carn_scored_print(nowhere, &scored);
        int status = carn_scored_status(&scored);
        fuzz_must(status >= 0 && status <= 2, "a status is 0 to 2");
    } else {
        fuzz_must(err.kind != CARN_NONE, "readings are refused with a message");
    }
    carn_scored_clear(&scored);
    for (size_t i = 0; i < readings->count && i < 4; i++) {
        struct carn_meeting meeting;
        struct carn_error why = {0};
        (void)carn_meet(readings, readings->rows[i].subject, aim, inks(), true, &meeting, &why);
    }
}

/* What is solved can be applied: its moves are finite. */
static void check_moves(const struct carn_solution *solution)
{
    for (size_t i = 0; i < solution->count; i++) {
        const struct carn_move *m = &solution->moves[i];
        fuzz_must(isfinite(m->from.L) && isfinite(m->from.a) && isfinite(m->from.b) &&
                      isfinite(m->to.L) && isfinite(m->to.a) && isfinite(m->to.b),
                  "a move that was solved is finite");
    }
}

static void solve(const struct carn_readings *readings, const struct carn_aim *aim, bool whole)
{
    struct carn_error err = {0}, why = {0};
    struct carn_solution solution;
    if (carn_solve_neutral(readings, &solution, &err) == 0)
        check_moves(&solution);
    if (carn_solve_aim(readings, aim, inks(), srgb(), !whole, whole, &solution, &why) == 0)
        check_moves(&solution);
}

static void follow(const struct carn_readings *first, const struct carn_readings *second)
{
    struct carn_error err = {0};
    struct carn_pairs pairs = {0};
    struct carn_solution solution;
    if (carn_pairs_make(first, second, true, &pairs, &err) == 0 &&
        carn_solve_follow(&pairs, srgb(), true, false, false, &solution, &err) == 0)
        check_moves(&solution);
    carn_pairs_clear(&pairs);
}

void fuzz_aims(const uint8_t *data, size_t size)
{
    static struct carn_readings readings;
    struct carn_error err = {0};
    read_few(&readings);
    const char *path = fuzz_file(0, data, size);
    struct carn_table *table = carn_table_read(path, &err);
    int column = table != NULL ? carn_table_find(table, "aim") : -1;
    for (size_t i = 0; column >= 0 && i < carn_table_rows(table) && i < 8; i++) {
        struct carn_error why = {0};
        struct carn_aim aim;
        if (carn_aim_open(carn_table_cell(table, i, column), path, &aim, &why) != 0) {
            fuzz_must(why.kind != CARN_NONE, "an aim is refused with a message");
            continue;
        }
        for (int L = 0; L <= 100; L += 10)
            for (int tone = 0; tone < CARN_TONES; tone++) {
                struct carn_aim_values at = carn_aim_at(&aim, (enum carn_tone)tone, L);
                for (int q = 0; q < CARN_QUANTITIES; q++)
                    fuzz_must(!at.values[q].set || isfinite(at.values[q].value),
                              "what an aim says is finite");
            }
        judge(&readings, &aim, NULL);
        solve(&readings, &aim, false);
    }
    if (table != NULL)
        judge(&readings, NULL, table);
    carn_table_close(table);
}

void fuzz_readings(const uint8_t *data, size_t size)
{
    static struct carn_aim skin;
    static struct carn_readings fixed;
    struct carn_error err = {0};
    struct carn_readings readings = {0};
    read_few(&fixed);
    if (skin.name[0] == '\0')
        fuzz_must(carn_aim_open("skin", NULL, &skin, &err) == 0, "the aim skin is there");
    if (carn_readings_read(fuzz_file(0, data, size), CARN_NEED_LAB, &readings, &err) != 0) {
        fuzz_must(err.kind != CARN_NONE, "readings are refused with a message");
        return;
    }
    /* What is done with a row goes with the number of rows before it. */
    if (readings.count <= 64) {
        (void)carn_readings_fit(&readings, carn_separation_id(inks()), &err);
        judge(&readings, &skin, NULL);
        solve(&readings, &skin, size % 2 == 0);
        follow(&readings, &fixed);
    }
    carn_readings_clear(&readings);
}
