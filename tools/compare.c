/* carn-compare: how two cameras differ: colour by tone, exposure on the card, surface; with words.
 */
#include "correct/compare.h"
#include "base/match.h"
#include "base/tool.h"
#include "correct/pair.h"
#include "correct/reading.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { NAME = 512 }; /* bytes of a camera's name, or of a list of them */

struct request {
    const char *cameras, *surface;
    bool any_subject;
};

/* The two sides of the comparison: two tables, or the rows of two cameras picked from tables[0]. */
struct sides {
    struct carn_readings tables[2], picked[2];
    const struct carn_readings *readings[2];
    char names[2][NAME];
};

/* ---- cameras ---- */

static bool is_label(const char *camera)
{
    return camera[0] != '\0' && strcmp(camera, "-") != 0;
}

/* The label of camera n, counted from 0 in the order in which they come; NULL when there are fewer.
 */
static const char *label(const struct carn_readings *readings, size_t n)
{
    for (size_t i = 0; i < readings->count; i++) {
        const char *camera = readings->rows[i].camera;
        bool seen = !is_label(camera);
        for (size_t k = 0; !seen && k < i; k++)
            seen = strcmp(readings->rows[k].camera, camera) == 0;
        if (!seen && n-- == 0)
            return camera;
    }
    return NULL;
}

static bool is_by(const struct carn_reading *reading, const void *camera)
{
    return strcmp(reading->camera, camera) == 0;
}

/* The cameras of -c, or the two that the table has. */
static int name_cameras(const struct carn_readings *readings, const char *cameras,
                        char names[2][NAME], struct carn_error *err)
{
    const char *table = carn_table_label(readings->table);
    const char *comma = cameras != NULL ? strchr(cameras, ',') : NULL;
    if (comma != NULL) {
        snprintf(names[0], NAME, "%.*s", (int)(comma - cameras), cameras);
        snprintf(names[1], NAME, "%s", comma + 1);
        return 0;
    }
    if (cameras != NULL)
        return carn_fail(err, CARN_USAGE, "-c '%s': two cameras, separated by a comma", cameras);
    const char *first = label(readings, 0), *second = label(readings, 1);
    if (first == NULL)
        return carn_fail_at(err, CARN_INPUT, table, "no row names a camera");
    if (second == NULL || label(readings, 2) != NULL) {
        char list[NAME] = "";
        for (size_t i = 0; label(readings, i) != NULL && strlen(list) + 1 < NAME; i++)
            snprintf(list + strlen(list), NAME - strlen(list), "%s%s", i > 0 ? "," : "",
                     label(readings, i));
        return carn_fail_at(err, CARN_INPUT, table, "has not two cameras but '%s'; -c says which",
                            list);
    }
    snprintf(names[0], NAME, "%s", first);
    snprintf(names[1], NAME, "%s", second);
    return 0;
}

/* One table: the rows of each camera. */
static int part_table(struct sides *sides, const char *path, const char *cameras,
                      struct carn_error *err)
{
    struct carn_readings *all = &sides->tables[0];
    if (carn_readings_read(path, CARN_NEED_LAB, all, err) != 0 ||
        name_cameras(all, cameras, sides->names, err) != 0)
        return -1;
    for (size_t k = 0; k < 2; k++) {
        sides->readings[k] = &sides->picked[k];
        if (carn_readings_pick(all, is_by, sides->names[k], &sides->picked[k], err) != 0)
            return -1;
        if (sides->picked[k].count == 0)
            return carn_fail_at(err, CARN_INPUT, carn_table_label(all->table),
                                "no row of camera '%s'", sides->names[k]);
    }
    return 0;
}

/* Two tables that are not of one labelled camera each are named as their files, without the
 * suffixes where the names still differ. */
static void name_by_files(struct sides *sides, char **paths)
{
    const char *files[2];
    int stems[2];
    for (size_t k = 0; k < 2; k++) {
        const char *slash = strrchr(paths[k], '/');
        files[k] = slash != NULL ? slash + 1 : paths[k];
        stems[k] = (int)carn_stem(files[k]);
    }
    bool equal = strcmp(files[0], files[1]) == 0;
    bool told = stems[0] != stems[1] || strncmp(files[0], files[1], (size_t)stems[0]) != 0;
    for (size_t k = 0; k < 2; k++)
        if (equal)
            snprintf(sides->names[k], NAME, "%s", k == 0 ? "the first" : "the second");
        else if (told)
            snprintf(sides->names[k], NAME, "%.*s", stems[k], files[k]);
        else
            snprintf(sides->names[k], NAME, "%s", files[k]);
}

static int read_tables(struct sides *sides, char **paths, bool surface, struct carn_error *err)
{
    const char *labels[2];
    bool labelled = true;
    for (size_t k = 0; k < 2; k++) {
        if (carn_readings_read(paths[k], CARN_NEED_LAB, &sides->tables[k], err) != 0)
            return -1;
        sides->readings[k] = &sides->tables[k];
        labels[k] = label(sides->readings[k], 0);
        labelled = labelled && labels[k] != NULL && label(sides->readings[k], 1) == NULL;
    }
    labelled = labelled && strcmp(labels[0], labels[1]) != 0;
    if (!labelled && surface)
        return carn_fail(err, CARN_USAGE, "-s needs tables of one labelled camera each");
    if (!labelled)
        name_by_files(sides, paths);
    for (size_t k = 0; k < 2 && labelled; k++)
        snprintf(sides->names[k], NAME, "%s", labels[k]);
    return 0;
}

static void sides_clear(struct sides *sides)
{
    for (size_t k = 0; k < 2; k++) {
        free(sides->picked[k].rows);
        carn_readings_clear(&sides->tables[k]);
    }
}

/* ---- comparing ---- */

static int compare(struct carn_tool *tool, const struct request *ask, const struct sides *sides)
{
    struct carn_pairs pairs = {0};
    struct carn_error why = {0};
    struct carn_table *surface = NULL;
    int rc =
        carn_pairs_make(sides->readings[0], sides->readings[1], ask->any_subject, &pairs, &why);
    if (rc != 0 && why.kind == CARN_INPUT)
        carn_fail(&tool->err, CARN_INPUT, "%s and %s have no subject, patch and tone in common",
                  sides->names[0], sides->names[1]);
    else if (rc != 0)
        carn_fail_from(&tool->err, &why, NULL);
    for (size_t i = pairs.whole; i < pairs.count; i++) {
        const struct carn_pair *p = &pairs.pairs[i];
        fprintf(stderr, "%s: note: subject '%s' patch '%s' tone '%s' is only in the %s table\n",
                tool->name, p->subject, p->patch, p->tone, p->first_rows > 0 ? "first" : "second");
    }
    if (rc == 0 && ask->surface != NULL)
        rc = (surface = carn_table_read(ask->surface, &tool->err)) != NULL ? 0 : -1;
    const struct carn_compare is = {.names = {sides->names[0], sides->names[1]},
                                    .pairs = &pairs,
                                    .surface = surface,
                                    .any_subject = ask->any_subject};
    if (rc == 0)
        rc = carn_compare_print(&is, stdout, &tool->err);
    carn_table_close(surface);
    carn_pairs_clear(&pairs);
    return rc;
}

int main(int argc, char **argv)
{
    enum { ANY = 256 };
    struct request ask = {0};
    const struct carn_option options[] = {
        {'c', "cameras", "FIRST,SECOND", "which two of one table; else the two that it has",
         .text = &ask.cameras},
        {'s', "surface", "SURFACE", "a table of carn-surface with rows of both cameras",
         .text = &ask.surface},
        {ANY, "any-subject", NULL, "pair rows of different subjects as well",
         .flag = &ask.any_subject},
        {0},
    };
    struct carn_tool tool = {.name = "carn-compare",
                             .operands = "READINGS | FIRST SECOND >TABLE",
                             .purpose =
                                 "Tells in figures and words how two cameras of one shoot differ.",
                             .options = options};

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    int tables = argc - optind;
    if (key == 0 && tables != 1 && tables != 2)
        carn_fail(&tool.err, CARN_USAGE,
                  "one table of readings of two cameras, or two tables; see %s --help", tool.name);
    if (key == 0 && tables == 2 && ask.cameras != NULL)
        carn_fail(&tool.err, CARN_USAGE, "-c is for one table of readings");
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    struct sides sides = {0};
    int rc = tables == 1 ? part_table(&sides, argv[optind], ask.cameras, &tool.err)
                         : read_tables(&sides, argv + optind, ask.surface != NULL, &tool.err);

    /* data */
    if (rc == 0)
        (void)compare(&tool, &ask, &sides);

    /* clean up */
    sides_clear(&sides);
    return carn_tool_end(&tool);
}
