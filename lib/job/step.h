/*
 * step: the steps of a job, each for one frame, card or group, on any machine that sees the folder.
 *
 * The working folder is the job folder. A step reads its request under work/ and leaves its tables
 * there; one in trouble writes them whole as well: a line `# failed: MESSAGE`, the header, no row.
 * make tracks a stamp file (measured, solved, delivered ...). After trouble there is no stamp, so
 * the next run does the step again. Where the inputs have not changed, byte for byte, a step only
 * touches its stamp.
 */
#ifndef CARN_STEP_H
#define CARN_STEP_H

#include "base/error.h"
#include "base/table.h"
#include "job/run.h"

#include <stdbool.h>
#include <stddef.h>

struct carn_step;

/* kind: frame, card, group or "" (the job); bin: the folder of the programs; filters: those that
 * the program holds itself (run.h). NULL with a message; an id that is no folder of work/KIND/ is
 * refused. */
struct carn_step *carn_step_open(const char *kind, const char *id, const char *bin,
                                 const struct carn_filter *filters, struct carn_error *err);
void carn_step_close(struct carn_step *step);

/* Each: 0 done, 1 nothing to do, -1 with a message when not even the failure could be written.
 * carn_step_message: "" or what went wrong with the frame, card or group. */
int carn_step_measure(struct carn_step *step, struct carn_error *err);
int carn_step_deliver(struct carn_step *step, struct carn_error *err);
int carn_step_read_card(struct carn_step *step, struct carn_error *err);
int carn_step_level(struct carn_step *step, struct carn_error *err);
int carn_step_neutral(struct carn_step *step, struct carn_error *err);
int carn_step_solve(struct carn_step *step, struct carn_error *err);
const char *carn_step_message(struct carn_step *step);

/* `# failed: MESSAGE` at the head of a table: the message, which the caller frees; NULL for none.
 */
char *carn_step_failed(const char *path, struct carn_error *err);

#endif
