/* deliver_own: what the parts of the deliver step share; for lib/job/deliver_*.c and step_deliver.c
 * alone. Functions that can fail give -1 with the message in d->step->why unless they take err. */
#ifndef CARN_DELIVER_OWN_H
#define CARN_DELIVER_OWN_H

#include "job/grounds.h"
#include "job/step_own.h"

/* One person of the frame: the curve, and the readings that the weight is made from. */
struct person {
    const char *subject, *group, *curve; /* curve: NULL when this person is not moved */
    const char *weight;                  /* readings that tell what is skin */
    bool own;                            /* they are this frame's own */
};

/* A group that serves the frame, and which of its curves. */
struct serving {
    const char *group; /* its id */
    size_t curve;
};

struct delivering {
    struct carn_step *step;
    struct carn_table *how; /* deliver.tsv of the frame */
    struct carn_grounds grounds;
    struct carn_error no_grounds; /* why they are not known */
    const char *frame, *original, *out, *new, *neutral, *readings, *after, *plain;
    bool sure; /* its skin was found with the confidence that the job asks for */
    bool as_it_is, followed;
    size_t groups, people;
    struct serving group[SKIN_PEOPLE]; /* as deliver.tsv has them, a person each */
    struct person person[SKIN_PEOPLE];
};

/* A setting or cell of deliver.tsv. */
static inline const char *deliver_asked(const struct delivering *d, const char *key)
{
    return carn_record_get(d->how, key);
}

bool deliver_asked_is(const struct delivering *d, const char *key, const char *value);

/* Whether there is a table with at least a row. */
bool deliver_has_rows(const char *path);

/* deliver_people: the groups of deliver.tsv, "ID CURVE ID CURVE"; and the people as grounds.tsv has
 * them, each with its group and curve. */
void deliver_read_groups(struct delivering *d);
int deliver_find_people(struct delivering *d);

/* deliver_picture: writes the corrected frame to d->new, and what a page shows of it before. */
int deliver_make(struct delivering *d);
/* A stage that applies a curve; gives its number. */
int deliver_apply(struct delivering *d, struct carn_run *run, int from, const char *curve);
bool deliver_has_look(const struct delivering *d);
/* The -t of carn-encode; NULL when the name's suffix says it. And its other options. */
const char *deliver_type(struct delivering *d);
const char *deliver_encoding(struct delivering *d);

/* deliver_proof: adds what measures a stream: its small picture for faces, itself for squares;
 * found squares were measured on the small picture, so they are here as well. picture: the small
 * one is wanted in any case. Gives its stage. */
int deliver_add_proof(struct delivering *d, struct carn_run *run, int from, const char *name,
                      bool picture);
/* Removes the pictures of faces that an earlier run made. */
void deliver_drop_faces(struct delivering *d, const char *when);
/* The faces of a stream at full size, for people to look at: a picture each, in the order of
 * faces.tsv. curve: what is still to be applied, or NULL. */
void deliver_add_faces(struct delivering *d, struct carn_run *run, int from, const char *curve,
                       const char *when);
/* Reads and judges the delivered file, which is decoded once. */
int deliver_prove(struct delivering *d, struct carn_error *err);

/* deliver_made: made.tsv, what the picture was made with. known: by this run. */
int deliver_write_made(struct delivering *d, bool known, struct carn_error *err);
/* An approved picture that this run would change: its row is that of the run that made it. */
int deliver_keep_frozen(struct delivering *d, struct carn_error *err);

#endif
