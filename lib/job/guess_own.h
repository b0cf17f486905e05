/* What the files of guess_write share. */
#ifndef CARN_GUESS_OWN_H
#define CARN_GUESS_OWN_H

#include "job/files.h"
#include "job/guess.h"

struct guess_work {
    struct carn_error *err;
    const char *bin; /* the folder of the programs */
    struct carn_table *jobs, *patches;
    struct carn_guess guess;
    struct carn_page told, rows, cards; /* words; what is appended to job.tsv and patches.tsv */
};

/* A row with the columns of the table that it is appended to; a column without a cell is empty. */
void guess_row(FILE *to, const struct carn_table *table, const char *const *columns,
               const char *const *cells, size_t count);

/* guess_cards.c: looks for cards in the pictures that it was asked of; then chooses the cards of
 * all groups. without: for the message, the numbers of groups that have none. */
int guess_look(struct guess_work *w);
int guess_choose_cards(struct guess_work *w, FILE *without);

/* guess_told.c: how many pictures, cameras and groups there are; then what a person has to look at.
 */
void guess_tell_all(struct guess_work *w);
void guess_tell_rest(struct guess_work *w, const char *without);

#endif
