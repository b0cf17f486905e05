/*
 * guess_write: the rows that a new job's tables lack, guessed (guess.h) and written.
 */
#ifndef CARN_GUESS_WRITE_H
#define CARN_GUESS_WRITE_H

#include "base/error.h"
#include "job/guess.h"

/*
 * In the job's folder, which is the working folder: reads job.tsv and patches.tsv, looks for grey
 * cards in frames/ by the programs in bin, and appends the rows of pictures that have none yet. Of
 * from, jobs and patches are left empty. Returns what was guessed and what a person should look at,
 * in words; the caller frees. NULL with a message.
 */
char *carn_guess_write(struct carn_guess_from *from, const char *bin, struct carn_error *err);

#endif
