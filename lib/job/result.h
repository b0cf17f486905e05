/*
 * result: what came of a frame, from a table of its readings, scored or not.
 */
#ifndef CARN_RESULT_H
#define CARN_RESULT_H

#include "base/error.h"
#include "base/table.h"
#include "correct/verdict.h"

#include <stddef.h>

enum carn_result_value {
    CARN_RESULT_L,
    CARN_RESULT_A,
    CARN_RESULT_B,
    CARN_RESULT_CHROMA,
    CARN_RESULT_HUE,
    CARN_RESULT_ITA,
    CARN_RESULT_CYAN,
    CARN_RESULT_MAGENTA,
    CARN_RESULT_YELLOW,
    CARN_RESULT_BLACK,
    CARN_RESULT_MAGENTA_BY_CYAN,
    CARN_RESULT_YELLOW_BY_MAGENTA,
    CARN_RESULT_AIM_L,
    CARN_RESULT_AIM_A,
    CARN_RESULT_AIM_B,
    CARN_RESULT_DIFFERENCE, /* CIEDE2000 to the aim */
    CARN_RESULT_HUE_SPREAD,
    CARN_RESULT_GREENED,
    CARN_RESULTS
};

/* Their columns in tables. */
extern const char *const carn_result_names[CARN_RESULTS];

/* Medians over the rows of skin (those of tone middle where there are any); NAN unknown. */
struct carn_result {
    size_t rows; /* of skin */
    double value[CARN_RESULTS];
    enum carn_verdict verdict; /* the worst of the rows; words and flags are of that row */
    double held_difference;    /* the largest difference of a row that is held; 0 for none */
    char words[160], flags[80], separation[80];
};

struct carn_result carn_result_none(void);

/* Of the rows of one subject, or of all (NULL). -1 with a message when there is no such table. */
int carn_result_read(const char *path, const char *subject, struct carn_result *result,
                     struct carn_error *err);
void carn_result_of(const struct carn_table *table, const char *subject, const char *frame,
                    struct carn_result *result);

/* light over L* 60, medium from 45, deep under it; "-" unknown. carn_depth: its place in
 * carn_depths, that of deep where L* is unknown. */
enum { CARN_DEPTHS = 3 };
extern const char *const carn_depths[CARN_DEPTHS];
int carn_depth(double L);
const char *carn_depth_of(double L);

#endif
