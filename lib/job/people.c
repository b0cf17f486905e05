#include "job/people.h"

#include "base/tone.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A face: rows with one number, or one row of tone all. */
struct face {
    long number;
    double x, area, confidence; /* of its middle row, in the units of the table */
    bool taken;
};

/* The number in face1-middle or face-1; 0 for another name. */
static long face_number(const char *patch)
{
    if (strncmp(patch, "face", 4) != 0)
        return 0;
    const char *digits = patch + 4 + (patch[4] == '-');
    return isdigit((unsigned char)*digits) ? strtol(digits, NULL, 10) : 0;
}

static double number_of(const struct carn_table *table, size_t row, const char *column)
{
    return strtod(carn_table_at(table, row, column), NULL);
}

static int by_area(const void *a, const void *b)
{
    const struct face *x = a, *y = b;
    return x->area > y->area ? -1 : x->area < y->area ? 1 : x->number < y->number ? -1 : 1;
}

static int by_x(const void *a, const void *b)
{
    const struct face *x = a, *y = b;
    return x->x < y->x ? -1 : x->x > y->x ? 1 : x->number < y->number ? -1 : 1;
}

static bool counts(const struct carn_table *patches, size_t row)
{
    enum carn_tone tone = carn_tone_of(carn_table_at(patches, row, "tone"));
    return tone == CARN_TONE_ALL || tone == CARN_TONE_MIDDLE;
}

static size_t read_faces(const struct carn_table *patches, struct face *faces)
{
    size_t count = 0;
    for (size_t i = 0; i < carn_table_rows(patches); i++) {
        const char *patch = carn_table_at(patches, i, "patch");
        if (!counts(patches, i))
            continue;
        double w = number_of(patches, i, "w"), h = number_of(patches, i, "h");
        int column = carn_table_find(patches, "confidence");
        faces[count++] = (struct face){
            .number = face_number(patch),
            .x = number_of(patches, i, "x") + w / 2,
            .area = w * h,
            .confidence = column < 0 ? 1 : number_of(patches, i, "confidence"),
        };
    }
    return count;
}

static int alloc_rows(const struct carn_table *patches, struct carn_people *people,
                      struct carn_error *err)
{
    people->rows = carn_table_rows(patches);
    people->person = carn_alloc(people->rows + 1, sizeof *people->person, err);
    people->patch = carn_alloc(people->rows + 1, sizeof *people->patch, err);
    if (people->person == NULL || people->patch == NULL)
        return -1;
    for (size_t i = 0; i < people->rows; i++) {
        const char *patch = carn_table_at(patches, i, "patch");
        people->patch[i] = carn_copy(patch, err);
        people->person[i] = -1;
        if (people->patch[i] == NULL)
            return -1;
    }
    return 0;
}

/* Several faces of people whom nobody named. */
static int name_strangers(const char *frame, size_t count, struct carn_people *people,
                          struct carn_error *err)
{
    for (size_t k = 0; k < count; k++) {
        char name[4200];
        snprintf(name, sizeof name, "%s#%zu", frame, k + 1);
        free(people->names[k]);
        people->names[k] = carn_copy(name, err);
        if (people->names[k] == NULL)
            return -1;
    }
    people->count = count;
    return 0;
}

static int match_found(const struct carn_table *patches, const char *frame,
                       struct carn_people *people, struct carn_error *err)
{
    struct face *faces = carn_alloc(people->rows + 1, sizeof *faces, err);
    if (faces == NULL)
        return -1;
    size_t count = read_faces(patches, faces), wanted = people->count;
    people->faces = count;
    qsort(faces, count, sizeof *faces, by_area);
    if (strcmp(people->names[0], "-") == 0 && count > 1) {
        wanted = count > CARN_PEOPLE ? CARN_PEOPLE : count;
        if (name_strangers(frame, wanted, people, err) != 0) {
            free(faces);
            return -1;
        }
    }
    int rc = 0;
    if (count > 0 && count < wanted)
        rc = carn_fail(err, CARN_INPUT,
                       "job.tsv names %zu people, %zu face%s found; rows in patches.tsv say who is "
                       "where",
                       wanted, count, count == 1 ? "" : "s");
    if (rc == 0 && count > 0) {
        qsort(faces, wanted, sizeof *faces, by_x);
        for (size_t k = 0; k < wanted; k++)
            people->confidence[k] = faces[k].confidence;
        for (size_t i = 0; i < people->rows; i++)
            for (size_t k = 0; k < wanted && counts(patches, i); k++)
                if (face_number(people->patch[i]) == faces[k].number)
                    people->person[i] = (int)k;
    }
    free(faces);
    return rc;
}

static bool begins_with(const char *patch, const char *name)
{
    size_t n = strlen(name);
    return strncmp(patch, name, n) == 0 && !isalnum((unsigned char)patch[n]);
}

static int match_given(const struct carn_table *patches, struct carn_people *people,
                       struct carn_error *err)
{
    struct face *faces = carn_alloc(people->rows + 1, sizeof *faces, err);
    size_t count = 0;
    if (faces == NULL)
        return -1;
    for (size_t k = 0; k < people->count; k++)
        people->confidence[k] = 1;
    for (size_t i = 0; i < people->rows; i++) {
        enum carn_tone tone = carn_tone_of(carn_table_at(patches, i, "tone"));
        if (people->count == 1) {
            people->person[i] = 0;
            continue;
        }
        for (size_t k = 0; k < people->count; k++)
            if (begins_with(people->patch[i], people->names[k]))
                people->person[i] = (int)k;
        if (people->person[i] < 0 && tone == CARN_TONE_ALL)
            faces[count++] =
                (struct face){.number = (long)i,
                              .x = number_of(patches, i, "x") + number_of(patches, i, "w") / 2};
        else if (people->person[i] < 0 && tone != CARN_TONE_BACKDROP)
            carn_fail(err, CARN_INPUT,
                      "patch '%s': whose? among several people its name has to begin with theirs",
                      people->patch[i]);
    }
    if (err->kind == CARN_NONE && count > 0 && count != people->count)
        carn_fail(err, CARN_INPUT, "job.tsv names %zu people, patches.tsv gives %zu faces",
                  people->count, count);
    qsort(faces, count, sizeof *faces, by_x);
    for (size_t k = 0; k < count; k++)
        people->person[faces[k].number] = (int)k;
    people->faces = people->count;
    free(faces);
    return err->kind == CARN_NONE ? 0 : -1;
}

int carn_people_match(const struct carn_table *patches, bool found, const char *subject,
                      const char *frame, struct carn_people *people, struct carn_error *err)
{
    *people = (struct carn_people){0};
    int count = carn_plan_people(subject, people->names, err);
    people->count = count > 0 ? (size_t)count : 0;
    if (count < 0 || alloc_rows(patches, people, err) != 0)
        return -1;
    return found ? match_found(patches, frame, people, err) : match_given(patches, people, err);
}

void carn_people_clear(struct carn_people *people)
{
    for (size_t k = 0; k < CARN_PEOPLE; k++)
        free(people->names[k]);
    for (size_t i = 0; people->patch != NULL && i < people->rows; i++)
        free(people->patch[i]);
    free(people->patch);
    free(people->person);
    *people = (struct carn_people){0};
}

const char *carn_people_of(const void *with, const char *patch)
{
    const struct carn_people *people = with;
    for (size_t i = 0; i < people->rows; i++)
        if (strcmp(people->patch[i], patch) == 0 && people->person[i] >= 0)
            return people->names[people->person[i]];
    return people->count == 1 ? people->names[0] : "-";
}
