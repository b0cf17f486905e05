#include "job/grounds.h"

#include "job/files.h"
#include "job/record.h"

#include <stdlib.h>
#include <string.h>

static const char *const words[CARN_GROUNDS] = {
    [CARN_GROUND_UNKNOWN] = "-",   [CARN_GROUND_GIVEN] = "given",
    [CARN_GROUND_FOUND] = "found", [CARN_GROUND_NONE] = "none",
    [CARN_GROUND_GREY] = "grey",   [CARN_GROUND_ONE_COLOUR] = "one-colour",
    [CARN_GROUND_CARD] = "card",
};

const char *carn_ground_word(enum carn_ground ground)
{
    return words[ground];
}

enum carn_ground carn_ground_of(const char *word)
{
    enum carn_ground ground = CARN_GROUNDS - 1;
    while (ground > CARN_GROUND_UNKNOWN && strcmp(words[ground], word) != 0)
        ground--;
    return ground;
}

bool carn_ground_has_skin(enum carn_ground ground)
{
    return ground == CARN_GROUND_GIVEN || ground == CARN_GROUND_FOUND;
}

bool carn_ground_is_as_it_is(enum carn_ground ground)
{
    return ground == CARN_GROUND_GREY || ground == CARN_GROUND_ONE_COLOUR;
}

int carn_grounds_keep(const char *path, enum carn_ground ground, const struct carn_people *people,
                      struct carn_error *err)
{
    struct carn_page page;
    double confidence = carn_ground_has_skin(ground) ? 1 : 0;
    if (carn_page_open(&page, err) != 0)
        return -1;
    for (size_t k = 0; k < people->count; k++)
        if (people->confidence[k] < confidence)
            confidence = people->confidence[k];
    carn_record_begin(page.to);
    carn_record_put(page.to, "grounds", words[ground]);
    carn_record_print(page.to, "confidence", "%.3f", confidence);
    carn_record_print(page.to, "faces", "%zu", people->faces);
    for (size_t k = 0; k < people->count; k++)
        carn_record_put(page.to, "person", people->names[k]);
    return carn_page_keep(&page, path, err) < 0 ? -1 : 0;
}

int carn_grounds_read(const char *path, struct carn_grounds *grounds, struct carn_error *err)
{
    *grounds = (struct carn_grounds){.table = carn_table_read(path, err)};
    if (grounds->table == NULL)
        return -1;
    grounds->ground = carn_ground_of(carn_record_get(grounds->table, "grounds"));
    grounds->confidence = strtod(carn_record_get(grounds->table, "confidence"), NULL);
    grounds->faces = strtoul(carn_record_get(grounds->table, "faces"), NULL, 10);
    return 0;
}

void carn_grounds_close(struct carn_grounds *grounds)
{
    carn_table_close(grounds->table);
    *grounds = (struct carn_grounds){0};
}

const char *carn_grounds_person(const struct carn_grounds *grounds, size_t k)
{
    for (size_t i = 0; i < carn_table_rows(grounds->table); i++)
        if (strcmp(carn_table_cell(grounds->table, i, 0), "person") == 0 && k-- == 0)
            return carn_table_cell(grounds->table, i, 1);
    return NULL;
}

bool carn_grounds_are_sure(const struct carn_grounds *grounds, double least)
{
    return grounds->table != NULL && grounds->confidence >= least;
}
