/*
 * shown: what the pages show, read back from the tables of report/ (carn-job(5)), so that a page
 * and a table can never tell different things.
 *
 * before is after the grey card and before the correction; after is as delivered. In an audit
 * nothing is delivered, and after is not known.
 */
#ifndef CARN_SHOWN_H
#define CARN_SHOWN_H

#include "base/error.h"
#include "base/table.h"
#include "base/tone.h"
#include "colour/lab.h"
#include "correct/verdict.h"
#include "job/grounds.h"

#include <stdbool.h>
#include <stddef.h>

/* Of one reading, or the medians of several; NAN unknown. difference: CIEDE2000 to the aim. */
struct carn_shown_values {
    struct carn_lab lab, aim;
    double chroma, hue, magenta_by_cyan, yellow_by_magenta, difference, hue_spread;
};

struct carn_shown_frame {
    const char *name, *id, *subject, *camera, *card, *out, *state, *words, *flags;
    const char *depth, *message, *picture[2]; /* before, after; NULL for none */
    enum carn_ground ground;
    const char *confidence; /* of where skin was found, as the table has it */
    size_t faces;           /* found in it */
    enum carn_verdict verdict;
    bool approved, is_card, failed, needs_person, outlier;
    int rank;                               /* how soon a person has to look at it: 0 first */
    double wide, high;                      /* of the upright original in pixels; 0 unknown */
    struct carn_shown_values before, after; /* medians of all people in it */
};

/* A row of before.tsv, with that of after.tsv for the same frame, patch and tone. */
struct carn_shown_reading {
    const char *frame, *patch, *subject, *camera;
    enum carn_tone tone;
    bool is_main; /* tone middle, or no tone: the rows that are judged */
    struct carn_shown_values before, after;
};

/* A row of patches.tsv, in per cent of the upright picture. */
struct carn_shown_box {
    const char *frame, *patch, *tone, *kind, *subject; /* subject "-" when nothing was read there */
    double x, y, w, h, tilt;
    size_t face; /* which of the frame's faces it is, from 1; 0: a square */
};

struct carn_shown {
    bool audit;
    char *name;                    /* of the job folder */
    char *aim, *look, *separation; /* settings; "" unknown */
    bool black_point;
    struct carn_table *frames_table, *before, *after, *patches, *summary, *facts, *provenance;
    size_t frame_count, reading_count, box_count, people_count, camera_count;
    struct carn_shown_frame *frames;
    size_t *order; /* of frames, worst first */
    struct carn_shown_reading *readings;
    struct carn_shown_box *boxes;
    const char **people, **cameras; /* in the order in which they come */
};

/* The working folder is the job's. -1 with a message. */
int carn_shown_read(bool audit, struct carn_shown *shown, struct carn_error *err);
void carn_shown_clear(struct carn_shown *shown);

/* Verdicts in the order in which pages list them, and what a page says of a frame: its verdict, or
 * failed. */
enum { CARN_SHOWN_VERDICTS = 4 };
extern const enum carn_verdict carn_shown_verdicts[CARN_SHOWN_VERDICTS];
const char *carn_shown_verdict(const struct carn_shown_frame *frame);

/* A camera's place in cameras, for its mark; 0 when it is not among them. */
size_t carn_shown_camera(const struct carn_shown *shown, const char *camera);

/* Medians over a subject's readings by a camera (NULL: any of either) of one tone, or of those that
 * are main (CARN_UNTONED); how many there were. */
size_t carn_shown_median(const struct carn_shown *shown, const char *subject, const char *camera,
                         enum carn_tone tone, struct carn_shown_values *before,
                         struct carn_shown_values *after, struct carn_error *err);

/* Where to look at a person's skin (NULL: anybody's) in a frame, in per cent: the face with some
 * room round it, in a shape of 4 by 5. False when nothing was read in the frame. The crop's face is
 * set when there may be pictures of that face alone. */
bool carn_shown_crop(const struct carn_shown *shown, const struct carn_shown_frame *frame,
                     const char *subject, struct carn_shown_box *crop);

/* Is a name in a list joined by commas, such as the subjects of a frame? */
bool carn_shown_listed(const char *list, const char *name);

#endif
