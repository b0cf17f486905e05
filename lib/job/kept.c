#define _XOPEN_SOURCE 700 /* lstat */
#include "job/kept.h"

#include "job/grounds.h"

#include <stdio.h>
#include <sys/stat.h>
#include <unistd.h>

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

static bool is_there(const char *id, const char *file)
{
    char path[CARN_KEPT_PATH];
    return access(carn_kept_path(path, id, file), R_OK) == 0;
}

static bool has_picture(const char *id, const char *when)
{
    char path[CARN_KEPT_PATH];
    snprintf(path, sizeof path, "report/pictures/%s.%s.jpg", id, when);
    return access(path, R_OK) == 0;
}

static enum carn_ground ground_of(const char *id)
{
    struct carn_error ignored = {0};
    struct carn_grounds grounds;
    char path[CARN_KEPT_PATH];
    (void)carn_grounds_read(carn_kept_path(path, id, "grounds.tsv"), &grounds, &ignored);
    enum carn_ground ground = grounds.ground;
    carn_grounds_close(&grounds);
    return ground;
}

static bool has_places(const char *id)
{
    struct carn_table *faces = carn_kept_table(id, "faces.tsv");
    bool any = faces != NULL && carn_table_rows(faces) > 0;
    bool whole = faces != NULL && is_there(id, "squares.tsv");
    carn_table_close(faces);
    return whole && (!any || is_there(id, "skin.pbm"));
}

bool carn_kept_measured(const char *id)
{
    enum carn_ground ground = ground_of(id);
    return ground != CARN_GROUND_UNKNOWN && is_there(id, "readings.tsv") &&
           is_there(id, "shot.tsv") && is_there(id, "measured.notes") &&
           has_picture(id, "before") && (!carn_ground_has_skin(ground) || has_places(id));
}

bool carn_kept_is_card(const char *id)
{
    return ground_of(id) == CARN_GROUND_CARD;
}

bool carn_kept_delivered(const char *id, const char *out)
{
    char path[4200];
    struct stat st;
    if (!is_there(id, "after.tsv") || !is_there(id, "delivered.notes"))
        return false;
    if (carn_kept_is_card(id))
        return true;
    snprintf(path, sizeof path, "out/%s", out);
    return lstat(path, &st) == 0 && S_ISREG(st.st_mode) && has_picture(id, "after") &&
           is_there(id, "made.tsv");
}
