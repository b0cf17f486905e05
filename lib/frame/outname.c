#include "frame/outname.h"

#include "base/match.h"
#include "frame/keys.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* A file is known by device and inode: two names may mean one file. */
struct file {
    dev_t device;
    ino_t inode;
};

struct carn_outnames {
    size_t count;
    struct file *files;
    bool standard; /* output has been used */
};

struct carn_outnames *carn_outnames_open(struct carn_error *err)
{
    return carn_alloc(1, sizeof(struct carn_outnames), err);
}

void carn_outnames_close(struct carn_outnames *names)
{
    if (names != NULL)
        free(names->files);
    free(names);
}

/* The base name without suffix, as start and length; of length 0 when nothing is left that could
 * name a file. A name comes from the stream, so it must not be able to leave the folder: it has no
 * slash and is neither . nor .., before and after its suffix is taken off. */
static const char *stem(const struct carn_frame *frame, size_t *length)
{
    const char *name = frame->label != NULL ? frame->label : "";
    const char *slash = strrchr(name, '/');
    const char *base = slash == NULL ? name : slash + 1;
    *length = carn_stem(base);
    if (strspn(base, ".") >= *length)
        *length = 0;
    return base;
}

static bool is_written(const struct carn_outnames *names, const char *path)
{
    struct stat st;
    if (strcmp(path, "-") == 0)
        return names->standard;
    if (stat(path, &st) != 0)
        return false;
    for (size_t i = 0; i < names->count; i++)
        if (names->files[i].device == st.st_dev && names->files[i].inode == st.st_ino)
            return true;
    return false;
}

static char *expand(const char *pattern, const char *name, size_t length, const char *number,
                    struct carn_error *err)
{
    size_t digits = strlen(number);
    size_t most = length > digits ? length : digits;
    char *path = carn_alloc(strlen(pattern) * (most + 1) + 3, 1, err);
    if (path == NULL)
        return NULL;
    char *to = path; /* carn_alloc has ended it with zeroes */
    /* A frame called - is a file: only the user can ask for standard output. */
    if (strcmp(pattern, "{name}") == 0 && length == 1 && name[0] == '-')
        to = stpcpy(to, "./");
    for (const char *at = pattern; *at != '\0';) {
        if (strncmp(at, "{name}", 6) == 0) {
            memcpy(to, name, length);
            to += length;
            at += 6;
        } else if (strncmp(at, "{n}", 3) == 0) {
            to = stpcpy(to, number);
            at += 3;
        } else {
            *to++ = *at++;
        }
    }
    return path;
}

/* Room for one more file now, so that nothing can fail once it is written. */
static int reserve(struct carn_outnames *names, struct carn_error *err)
{
    struct file *files = carn_grow(names->files, names->count + 1, sizeof *files, err);
    if (files == NULL)
        return -1;
    names->files = files;
    return 0;
}

char *carn_outnames_fill(struct carn_outnames *names, const char *pattern,
                         const struct carn_frame *frame, size_t number, struct carn_error *err)
{
    size_t length;
    const char *name = stem(frame, &length);
    char digits[24];
    snprintf(digits, sizeof digits, "%zu", number);
    if (length == 0 && strstr(pattern, "{name}") != NULL) {
        carn_fail_at(err, CARN_USAGE, pattern, "frame %zu has no name to fill in; use {n}", number);
        return NULL;
    }
    if (reserve(names, err) != 0)
        return NULL;
    char *path = expand(pattern, name, length, digits, err);
    if (path == NULL || !is_written(names, path))
        return path;
    carn_fail_at(err, CARN_USAGE, path,
                 "frame %zu (%s) would overwrite a file of this run; use {name} or {n}", number,
                 carn_frame_name(frame));
    free(path);
    return NULL;
}

void carn_outnames_done(struct carn_outnames *names, const char *path)
{
    struct stat st;
    if (strcmp(path, "-") == 0)
        names->standard = true;
    else if (stat(path, &st) == 0)
        names->files[names->count++] = (struct file){st.st_dev, st.st_ino};
}
