/*
 * report: the tables and words of a job's report, from its story (carn-job(5)).
 */
#ifndef CARN_REPORT_H
#define CARN_REPORT_H

#include "base/error.h"
#include "job/story.h"

/*
 * Writes report/: summary.tsv, summary.json, summary.txt, before.tsv, after.tsv, frames.tsv,
 * patches.tsv, facts.tsv, provenance.tsv, each only when it differs; nothing in them tells of the
 * run itself. *status is the job's: 0, 1, 2. -1 with a message.
 */
int carn_report_write(const struct carn_story *story, bool audit, int *status,
                      struct carn_error *err);

/* work/facts.tsv and report/facts.tsv: carn-facts of the originals that can be opened. bin: the
 * folder of the programs. -1 with a message. */
int carn_report_facts(const char *bin, struct carn_error *err);

#endif
