/* What the targets share. */
#define _GNU_SOURCE /* memfd_create */
#include "fuzz.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

/* Small enough that no input takes long. */
static const struct carn_limits limits = {
    .pixels = 250000, .memory = UINT64_C(64) << 20, .metadata = UINT64_C(2) << 20};

const struct fuzz_target fuzz_targets[] = {
    {"stream", fuzz_stream, fuzz_stream_mutate},
    {"table", fuzz_table, NULL},
    {"patches", fuzz_patches, NULL},
    {"curve", fuzz_curve, NULL},
    {"aims", fuzz_aims, NULL},
    {"readings", fuzz_readings, NULL},
    {"exif", fuzz_exif, NULL},
    {"ifd", fuzz_ifd, NULL},
    {"xmp", fuzz_xmp, NULL},
    {"resources", fuzz_resources, NULL},
    {"png", fuzz_picture, fuzz_png_mutate},
    {"tiff", fuzz_picture, NULL},
    {"jpeg", fuzz_picture, NULL},
    {"pnm", fuzz_picture, NULL},
    {"icc", fuzz_icc, NULL},
    {"plan", fuzz_plan, NULL},
    {0},
};

const struct fuzz_target *fuzz_find(const char *name)
{
    for (const struct fuzz_target *target = fuzz_targets; target->name != NULL; target++)
        if (name != NULL && strcmp(target->name, name) == 0)
            return target;
    fputs("fuzz: no such target; there are:", stderr);
    for (const struct fuzz_target *target = fuzz_targets; target->name != NULL; target++)
        fprintf(stderr, " %s", target->name);
    fputc('\n', stderr);
    exit(2);
}

void fuzz_fail(const char *what)
{
    fprintf(stderr, "fuzz: does not hold: %s\n", what);
    abort();
}

/* ---- files ---- */

int fuzz_fd(int slot, const void *data, size_t size)
{
    static int fds[4] = {-1, -1, -1, -1};
    if (fds[slot] < 0)
        fds[slot] = memfd_create("fuzz", MFD_CLOEXEC);
    fuzz_must(fds[slot] >= 0 && ftruncate(fds[slot], 0) == 0 &&
                  pwrite(fds[slot], data, size, 0) == (ssize_t)size &&
                  lseek(fds[slot], 0, SEEK_SET) == 0,
              "the system makes a file in memory");
    return fds[slot];
}

const char *fuzz_file(int slot, const void *data, size_t size)
{
    static char paths[4][40];
    snprintf(paths[slot], sizeof paths[slot], "/proc/self/fd/%d", fuzz_fd(slot, data, size));
    return paths[slot];
}

static char folder[200];
static pid_t owner;

static void remove_folder(void)
{
    char command[300];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    if (getpid() == owner && system(command) != 0)
        fprintf(stderr, "fuzz: %s: cannot be removed\n", folder);
}

const char *fuzz_folder(void)
{
    if (folder[0] != '\0')
        return folder;
    const char *temporary = getenv("TMPDIR");
    if (temporary == NULL)
        temporary = access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp";
    snprintf(folder, sizeof folder, "%s/fuzz.XXXXXX", temporary);
    fuzz_must(mkdtemp(folder) != NULL, "the system makes a folder");
    owner = getpid();
    atexit(remove_folder);
    return folder;
}

/* ---- pictures ---- */

struct carn_frame fuzz_small_frame(void)
{
    return (struct carn_frame){
        .width = 2, .height = 1, .colours = 3, .maxval = 65535, .rows_left = 1};
}

const char *fuzz_write(const struct carn_frame *frame, const uint16_t *rows, const char *suffix)
{
    static char path[300];
    static const struct carn_encoding how = {.force = true};
    struct carn_error err = {0};
    size_t samples = frame->width * carn_frame_channels(frame);
    uint16_t *zero = calloc(samples, sizeof *zero);
    snprintf(path, sizeof path, "%s/out.%s", fuzz_folder(), suffix);
    struct carn_encoder *encoder = carn_encoder_open(path, &how, frame, &err);
    int rc = encoder == NULL || zero == NULL ? -1 : 0;
    for (size_t y = 0; rc == 0 && y < frame->height; y++)
        rc = carn_encoder_write(encoder, rows != NULL ? rows + y * samples : zero, &err);
    if (rc == 0)
        rc = carn_encoder_finish(encoder, &err);
    carn_encoder_close(encoder);
    free(zero);
    fuzz_must((rc == 0) == (err.kind == CARN_NONE), "a write fails with a message or not at all");
    return rc == 0 ? path : NULL;
}

uint16_t *fuzz_read(const char *path, struct carn_frame *frame)
{
    struct carn_error err = {0};
    uint16_t *rows = NULL;
    struct carn_decoder *decoder = carn_decoder_open(path, &limits, &err);
    int rc = decoder == NULL ? -1 : carn_decoder_next(decoder, frame, &err);
    fuzz_must(rc >= 0 || err.kind != CARN_NONE, "a picture is refused with a message");
    size_t samples = rc == 1 ? frame->width * carn_frame_channels(frame) : 0;
    /* A PNM or PAM frame is held to no limit, since none is held in memory. */
    if (rc == 1 && frame->width <= limits.pixels / frame->height)
        rows = malloc(samples * frame->height * sizeof *rows);
    rc = rows != NULL ? 0 : -1;
    for (size_t y = 0; rc == 0 && y < frame->height; y++)
        rc = carn_decoder_read(decoder, frame, rows + y * samples, &err);
    carn_decoder_close(decoder);
    if (rc == 0)
        return rows;
    free(rows);
    return NULL;
}
