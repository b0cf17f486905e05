#include "codec/format.h"

#include "frame/keys.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* ---- files to read ---- */

void carn_note(struct carn_notes *notes, const char *kind, const char *format, ...)
{
    if (notes->count == sizeof notes->note / sizeof notes->note[0])
        return;
    va_list args;
    va_start(args, format);
    vsnprintf(notes->note[notes->count].text, sizeof notes->note[0].text, format, args);
    va_end(args);
    notes->note[notes->count++].kind = kind;
}

int carn_source_pixels(const struct carn_source *source, uint64_t width, uint64_t height,
                       struct carn_error *err)
{
    if (width == 0 || height == 0)
        return carn_fail_at(err, CARN_INPUT, source->label, "the picture has no pixels (%ju x %ju)",
                            (uintmax_t)width, (uintmax_t)height);
    if (width > source->limits.pixels / height)
        return carn_fail_at(err, CARN_LIMIT, source->label,
                            "%ju x %ju pixels are over the limit of %ju (--max-pixels)",
                            (uintmax_t)width, (uintmax_t)height, (uintmax_t)source->limits.pixels);
    /* A row of four samples of 16 bit must fit, however few there are of them. */
    return carn_source_hold(source, width > UINT64_MAX / 8 ? UINT64_MAX : width * 8, "a row", err);
}

int carn_source_hold(const struct carn_source *source, uint64_t bytes, const char *what,
                     struct carn_error *err)
{
    if (bytes <= source->limits.memory)
        return 0;
    return carn_fail_at(err, CARN_LIMIT, source->label,
                        "%s of %ju bytes is over the limit of %ju (--max-memory)", what,
                        (uintmax_t)bytes, (uintmax_t)source->limits.memory);
}

int carn_source_metadata(struct carn_source *source, uint64_t bytes, struct carn_error *err)
{
    if (bytes > source->limits.metadata - source->metadata)
        return carn_fail_at(err, CARN_LIMIT, source->label,
                            "%ju bytes of metadata are over the limit of %ju (--max-metadata)",
                            (uintmax_t)(source->metadata + bytes),
                            (uintmax_t)source->limits.metadata);
    source->metadata += bytes;
    return 0;
}

int carn_source_blob(struct carn_source *source, struct carn_frame *frame, const char *key,
                     const void *bytes, size_t size, struct carn_error *err)
{
    if (size == 0)
        return 0;
    if (carn_source_metadata(source, size, err) != 0)
        return -1;
    return carn_frame_set_blob(frame, key, bytes, size, err);
}

int carn_source_at(const struct carn_source *source, uint64_t offset, void *to, size_t size,
                   const char *what, struct carn_error *err)
{
    unsigned char *p = to;
    for (size_t done = 0; done < size;) {
        if (offset > (uint64_t)INT64_MAX - size)
            return carn_fail_at(err, CARN_INPUT, source->label, "%s lies outside the file", what);
        ssize_t got = pread(source->fd, p + done, size - done, (off_t)(offset + done));
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return carn_fail_at(err, CARN_SYSTEM, source->label, "cannot read: %s",
                                strerror(errno));
        if (got == 0)
            return carn_fail_at(err, CARN_INPUT, source->label,
                                "cut short: %s at byte %ju wants %zu bytes, %zu are there", what,
                                (uintmax_t)offset, size, done);
        done += (size_t)got;
    }
    return 0;
}

int carn_write_all(int fd, const void *from, size_t size, const char *label, struct carn_error *err)
{
    const char *p = from;
    while (size > 0) {
        ssize_t put = write(fd, p, size);
        if (put < 0 && errno == EINTR)
            continue;
        if (put < 0)
            return carn_fail_at(err, CARN_SYSTEM, label, "cannot write: %s", strerror(errno));
        p += put;
        size -= (size_t)put;
    }
    return 0;
}

void carn_widen_row(const unsigned char *from, uint16_t *to, size_t count)
{
    for (size_t i = 0; i < count; i++)
        to[i] = (uint16_t)(from[i] * 257);
}

/* ---- files to write ---- */

size_t carn_sink_row_size(const struct carn_sink *sink)
{
    return sink->frame->width * (sink->colours + sink->alpha) * (size_t)(sink->depth / 8);
}

void *carn_sink_blob(const struct carn_sink *sink, const char *key, size_t *size,
                     struct carn_error *err)
{
    struct carn_error cause = {0};
    void *bytes = carn_frame_blob(sink->frame, key, size, &cause);
    if (cause.kind != CARN_NONE)
        carn_fail_at(err, cause.kind, sink->label, "the frame's %s: %s", key, cause.text);
    return bytes;
}
