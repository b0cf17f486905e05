/* carn-facts: size, depth, profile, camera and exposure of picture files, one row a file. */
#include "codec/facts.h"
#include "base/table.h"
#include "base/tool.h"
#include "codec/codec.h"
#include "colour/profile.h"
#include "frame/frame.h"
#include "frame/keys.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The first columns; those from the Exif follow. */
static const char *const columns[] = {"frame", "file",  "width",       "height",
                                      "depth", "alpha", "orientation", "profile"};
enum { FRAME, FILE_PATH, WIDTH, HEIGHT, DEPTH, ALPHA, ORIENTATION, PROFILE, COLUMNS };

struct row {
    char *cells[COLUMNS]; /* NULL: not known */
    struct carn_facts exif;
};

static char *number(size_t v, struct carn_error *err)
{
    char text[24];
    snprintf(text, sizeof text, "%zu", v);
    return carn_copy(text, err);
}

/* What samples mean: NAME/first 8 hex digits of the profile's MD5, or what a PNG says in words. */
static char *profile_cell(const struct carn_frame *frame, const struct carn_colour *colour,
                          struct carn_error *err)
{
    size_t size = 0;
    void *icc = carn_frame_blob(frame, "icc", &size, err);
    char *cell = NULL;
    if (icc != NULL)
        cell = carn_profile_label(icc, size, err);
    else if (err->kind == CARN_NONE && colour->kind != CARN_COLOUR_UNSAID)
        cell = carn_copy(colour->kind == CARN_COLOUR_SRGB ? "sRGB" : "primaries and gamma", err);
    free(icc);
    return cell;
}

static int fill(struct row *row, const char *path, struct carn_error *err)
{
    struct carn_frame frame = {0};
    struct carn_decoder *decoder = carn_decoder_open(path, NULL, err);
    if (decoder != NULL && carn_decoder_next(decoder, &frame, err) == 1) {
        const char *orientation = carn_frame_get(&frame, "orientation");
        row->cells[WIDTH] = number(frame.width, err);
        row->cells[HEIGHT] = number(frame.height, err);
        row->cells[DEPTH] = number((size_t)carn_frame_depth(&frame), err);
        row->cells[ALPHA] = carn_copy(frame.alpha ? "yes" : "no", err);
        row->cells[ORIENTATION] = carn_copy(orientation != NULL ? orientation : "1", err);
        row->cells[PROFILE] = profile_cell(&frame, carn_decoder_colour(decoder), err);
        size_t size = 0;
        unsigned char *exif = carn_frame_blob(&frame, "exif", &size, err);
        carn_facts_read(exif, size, &row->exif, err);
        free(exif);
    }
    carn_decoder_close(decoder);
    carn_frame_clear(&frame);
    return err->kind == CARN_NONE ? 0 : -1;
}

static void print_header(void)
{
    for (int i = 0; i < COLUMNS; i++)
        printf("%s%s", i > 0 ? "\t" : "", columns[i]);
    for (int i = 0; i < CARN_FACTS; i++)
        printf("\t%s", carn_fact_names[i]);
    putchar('\n');
}

static void print_row(const struct row *row)
{
    for (int i = 0; i < COLUMNS; i++) {
        if (i > 0)
            putchar('\t');
        carn_table_print(stdout, row->cells[i] != NULL ? row->cells[i] : "-");
    }
    for (int i = 0; i < CARN_FACTS; i++) {
        putchar('\t');
        carn_table_print(stdout, row->exif.text[i]);
    }
    putchar('\n');
}

/* A file that cannot be read still has a row: its name and dashes. */
static void one_file(struct carn_tool *tool, const char *path)
{
    struct row row = {0};
    const char *slash = strrchr(path, '/');
    carn_facts_read(NULL, 0, &row.exif, &tool->err);
    if (fill(&row, path, &tool->err) != 0) {
        carn_tool_trouble(tool);
        for (int i = 0; i < COLUMNS; i++) {
            free(row.cells[i]);
            row.cells[i] = NULL;
        }
        carn_facts_read(NULL, 0, &row.exif, &tool->err);
    }
    row.cells[FRAME] = carn_copy(slash != NULL ? slash + 1 : path, &tool->err);
    row.cells[FILE_PATH] = carn_copy(path, &tool->err);
    print_row(&row);
    for (int i = 0; i < COLUMNS; i++)
        free(row.cells[i]);
}

int main(int argc, char **argv)
{
    static const struct carn_option options[] = {{0}};
    struct carn_tool tool = {.name = "carn-facts",
                             .operands = "FILE... >FACTS",
                             .purpose = "Says what picture files are and how they were taken.",
                             .options = options};

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    if (key == 0 && optind >= argc)
        carn_fail(&tool.err, CARN_USAGE, "no files given; see %s --help", tool.name);
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    print_header();

    /* data */
    for (int i = optind; i < argc; i++)
        one_file(&tool, argv[i]);

    /* clean up */
    return carn_tool_end(&tool);
}
