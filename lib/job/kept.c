#include "job/kept.h"

#include <stdio.h>

const char *carn_kept_path(char path[CARN_KEPT_PATH], const char *id, const char *file)
{
    snprintf(path, CARN_KEPT_PATH, "work/frame/%s/%s", id, file);
    return path;
}

struct carn_table *carn_kept_table(const char *id, const char *file)
{
    char path[CARN_KEPT_PATH];
    return carn_table_try(carn_kept_path(path, id, file));
}

struct carn_table *carn_kept_made(const char *id)
{
    struct carn_table *made = carn_kept_table(id, "made.tsv");
    if (made != NULL && carn_table_rows(made) == 1)
        return made;
    carn_table_close(made);
    return NULL;
}
