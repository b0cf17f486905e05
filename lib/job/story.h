/*
 * story: what became of each frame of a job, read from the tables that the steps left.
 */
#ifndef CARN_STORY_H
#define CARN_STORY_H

#include "base/error.h"
#include "base/table.h"
#include "job/grounds.h"
#include "job/result.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

struct carn_story_frame {
    const char *id, *name, *subject, *camera, *card, *out,
        *group; /* of frames.tsv; card is an id */
    bool approved, given;
    char *failed;     /* why there is no picture or no new one; NULL */
    bool not_renewed; /* failed, but the picture of an earlier run is there */
    bool card_only;   /* shows a card and no skin: measured, not delivered */
    enum carn_ground ground;
    double confidence;
    size_t faces;
    bool sure, as_it_is, corrected, follows;
    char *frozen; /* what is said of an approved picture that would change; NULL */
    struct carn_result shot, neutral, after; /* after: as delivered, in an audit that of neutral */
    struct carn_result judged;               /* before the look, where there is one */
    enum carn_verdict verdict;
    char words[200], flags[80];
    bool needs_person; /* held, with more than CARN_HELD_FAR left */
    bool outlier;
    double far, scale; /* of an outlier: how far, CIE76, and what is usual */
};

struct carn_story_card {
    const char *id, *name;
    char *failed;
    double L; /* NAN unknown */
    char flags[80];
    size_t used; /* frames that stand on it */
};

struct carn_story {
    struct carn_table *table; /* work/frames.tsv */
    size_t count, cards;
    struct carn_story_frame *frames;
    struct carn_story_card *card;
    struct carn_table *settings; /* of the first request: AIM and so on; NULL */
    struct carn_table *facts;    /* carn-facts of the originals; NULL */
};

/* audit: frames are measured and not delivered. -1 with a message. */
int carn_story_read(bool audit, struct carn_story *story, struct carn_error *err);
void carn_story_clear(struct carn_story *story);

/* What carn-facts tells of a frame in a column; "-" unknown. */
const char *carn_story_fact(const struct carn_story *story, const char *frame, const char *column);

/* The next group in a frame's list of them, "ID:CURVE ID:CURVE", from *at on, which starts as the
 * list: its id, *length bytes long; NULL at the end. */
const char *carn_story_group(const char **at, size_t *length);

/* One frame by its row in table (work/frames.tsv). What it leaves open: neutral's verdicts and
 * outliers, which need the frame's group. */
int carn_story_one(const struct carn_table *table, size_t row, bool audit,
                   struct carn_story_frame *frame, struct carn_error *err);
void carn_story_one_clear(struct carn_story_frame *frame);

/* `north-birk-1.tif: L* 61.2, M/C 1.71 to 2.00, Y/M 1.31 to 1.25, on`, safe for a terminal. */
void carn_story_line(FILE *to, const struct carn_story_frame *frame);

#endif
