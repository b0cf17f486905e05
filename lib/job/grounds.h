/*
 * grounds: what the correction of a frame stands on: where its skin was found, and how surely
 * (carn-job(5), grounds.tsv).
 */
#ifndef CARN_GROUNDS_H
#define CARN_GROUNDS_H

#include "base/error.h"
#include "base/table.h"
#include "job/people.h"

#include <stdbool.h>
#include <stddef.h>

enum carn_ground {
    CARN_GROUND_UNKNOWN,    /* not measured, or without success */
    CARN_GROUND_GIVEN,      /* rows of patches.tsv */
    CARN_GROUND_FOUND,      /* faces, or squares, that carn-patch-find(1) found */
    CARN_GROUND_NONE,       /* no skin found */
    CARN_GROUND_GREY,       /* of one channel: delivered as it is */
    CARN_GROUND_ONE_COLOUR, /* as a toned black and white (picture.h): the same */
    CARN_GROUND_CARD,       /* a card and no skin: not delivered */
    CARN_GROUNDS
};

/* As tables have it: "-", given, found, none, grey, one-colour, card. And the ground of a word;
 * CARN_GROUND_UNKNOWN for any other. */
const char *carn_ground_word(enum carn_ground ground);
enum carn_ground carn_ground_of(const char *word);

/* Has it skin that was measured? And is it delivered without a correction of skin? */
bool carn_ground_has_skin(enum carn_ground ground);
bool carn_ground_is_as_it_is(enum carn_ground ground);

/* Starts as all zero. */
struct carn_grounds {
    enum carn_ground ground;
    double confidence; /* the least of its people's, 0 to 1; 0 without skin */
    size_t faces;      /* found in the picture */
    struct carn_table *table;
};

/* Writes the file: the people measured, by name. -1 with a message. */
int carn_grounds_keep(const char *path, enum carn_ground ground, const struct carn_people *people,
                      struct carn_error *err);

/* -1 with a message when there is no such table. A step that failed left one without rows, which
 * reads as CARN_GROUND_UNKNOWN. */
int carn_grounds_read(const char *path, struct carn_grounds *grounds, struct carn_error *err);
void carn_grounds_close(struct carn_grounds *grounds);

/* The name of person k, counted from 0, from left to right; NULL after the last one. */
const char *carn_grounds_person(const struct carn_grounds *grounds, size_t k);

/* Was the frame measured with a confidence of at least `least`? False when it is not known. */
bool carn_grounds_are_sure(const struct carn_grounds *grounds, double least);

#endif
