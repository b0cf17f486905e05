/*
 * fuzz: what reads bytes from outside, as targets of libFuzzer (make fuzz) and to run again on kept
 * inputs (tests/fuzz.sh). A target also checks what must hold of what was read: what is written
 * again reads the same.
 */
#ifndef FUZZ_H
#define FUZZ_H

#include "codec/codec.h"
#include "frame/frame.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* mutate: as LLVMFuzzerCustomMutator; NULL: libFuzzer's own. */
struct fuzz_target {
    const char *name;
    void (*run)(const uint8_t *data, size_t size);
    size_t (*mutate)(uint8_t *data, size_t size, size_t room, unsigned seed);
};

extern const struct fuzz_target fuzz_targets[]; /* ends with a NULL name */
const struct fuzz_target *fuzz_find(const char *name);

void fuzz_stream(const uint8_t *data, size_t size);
size_t fuzz_stream_mutate(uint8_t *data, size_t size, size_t room, unsigned seed);
void fuzz_table(const uint8_t *data, size_t size);
void fuzz_patches(const uint8_t *data, size_t size);
void fuzz_curve(const uint8_t *data, size_t size);
void fuzz_aims(const uint8_t *data, size_t size);
void fuzz_readings(const uint8_t *data, size_t size);
void fuzz_exif(const uint8_t *data, size_t size);
void fuzz_ifd(const uint8_t *data, size_t size);
void fuzz_xmp(const uint8_t *data, size_t size);
void fuzz_resources(const uint8_t *data, size_t size);
void fuzz_picture(const uint8_t *data, size_t size);
size_t fuzz_png_mutate(uint8_t *data, size_t size, size_t room, unsigned seed);
void fuzz_icc(const uint8_t *data, size_t size);
void fuzz_plan(const uint8_t *data, size_t size);

/* libFuzzer's; replay.c has one that changes nothing. */
size_t LLVMFuzzerMutate(uint8_t *data, size_t size, size_t room);

/* Ends the process with a message: the finding. */
_Noreturn void fuzz_fail(const char *what);

static inline void fuzz_must(bool holds, const char *what)
{
    if (!holds)
        fuzz_fail(what);
}

/* A file of these bytes, in memory: its descriptor, at its beginning, or its path. One for each
 * slot, 0 to 3, and the same each time. */
int fuzz_fd(int slot, const void *data, size_t size);
const char *fuzz_file(int slot, const void *data, size_t size);

/* A folder of this process that goes away with it, in /dev/shm or $TMPDIR. */
const char *fuzz_folder(void);

/* A frame of 2 x 1 pixels. */
struct carn_frame fuzz_small_frame(void);

/* Writes the frame as a file of this suffix, each row as given (NULL: all zero), and gives its
 * path; NULL when it was refused. */
const char *fuzz_write(const struct carn_frame *frame, const uint16_t *rows, const char *suffix);

/* Reads the first picture of a file. rows is the caller's to free; NULL when it was refused. */
uint16_t *fuzz_read(const char *path, struct carn_frame *frame);

#endif
