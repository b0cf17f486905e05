#define _XOPEN_SOURCE 700
#include "report/shown.h"

#include "base/order.h"
#include "frame/crop.h"
#include "frame/upright.h"
#include "job/kept.h"
#include "job/record.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- cells ---- */

static bool yes(const struct carn_table *table, size_t row, const char *column)
{
    return strcmp(carn_table_text(table, row, column), "yes") == 0;
}

static struct carn_shown_values values_of(const struct carn_table *table, size_t row,
                                          const char *prefix)
{
    static const char *const names[] = {
        "L",         "a",         "b",   "aim_L",           "aim_a",
        "aim_b",     "chroma",    "hue", "magenta_by_cyan", "yellow_by_magenta",
        "ciede2000", "hue_spread"};
    double v[sizeof names / sizeof *names];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char column[64];
        snprintf(column, sizeof column, "%s%s", prefix, names[i]);
        v[i] = carn_table_value(table, row, column);
    }
    return (struct carn_shown_values){
        {v[0], v[1], v[2]}, {v[3], v[4], v[5]}, v[6], v[7], v[8], v[9], v[10], v[11]};
}

static struct carn_shown_values nothing(void)
{
    const double n = (double)NAN;
    return (struct carn_shown_values){{n, n, n}, {n, n, n}, n, n, n, n, n, n};
}

/* ---- frames ---- */

static double fact_of(const struct carn_shown *s, const char *frame, const char *key)
{
    size_t row = carn_table_row(s->facts, "frame", frame);
    return row != SIZE_MAX ? strtod(carn_table_text(s->facts, row, key), NULL) : 0;
}

static int rank_of(const struct carn_shown_frame *f)
{
    return f->failed                   ? 0
           : f->verdict == CARN_OFF    ? 1
           : f->verdict == CARN_UNSURE ? 2
           : f->needs_person           ? 3
           : f->outlier                ? 4
           : f->verdict == CARN_HELD   ? 5
                                       : 6;
}

static void read_frame(const struct carn_shown *s, size_t row, struct carn_shown_frame *f)
{
    const struct carn_table *t = s->frames_table;
    f->name = carn_table_text(t, row, "frame");
    f->id = carn_table_text(t, row, "id");
    f->subject = carn_table_text(t, row, "subject");
    f->camera = carn_table_text(t, row, "camera");
    f->card = carn_table_text(t, row, "card");
    f->out = carn_table_text(t, row, "out");
    f->state = carn_table_text(t, row, "state");
    f->verdict = carn_verdict_of(carn_table_text(t, row, "verdict"));
    f->words = carn_table_text(t, row, "words");
    f->flags = carn_table_text(t, row, "flags");
    f->ground = carn_ground_of(carn_table_text(t, row, "grounds"));
    f->confidence = carn_table_text(t, row, "confidence");
    f->faces = strtoul(carn_table_text(t, row, "faces"), NULL, 10);
    f->depth = carn_table_text(t, row, "depth");
    f->message = carn_table_text(t, row, "message");
    f->approved = yes(t, row, "approved");
    f->is_card = strcmp(f->state, "card") == 0;
    f->failed = strcmp(f->state, "failed") == 0 || strcmp(f->state, "not renewed") == 0;
    f->needs_person = yes(t, row, "needs_person");
    f->outlier = yes(t, row, "outlier");
    f->rank = rank_of(f);
    static const char *const columns[] = {"picture_before", "picture_after"};
    for (size_t k = 0; k < 2; k++) {
        f->picture[k] = carn_table_text(t, row, columns[k]);
        if (strcmp(f->picture[k], "-") == 0 || (k == 1 && s->audit))
            f->picture[k] = NULL;
    }
    f->wide = fact_of(s, f->name, "width");
    f->high = fact_of(s, f->name, "height");
    if (carn_upright_lies((unsigned)fmax(fact_of(s, f->name, "orientation"), 0))) {
        double swap = f->wide;
        f->wide = f->high;
        f->high = swap;
    }
    f->before = values_of(t, row, "before_");
    f->after = s->audit ? nothing() : values_of(t, row, "after_");
}

const enum carn_verdict carn_shown_verdicts[] = {CARN_ON, CARN_HELD, CARN_OFF, CARN_UNSURE};

const char *carn_shown_verdict(const struct carn_shown_frame *f)
{
    return f->failed ? "failed" : carn_verdict_word(f->verdict);
}

/* Worst first; those alike by what is left to the aim, as it is printed, then as they came. */
static void sort_frames(struct carn_shown *s)
{
    for (size_t i = 0; i < s->frame_count; i++) {
        size_t at = i;
        for (; at > 0; at--) {
            const struct carn_shown_frame *x = &s->frames[s->order[at - 1]], *y = &s->frames[i];
            double left = s->audit ? x->before.difference : x->after.difference;
            double mine = s->audit ? y->before.difference : y->after.difference;
            if (x->rank < y->rank || (x->rank == y->rank && !(rint(10 * mine) > rint(10 * left))))
                break;
            s->order[at] = s->order[at - 1];
        }
        s->order[at] = i;
    }
}

/* ---- readings and boxes ---- */

static void read_readings(struct carn_shown *s)
{
    for (size_t i = 0; i < carn_table_rows(s->before); i++) {
        const char *word = carn_table_text(s->before, i, "tone");
        if (!carn_tone_is_skin(word))
            continue;
        struct carn_shown_reading *r = &s->readings[s->reading_count++];
        r->frame = carn_table_text(s->before, i, "frame");
        r->patch = carn_table_text(s->before, i, "patch");
        r->subject = carn_table_text(s->before, i, "subject");
        r->camera = carn_table_text(s->before, i, "camera");
        r->tone = carn_tone_of_face(word);
        r->is_main = r->tone == CARN_TONE_MIDDLE || r->tone == CARN_UNTONED;
        r->before = values_of(s->before, i, "");
        r->after = nothing();
    }
    size_t hint = 0; /* both tables are mostly in the same order */
    int frame = s->after != NULL ? carn_table_find(s->after, "frame") : -1;
    for (size_t i = 0; s->after != NULL && i < carn_table_rows(s->after); i++)
        for (size_t k = 0; k < s->reading_count; k++) {
            size_t at = (hint + k) % s->reading_count;
            struct carn_shown_reading *r = &s->readings[at];
            if (strcmp(carn_table_cell(s->after, i, frame), r->frame) != 0 ||
                strcmp(carn_table_text(s->after, i, "patch"), r->patch) != 0 ||
                carn_tone_of_face(carn_table_text(s->after, i, "tone")) != r->tone)
                continue;
            r->after = values_of(s->after, i, "");
            hint = at + 1;
            break;
        }
}

static double percent(const char *cell, double whole)
{
    double v = strtod(cell, NULL);
    return strchr(cell, '%') != NULL ? v : whole > 0 ? 100 * v / whole : 0;
}

static void read_boxes(struct carn_shown *s)
{
    for (size_t i = 0; i < carn_table_rows(s->patches); i++) {
        struct carn_shown_box *box = &s->boxes[s->box_count];
        *box = (struct carn_shown_box){.frame = carn_table_text(s->patches, i, "frame"),
                                       .patch = carn_table_text(s->patches, i, "patch"),
                                       .tone = carn_table_text(s->patches, i, "tone"),
                                       .kind = carn_table_text(s->patches, i, "kind"),
                                       .subject = "-"};
        const struct carn_shown_frame *frame = NULL;
        for (size_t k = 0; frame == NULL && k < s->frame_count; k++)
            frame = strcmp(s->frames[k].name, box->frame) == 0 ? &s->frames[k] : NULL;
        if (frame == NULL)
            continue;
        box->x = percent(carn_table_text(s->patches, i, "x"), frame->wide);
        box->y = percent(carn_table_text(s->patches, i, "y"), frame->high);
        box->w = percent(carn_table_text(s->patches, i, "w"), frame->wide);
        box->h = percent(carn_table_text(s->patches, i, "h"), frame->high);
        if (carn_tone_of(box->tone) == CARN_TONE_ALL) {
            box->face = 1;
            for (size_t k = 0; k < s->box_count; k++)
                box->face += s->boxes[k].face > 0 && strcmp(s->boxes[k].frame, box->frame) == 0;
        }
        box->tilt = strtod(carn_table_text(s->patches, i, "tilt"), NULL);
        for (size_t k = 0; k < s->reading_count; k++)
            if (strcmp(s->readings[k].frame, box->frame) == 0 &&
                strcmp(s->readings[k].patch, box->patch) == 0)
                box->subject = s->readings[k].subject;
        s->box_count++;
    }
}

static void add_name(const char **names, size_t *count, const char *name)
{
    for (size_t i = 0; i < *count; i++)
        if (strcmp(names[i], name) == 0)
            return;
    if (strcmp(name, "-") != 0)
        names[(*count)++] = name;
}

bool carn_shown_listed(const char *list, const char *name)
{
    size_t length = strlen(name);
    while (*list != '\0') {
        list += strspn(list, ", ");
        size_t n = strcspn(list, ",");
        size_t end = n;
        while (end > 0 && list[end - 1] == ' ')
            end--;
        if (end == length && strncmp(list, name, length) == 0)
            return true;
        list += n;
    }
    return false;
}

size_t carn_shown_camera(const struct carn_shown *s, const char *camera)
{
    for (size_t i = 0; i < s->camera_count; i++)
        if (strcmp(s->cameras[i], camera) == 0)
            return i;
    return 0;
}

/* ---- medians ---- */

enum { VALUES = sizeof(struct carn_shown_values) / sizeof(double) };

static struct carn_shown_values median_of(const struct carn_shown *s, const size_t *rows,
                                          size_t count, bool after, double *room)
{
    union {
        struct carn_shown_values values;
        double v[VALUES];
    } all = {nothing()}, one;
    for (size_t k = 0; k < VALUES; k++) {
        size_t n = 0;
        for (size_t i = 0; i < count; i++) {
            one.values = after ? s->readings[rows[i]].after : s->readings[rows[i]].before;
            room[n] = one.v[k];
            n += !isnan(one.v[k]) ? 1 : 0;
        }
        if (n > 0)
            all.v[k] = carn_median(room, n);
    }
    return all.values;
}

size_t carn_shown_median(const struct carn_shown *s, const char *subject, const char *camera,
                         enum carn_tone tone, struct carn_shown_values *before,
                         struct carn_shown_values *after, struct carn_error *err)
{
    size_t *rows = carn_alloc(s->reading_count + 1, sizeof *rows, err), count = 0;
    double *room = carn_alloc(s->reading_count + 1, sizeof *room, err);
    for (size_t i = 0; rows != NULL && room != NULL && i < s->reading_count; i++) {
        const struct carn_shown_reading *r = &s->readings[i];
        if ((subject == NULL || strcmp(r->subject, subject) == 0) &&
            (camera == NULL || strcmp(r->camera, camera) == 0) &&
            (tone == CARN_UNTONED ? r->is_main : r->tone == tone))
            rows[count++] = i;
    }
    *before = room != NULL ? median_of(s, rows, count, false, room) : nothing();
    *after = room != NULL ? median_of(s, rows, count, true, room) : nothing();
    free(rows);
    free(room);
    return count;
}

/* ---- crops ---- */

bool carn_shown_crop(const struct carn_shown *s, const struct carn_shown_frame *f,
                     const char *subject, struct carn_shown_box *crop)
{
    size_t found = 0;
    bool face = false;
    double left = 100, top = 100, right = 0, bottom = 0;
    for (size_t i = 0; i < s->box_count && !face; i++) {
        const struct carn_shown_box *b = &s->boxes[i];
        if (strcmp(b->frame, f->name) != 0 || strcmp(b->subject, "-") == 0 ||
            (subject != NULL && strcmp(b->subject, subject) != 0))
            continue;
        subject = b->subject; /* of several people the first */
        face = b->face > 0;
        crop->face = b->face;
        left = face ? b->x : fmin(left, b->x);
        top = face ? b->y : fmin(top, b->y);
        right = face ? b->x + b->w : fmax(right, b->x + b->w);
        bottom = face ? b->y + b->h : fmax(bottom, b->y + b->h);
        found++;
    }
    if (found == 0 || !(f->wide > 0) || !(f->high > 0))
        return false;
    /* Two squares and more span a face, one lies anywhere on it and is about a fifth as wide. */
    double room = face ? CARN_CROP_FACE : found > 1 ? 3 : 9;
    double x = f->wide / 100, y = f->high / 100; /* pixels a per cent */
    const struct carn_crop box = {left * x, top * y, (right - left) * x, (bottom - top) * y};
    const struct carn_crop part = carn_crop_about(box, room, f->wide, f->high);
    crop->x = part.x / x;
    crop->y = part.y / y;
    crop->w = part.w / x;
    crop->h = part.h / y;
    return true;
}

/* ---- all of it ---- */

/* A value of what the job's frames were asked with; "" unknown. */
static char *setting_of(const struct carn_shown *s, const char *file, const char *key,
                        struct carn_error *err)
{
    struct carn_table *record = NULL;
    for (size_t i = 0; record == NULL && i < s->frame_count; i++)
        record = carn_kept_table(s->frames[i].id, file);
    char *value = carn_copy(record != NULL ? carn_record_get(record, key) : "", err);
    carn_table_close(record);
    return value;
}

static int read_settings(struct carn_shown *s, struct carn_error *err)
{
    s->aim = setting_of(s, "deliver.tsv", "AIM", err);
    s->look = setting_of(s, "deliver.tsv", "LOOK", err);
    s->separation = setting_of(s, "request.tsv", "separation", err);
    char *black_point = setting_of(s, "request.tsv", "black_point", err);
    s->black_point = black_point == NULL || strcmp(black_point, "no") != 0;
    free(black_point);
    return err->kind == CARN_NONE ? 0 : -1;
}

static struct carn_table *table_of(const char *path, bool needed, struct carn_error *err)
{
    return needed || access(path, R_OK) == 0 ? carn_table_read(path, err) : NULL;
}

static int read_tables(struct carn_shown *s, struct carn_error *err)
{
    struct carn_error empty = {0}; /* no frame was read: such a table has not even a header */
    s->frames_table = table_of("report/frames.tsv", true, err);
    s->patches = table_of("report/patches.tsv", true, err);
    s->summary = table_of("report/summary.tsv", true, err);
    s->facts = table_of("report/facts.tsv", true, err);
    s->before = table_of("report/before.tsv", false, &empty);
    s->after = s->audit ? NULL : table_of("report/after.tsv", false, &empty);
    s->provenance = s->audit ? NULL : table_of("report/provenance.tsv", false, &empty);
    return err->kind == CARN_NONE ? 0 : -1;
}

int carn_shown_read(bool audit, struct carn_shown *s, struct carn_error *err)
{
    *s = (struct carn_shown){.audit = audit};
    char *folder = getcwd(NULL, 0);
    const char *slash = folder != NULL ? strrchr(folder, '/') : NULL;
    s->name = carn_copy(slash != NULL && slash[1] != '\0' ? slash + 1 : "job", err);
    free(folder);
    if (read_tables(s, err) != 0)
        return -1;
    size_t frames = carn_table_rows(s->frames_table), boxes = carn_table_rows(s->patches);
    size_t readings = s->before != NULL ? carn_table_rows(s->before) : 0;
    s->frames = carn_alloc(frames + 1, sizeof *s->frames, err);
    s->order = carn_alloc(frames + 1, sizeof *s->order, err);
    s->readings = carn_alloc(readings + 1, sizeof *s->readings, err);
    s->boxes = carn_alloc(boxes + 1, sizeof *s->boxes, err);
    s->people = carn_alloc(readings + 1, sizeof *s->people, err);
    s->cameras = carn_alloc(frames + 1, sizeof *s->cameras, err);
    if (err->kind != CARN_NONE)
        return -1;
    for (; s->frame_count < frames; s->frame_count++) {
        read_frame(s, s->frame_count, &s->frames[s->frame_count]);
        add_name(s->cameras, &s->camera_count, s->frames[s->frame_count].camera);
    }
    sort_frames(s);
    if (s->before != NULL)
        read_readings(s);
    for (size_t i = 0; i < s->reading_count; i++)
        add_name(s->people, &s->people_count, s->readings[i].subject);
    read_boxes(s);
    return read_settings(s, err);
}

void carn_shown_clear(struct carn_shown *s)
{
    carn_table_close(s->frames_table);
    carn_table_close(s->before);
    carn_table_close(s->after);
    carn_table_close(s->patches);
    carn_table_close(s->summary);
    carn_table_close(s->facts);
    carn_table_close(s->provenance);
    free(s->name);
    free(s->aim);
    free(s->look);
    free(s->separation);
    free(s->frames);
    free(s->order);
    free(s->readings);
    free(s->boxes);
    free((void *)s->people);
    free((void *)s->cameras);
    *s = (struct carn_shown){0};
}
