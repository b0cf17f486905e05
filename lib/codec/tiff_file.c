/* The file under libtiff, and what libtiff says. */
#include "codec/tiff.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- the file: a read or write that fails is kept, since libtiff may pass over it ---- */

static tmsize_t keep_cause(struct carn_tiff_words *words)
{
    if (words->cause == 0)
        words->cause = errno;
    return -1;
}

static tmsize_t read_some(thandle_t handle, void *to, tmsize_t size)
{
    struct carn_tiff_words *words = handle;
    tmsize_t done = 0;
    while (done < size) {
        ssize_t got = read(words->fd, (char *)to + done, (size_t)(size - done));
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return keep_cause(words);
        if (got == 0)
            break;
        done += got;
    }
    return done;
}

static tmsize_t write_some(thandle_t handle, void *from, tmsize_t size)
{
    struct carn_tiff_words *words = handle;
    words->wrote = true;
    for (tmsize_t done = 0; done < size;) {
        ssize_t put = write(words->fd, (const char *)from + done, (size_t)(size - done));
        if (put < 0 && errno == EINTR)
            continue;
        if (put < 0)
            return keep_cause(words);
        done += put;
    }
    return size;
}

static toff_t seek(thandle_t handle, toff_t offset, int whence)
{
    struct carn_tiff_words *words = handle;
    off_t at = lseek(words->fd, (off_t)offset, whence);
    return at < 0 ? (toff_t)keep_cause(words) : (toff_t)at;
}

static int shut(thandle_t handle)
{
    struct carn_tiff_words *words = handle;
    int closed = close(words->fd);
    if (closed != 0)
        (void)keep_cause(words);
    return closed;
}

static toff_t size_of(thandle_t handle)
{
    struct carn_tiff_words *words = handle;
    struct stat st;
    return fstat(words->fd, &st) == 0 ? (toff_t)st.st_size : 0;
}

static int map_nothing(thandle_t handle, void **base, toff_t *size)
{
    (void)handle;
    (void)base;
    (void)size;
    return 0;
}

static void unmap_nothing(thandle_t handle, void *base, toff_t size)
{
    (void)handle;
    (void)base;
    (void)size;
}

int carn_tiff_check(const struct carn_tiff_words *words, struct carn_error *err)
{
    if (words->cause == 0)
        return 0;
    /* What libtiff said before follows from this error. */
    *err = (struct carn_error){0};
    return carn_fail_at(err, CARN_SYSTEM, words->label, "cannot %s: %s",
                        words->wrote ? "write" : "read", strerror(words->cause));
}

/* ---- its words ---- */

__attribute__((format(printf, 4, 0))) static int
on_error(TIFF *tiff, void *data, const char *module, const char *format, va_list args)
{
    struct carn_tiff_words *words = data;
    (void)tiff;
    (void)module;
    if (words->text[0] == '\0')
        vsnprintf(words->text, sizeof words->text, format, args);
    return 1;
}

__attribute__((format(printf, 4, 0))) static int
on_warning(TIFF *tiff, void *data, const char *module, const char *format, va_list args)
{
    struct carn_tiff_words *words = data;
    if (module == NULL || strcmp(module, "JPEGLib") != 0)
        return 1;
    words->jpeg_warned = true;
    return on_error(tiff, data, module, format, args);
}

TIFF *carn_tiff_open(int fd, const char *label, const char *mode, uint64_t memory,
                     struct carn_tiff_words *words, struct carn_error *err)
{
    TIFFOpenOptions *options = TIFFOpenOptionsAlloc();
    if (options == NULL) {
        carn_fail_at(err, CARN_MEMORY, label, "out of memory");
        return NULL;
    }
    TIFFOpenOptionsSetErrorHandlerExtR(options, on_error, words);
    TIFFOpenOptionsSetWarningHandlerExtR(options, on_warning, words);
    TIFFOpenOptionsSetMaxSingleMemAlloc(options, memory > INT64_MAX ? (tmsize_t)INT64_MAX
                                                                    : (tmsize_t)memory);
    words->fd = fd;
    words->label = label;
    TIFF *tiff = TIFFClientOpenExt(label, mode, words, read_some, write_some, seek, shut, size_of,
                                   map_nothing, unmap_nothing, options);
    TIFFOpenOptionsFree(options);
    if (tiff == NULL)
        carn_fail_at(err, CARN_INPUT, label, "TIFF cannot be opened: %s",
                     words->text[0] != '\0' ? words->text : "it has no directory");
    return tiff;
}
