/*
 * people: who is who in a frame: faces from left to right, names from job.tsv.
 */
#ifndef CARN_PEOPLE_H
#define CARN_PEOPLE_H

#include "base/error.h"
#include "base/table.h"
#include "job/plan.h"

#include <stdbool.h>
#include <stddef.h>

/* Who a patch belongs to: person[i] for row i of the patch table, -1: nobody's (left out). */
struct carn_people {
    size_t count;
    char *names[CARN_PEOPLE];       /* "-" for one whom nobody named */
    double confidence[CARN_PEOPLE]; /* of what was found; 1 where a person wrote rows */
    size_t rows;
    int *person;
    char **patch; /* the names of the rows' patches */
    size_t faces; /* found in the picture */
};

/*
 * subject: the cell of job.tsv. frame: names people without a name (`frame#1`). found: the rows are
 * those of carn-patch-find, one face each (tone middle or all); else a person wrote them.
 * Found rows: with one name the largest face counts; with several the largest, as many as names,
 * from left to right; with none all.
 * Written rows: with one name all are that person's; with several a row is theirs whose name the
 * patch's name begins with, else they go by the order of faces.
 * -1 with a message when names and faces do not match.
 */
int carn_people_match(const struct carn_table *patches, bool found, const char *subject,
                      const char *frame, struct carn_people *people, struct carn_error *err);
void carn_people_clear(struct carn_people *people);

/* The name of the person whose patch this is; "-" for nobody's. */
const char *carn_people_of(const void *people, const char *patch);

#endif
