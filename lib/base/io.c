#define _GNU_SOURCE /* F_SETPIPE_SZ */
#include "base/io.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct carn_in {
    int fd;
    bool failed;
    bool ended;
    bool started;
    const char *label;
    size_t at, end; /* the unread part of block */
    unsigned char block[CARN_BLOCK];
};

struct carn_out {
    int fd;
    bool failed;
    const char *label;
    size_t used;
    unsigned char block[CARN_BLOCK];
};

/* Only a wish: it fails on what is no pipe and above a user's allowance, and nothing depends on it.
 */
static void widen_pipe(int fd)
{
#ifdef F_SETPIPE_SZ
    (void)fcntl(fd, F_SETPIPE_SZ, CARN_BLOCK);
#else
    (void)fd;
#endif
}

/* Zero up to its block, whose pages a small frame never touches. */
static void *new_stream(size_t size, size_t block, struct carn_error *err)
{
    void *stream = carn_grow(NULL, 1, size, err);
    if (stream != NULL)
        memset(stream, 0, block);
    return stream;
}

struct carn_in *carn_in_open(int fd, const char *label, struct carn_error *err)
{
    struct carn_in *in = new_stream(sizeof *in, offsetof(struct carn_in, block), err);
    if (in == NULL)
        return NULL;
    in->fd = fd;
    in->label = label;
    widen_pipe(fd);
    return in;
}

void carn_in_close(struct carn_in *in)
{
    free(in);
}

const char *carn_in_label(const struct carn_in *in)
{
    return in->label;
}

bool carn_in_started(const struct carn_in *in)
{
    return in->started;
}

/* One read(2) of at most size bytes: the count, 0 at the end, -1 with a message. */
static long read_some(struct carn_in *in, void *to, size_t size, struct carn_error *err)
{
    if (in->failed)
        return carn_fail_at(err, CARN_SYSTEM, in->label, "reading failed before");
    if (in->ended)
        return 0;
    ssize_t got;
    do
        got = read(in->fd, to, size);
    while (got < 0 && errno == EINTR);
    if (got < 0) {
        in->failed = true;
        return carn_fail_at(err, CARN_SYSTEM, in->label, "cannot read: %s", strerror(errno));
    }
    in->ended = got == 0;
    in->started = in->started || got > 0;
    return (long)got;
}

/* Fills the empty block: 1 when there is something, 0 at the end, -1 with a message. */
static int fill(struct carn_in *in, struct carn_error *err)
{
    long got = read_some(in, in->block, sizeof in->block, err);
    if (got <= 0)
        return (int)got;
    in->at = 0;
    in->end = (size_t)got;
    return 1;
}

long carn_in_read(struct carn_in *in, void *to, size_t size, struct carn_error *err)
{
    unsigned char *p = to;
    size_t done = 0;
    while (done < size) {
        if (in->at == in->end) {
            int more = fill(in, err);
            if (more < 0)
                return -1;
            if (more == 0)
                break;
        }
        size_t part = in->end - in->at < size - done ? in->end - in->at : size - done;
        memcpy(p + done, in->block + in->at, part);
        in->at += part;
        done += part;
    }
    return (long)done;
}

int carn_in_peek(struct carn_in *in, struct carn_error *err)
{
    if (in->at == in->end) {
        int more = fill(in, err);
        if (more <= 0)
            return more < 0 ? -2 : -1;
    }
    return in->block[in->at];
}

int carn_in_byte(struct carn_in *in, struct carn_error *err)
{
    int c = carn_in_peek(in, err);
    if (c >= 0)
        in->at++;
    return c;
}

void *carn_read_file(const char *path, size_t limit, size_t *size, struct carn_error *err)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        carn_fail_at(err, CARN_SYSTEM, path, "cannot open: %s", strerror(errno));
        return NULL;
    }
    unsigned char *bytes = NULL;
    size_t used = 0, room = 1 << 20;
    for (; room <= limit; room *= 2) {
        unsigned char *grown = carn_grow(bytes, room, 1, err);
        if (grown == NULL)
            break;
        bytes = grown;
        used += fread(bytes + used, 1, room - used, file);
        if (used < room)
            break;
    }
    if (room > limit)
        carn_fail_at(err, CARN_LIMIT, path, "more than %zu bytes", limit);
    else if (ferror(file))
        carn_fail_at(err, CARN_SYSTEM, path, "cannot read: %s", strerror(errno));
    fclose(file);
    *size = used;
    if (err->kind == CARN_NONE)
        return bytes;
    free(bytes);
    return NULL;
}

struct carn_out *carn_out_open(int fd, const char *label, struct carn_error *err)
{
    if (isatty(fd)) {
        carn_fail_at(err, CARN_USAGE, label, "is a terminal; pictures go into a pipe or a file");
        return NULL;
    }
    struct carn_out *out = new_stream(sizeof *out, offsetof(struct carn_out, block), err);
    if (out == NULL)
        return NULL;
    out->fd = fd;
    out->label = label;
    widen_pipe(fd);
    return out;
}

static int flush(struct carn_out *out, struct carn_error *err)
{
    for (size_t done = 0; done < out->used;) {
        ssize_t put = write(out->fd, out->block + done, out->used - done);
        if (put < 0 && errno == EINTR)
            continue;
        if (put < 0) {
            out->failed = true;
            return carn_fail_at(err, CARN_SYSTEM, out->label, "cannot write: %s", strerror(errno));
        }
        done += (size_t)put;
    }
    out->used = 0;
    return 0;
}

int carn_out_write(struct carn_out *out, const void *from, size_t size, struct carn_error *err)
{
    const unsigned char *p = from;
    if (out->failed)
        return carn_fail_at(err, CARN_SYSTEM, out->label, "writing failed before");
    while (size > 0) {
        if (out->used == sizeof out->block && flush(out, err) != 0)
            return -1;
        size_t room = sizeof out->block - out->used;
        size_t part = room < size ? room : size;
        memcpy(out->block + out->used, p, part);
        out->used += part;
        p += part;
        size -= part;
    }
    return 0;
}

int carn_out_finish(struct carn_out *out, struct carn_error *err)
{
    if (out->failed)
        return carn_fail_at(err, CARN_SYSTEM, out->label, "writing failed before");
    if (flush(out, err) != 0)
        return -1;
    if (close(out->fd) != 0) {
        out->failed = true;
        return carn_fail_at(err, CARN_SYSTEM, out->label, "cannot write: %s", strerror(errno));
    }
    return 0;
}

void carn_out_close(struct carn_out *out)
{
    free(out);
}
