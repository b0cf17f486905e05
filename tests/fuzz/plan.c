/* A job's plan: settings, job.tsv, patches.tsv and aims.tsv, with a zero byte between them. */
#define _XOPEN_SOURCE 700
#include "fuzz.h"

#include "job/plan.h"
#include "job/settings.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static void write_part(const char *path, const uint8_t *data, size_t size)
{
    int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0666);
    fuzz_must(fd >= 0 && write(fd, data, size) == (ssize_t)size, "a table can be written");
    close(fd);
}

static int remove_one(const char *path, const struct stat *st, int kind, struct FTW *at)
{
    (void)st;
    (void)kind;
    return at->level == 0 ? 0 : remove(path);
}

/* The folder with some frames in it, made once; what a run left under work/ goes. */
static void enter(void)
{
    static const char *const folders[] = {"frames", "work", "out"};
    static const char *const frames[] = {"frames/north-01-aino.tif", "frames/south-01-aino.tif",
                                         "frames/a b.tif", "frames/card.jpg"};
    static bool entered;
    if (!entered) {
        fuzz_must(chdir(fuzz_folder()) == 0, "the folder is there");
        for (size_t i = 0; i < 3; i++)
            fuzz_must(mkdir(folders[i], 0777) == 0, "a folder can be made");
        for (size_t i = 0; i < 4; i++)
            write_part(frames[i], (const uint8_t *)"", 0);
    }
    entered = true;
    (void)nftw("work", remove_one, 16, FTW_DEPTH | FTW_PHYS);
}

static size_t entries(const char *path)
{
    size_t count = 0;
    DIR *dir = opendir(path);
    while (dir != NULL && readdir(dir) != NULL)
        count++;
    if (dir != NULL)
        closedir(dir);
    return count;
}

static void compare(const struct carn_plan *plan)
{
    static FILE *nowhere;
    struct carn_error err = {0};
    size_t count = 0;
    if (nowhere == NULL)
        nowhere = fopen("/dev/null", "w");
    (void)carn_plan_compare(plan, nowhere, &count, &err);
}

static void check_names(const struct carn_plan *plan)
{
    for (size_t i = 0; i < plan->count; i++) {
        const char *out = plan->frames[i].out;
        fuzz_must(out == NULL || (out[0] != '\0' && strchr(out, '/') == NULL &&
                                  strcmp(out, ".") != 0 && strcmp(out, "..") != 0),
                  "what is delivered lies in out/");
        fuzz_must(strchr(plan->frames[i].id, '/') == NULL && plan->frames[i].id[0] != '\0',
                  "an id is a name");
        for (size_t k = 0; k < i && out != NULL; k++)
            fuzz_must(plan->frames[k].out == NULL || strcmp(out, plan->frames[k].out) != 0,
                      "no two frames are delivered as one");
    }
}

void fuzz_plan(const uint8_t *data, size_t size)
{
    static const char *const parts[] = {"work/settings", "job.tsv", "patches.tsv", "aims.tsv"};
    struct carn_error err = {0};
    struct carn_settings settings = {0};
    struct carn_plan plan = {0};
    enter();
    for (size_t i = 0; i < 4; i++) {
        const uint8_t *zero = size > 0 && i < 3 ? memchr(data, 0, size) : NULL;
        size_t part = zero != NULL ? (size_t)(zero - data) : size;
        write_part(parts[i], data, part);
        size_t skip = zero != NULL ? part + 1 : part;
        data += skip;
        size -= skip;
    }
    size_t before = entries("."), frames = entries("frames");
    if (carn_settings_read("work/settings", "aims.tsv", &settings, &err) == 0) {
        if (carn_plan_make(&settings, size % 2 == 0, &plan, &err) == 0) {
            check_names(&plan);
            compare(&plan);
            if (plan.count <= 8 && carn_plan_write(&plan, "/usr/bin", "", &err) == 0)
                compare(&plan);
            carn_plan_close(&plan);
        }
    }
    fuzz_must(entries(".") == before && entries("frames") == frames && entries("out") == 2,
              "a plan writes under work/ alone");
    carn_settings_clear(&settings);
}
