/*
 * guess: what a new job folder can tell of its pictures by itself: cameras, sessions, groups and
 * subjects from Exif and times, cards from what the pictures show.
 */
#ifndef CARN_GUESS_H
#define CARN_GUESS_H

#include "base/error.h"
#include "base/table.h"

#include <stdbool.h>
#include <stddef.h>

/* A card as carn-card-find saw it; places in percent of the upright picture. */
struct carn_guess_card {
    bool found;
    double x, y, w, h, L, chroma, confidence;
};

struct carn_guess_picture {
    const char *frame; /* of the facts */
    const char *clock; /* ISO time, "-" without */
    double time;       /* seconds; NAN without */
    bool fresh;        /* has no row in job.tsv yet */
    bool readable, has_card_row;
    char *camera, *subject, *card; /* "-" unknown; card of a fresh one: "" until it is guessed */
    char *settings, *said;         /* sensitivity, shutter and so on: to compare, and to tell */
    size_t session, group;         /* counted from 0, in the order of cameras and times */
    size_t number;                 /* of the subject, counted from 1; 0 without a time */
    bool look;                     /* a card is looked for in it */
    struct carn_guess_card seen;
};

struct carn_guess {
    size_t count, groups, subjects;
    struct carn_guess_picture *pictures; /* in the order of facts */
    size_t *order;                       /* of pictures by camera, time and name */
};

/* What to go by. jobs and patches: tables of the job; parents: columns frame, folder. */
struct carn_guess_from {
    const struct carn_table *facts, *jobs, *patches, *parents;
    double gap;   /* minutes; a longer one begins another session of a camera */
    double pause; /* seconds; a longer one of all cameras together begins another subject */
    size_t look;  /* pictures of a group to look for a card in */
};

/* Groups, subjects, and which pictures to look at. facts has to stay. -1 with a message. */
int carn_guess_make(const struct carn_guess_from *from, struct carn_guess *guess,
                    struct carn_error *err);
void carn_guess_close(struct carn_guess *guess);

/*
 * The card of group `group` among what was seen in its pictures: a picture's number, or SIZE_MAX.
 * What stands at one place in all pictures looked at, two or more, is part of the room: *room.
 */
size_t carn_guess_card_of(const struct carn_guess *guess, size_t group, bool *room);

/* Seconds of an ISO time without its zone, of the proleptic calendar; NAN when it is none. */
double carn_guess_seconds(const char *time);

#endif
