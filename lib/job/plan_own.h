/* plan_own: what the parts of the plan share; for lib/job/plan*.c alone. Functions that give an int
 * give -1 with a message. */
#ifndef CARN_PLAN_OWN_H
#define CARN_PLAN_OWN_H

#include "base/table.h"
#include "frame/patch.h"
#include "job/files.h"
#include "job/plan.h"

/* A row under one of the names it is looked up by. */
struct plan_entry {
    char *name;
    size_t row;
};

/* Entries sorted by name: frames and their places, or keys and ids. */
struct plan_names {
    size_t count;
    struct plan_entry *entries;
};

struct plan_patches {
    struct carn_table *table;
    int columns[CARN_PATCH_COLUMNS];
    size_t entry_count, glob_count;
    struct plan_entry *entries; /* by name: the cell and the cell without its suffix */
    size_t *globs;              /* rows whose cell is a pattern */
};

/* work/ids.tsv: what got which number. One is never given twice. */
struct plan_ids {
    size_t count, room, highest, known;
    struct plan_entry *entries; /* key and place in text */
    char **ids;
    bool grown;
};

/* plan: a note on the tables or files; texts without the suffix; look-ups by name. */
__attribute__((format(printf, 3, 4))) int plan_note(struct carn_plan *plan, struct carn_error *err,
                                                    const char *format, ...);
char *plan_stem(const char *name, struct carn_error *err);
int plan_by_name(const void *a, const void *b);
const struct plan_entry *plan_find_name(const struct plan_names *names, const char *name);
void plan_clear_frame(struct carn_plan_frame *frame);

/* plan_patches: patches.tsv by the frames that its rows serve. */
int plan_index_patches(struct plan_patches *index, struct carn_error *err);
void plan_index_clear(struct plan_patches *index);
/* The rows of the best rank that serve the frame, of cards or of the rest, in table order, as text;
 * NULL when there is none. Ranks are those of carn_table_serves. skin: some row is of skin. */
char *plan_rows_serving(const struct plan_patches *index, const char *name, bool cards, bool *skin,
                        struct carn_error *err);

/* plan_rows: job.tsv. names: the frames by name, for the caller to free. */
int plan_read_rows(struct carn_plan *plan, struct plan_names *names, struct carn_error *err);
/* The frame that shows the card of frame i: listed, else a file of frames/, else by its name
 * without a suffix. */
int plan_find_card(struct carn_plan *plan, size_t i, struct plan_names *names,
                   struct carn_error *err);

/* plan_ids: frame, subject and alone each have names of their own (kind). */
int plan_ids_read(struct plan_ids *ids, struct carn_error *err);
int plan_ids_give(struct plan_ids *ids, const char *kind, const char *name, char id[CARN_ID],
                  struct carn_error *err);
int plan_ids_write(const struct plan_ids *ids, struct carn_error *err);
void plan_ids_clear(struct plan_ids *ids);

/* plan_groups: subjects, and the curves of their cameras. */
int plan_make_groups(struct carn_plan *plan, struct plan_ids *ids, struct carn_error *err);

/* plan_alike: notes names that differ only in capitals or accents. what: of what they are names, in
 * the plural. Names may come more than once. */
int plan_note_alike(struct carn_plan *plan, const char *what, const char *const *names,
                    size_t count, struct carn_error *err);

/* plan_due: will make do the step again although what is asked of it is as it was? That is so after
 * a run that did not end, after trouble, and where a file that the step left is no longer there. */
bool plan_card_is_due(const struct carn_plan_frame *f);
bool plan_level_is_due(void);
bool plan_frame_is_due(const struct carn_plan *plan, const struct carn_plan_frame *f);
bool plan_group_is_due(const struct carn_plan *plan, size_t g);
bool plan_delivery_is_due(const struct carn_plan *plan, const struct carn_plan_frame *f);
/* Removes the stamps of steps of which not all is there any more. */
void plan_forget(const struct carn_plan *plan);

/* What is done with the plan: it is written to files, or (dry) compared with them. */
struct plan_writer {
    const struct carn_plan *plan;
    bool dry;
    char reason[512]; /* of the frame, card or group at hand, when dry */
    char separation_sum[65], look_sum[65], profile_sum[65], aims_sum[24];
    struct carn_error *err;
};

/* plan_request: the sums of the files that settings name; needed before the rest. */
int plan_sum_files(struct plan_writer *w);
/* The request to measure a frame, to deliver it, to measure a card, to solve group g. */
int plan_put_frame(struct plan_writer *w, const struct carn_plan_frame *frame);
int plan_put_delivery(struct plan_writer *w, const struct carn_plan_frame *frame);
int plan_put_card(struct plan_writer *w, const struct carn_plan_frame *frame);
int plan_put_group(struct plan_writer *w, size_t g);
/* Closes the page and keeps it at path, or adds to reason what differs. what: in words; NULL for
 * records, whose keys tell. */
int plan_put(struct plan_writer *w, struct carn_page *page, const char *path, const char *what);
void plan_reason(struct plan_writer *w, const char *reason);
/* The list of cards, whose lightness EQUALISE joins. */
int plan_put_cards(struct plan_writer *w);
const char *plan_card_id(const struct plan_writer *w, const struct carn_plan_frame *frame);
/* work/KIND/ID/FILE. */
void plan_path(char path[CARN_ID + 64], const char *kind, const char *id, const char *file);
bool plan_missing(const char *kind, const char *id, const char *file);

#endif
