/*
 * keys: what a frame's header says beside its size (carn-frame(5)), as text and with a type.
 */
#ifndef CARN_KEYS_H
#define CARN_KEYS_H

#include "base/error.h"
#include "frame/frame.h"

#include <stdbool.h>
#include <stddef.h>

/*
 * Keys. get and set take a value as it stands on the stream; get gives NULL for a missing key, and
 * what it gives stays the frame's. set replaces in place or adds at the end; NULL removes.
 * text and set_text decode and encode %HH; blob and set_blob base64. What text and blob give is the
 * caller's to free; NULL when the key is missing or, with a message in err, broken. A decoded text
 * holds no zero byte.
 */
const char *carn_frame_get(const struct carn_frame *frame, const char *key);
int carn_frame_set(struct carn_frame *frame, const char *key, const char *value,
                   struct carn_error *err);
/* Adds a key that the frame does not have; takes over both strings, NULL too, also when it fails.
 */
int carn_frame_add(struct carn_frame *frame, char *key, char *value, struct carn_error *err);

char *carn_frame_text(const struct carn_frame *frame, const char *key, struct carn_error *err);
int carn_frame_set_text(struct carn_frame *frame, const char *key, const char *text,
                        struct carn_error *err);

/* Bytes, one or more: blob fails on a value that holds none, set_blob of none removes the key. */
void *carn_frame_blob(const struct carn_frame *frame, const char *key, size_t *size,
                      struct carn_error *err);
int carn_frame_set_blob(struct carn_frame *frame, const char *key, const void *bytes, size_t size,
                        struct carn_error *err);

/* The frame's name for messages and tables: the name key decoded, or "-" where it
 * is missing or empty. */
const char *carn_frame_name(const struct carn_frame *frame);

/* The source's bits a sample from the depth key, 8 or 16. */
int carn_frame_depth(const struct carn_frame *frame);
int carn_frame_set_depth(struct carn_frame *frame, int depth, struct carn_error *err);

/* Are depth, alpha, orientation, resolution, full and origin of their forms (carn-frame(5))? Else
 * -1 with a message about `where`. carn_frame_next asks, so that no program reads a broken key as
 * another value; the functions below take what is broken as missing. */
int carn_frame_check(const struct carn_frame *frame, const char *where, struct carn_error *err);

/* How to turn the picture upright: 1 to 8 (Exif, tag 274), 1 without the key; set takes 1 to 8 and
 * passes over all else. */
unsigned carn_frame_orientation(const struct carn_frame *frame);
int carn_frame_set_orientation(struct carn_frame *frame, unsigned orientation,
                               struct carn_error *err);

/* Are the colours multiplied by their alpha? Not without alpha. */
bool carn_frame_associated(const struct carn_frame *frame);
int carn_frame_set_alpha(struct carn_frame *frame, bool associated, struct carn_error *err);

/* The stored picture's width and height before it was averaged down: its own without the key. */
void carn_frame_full(const struct carn_frame *frame, size_t *width, size_t *height);

/* Pixels an inch or a centimetre; CARN_UNIT_NONE: only their ratio is known. False without a sound
 * key; set passes over what is no resolution. */
enum carn_unit { CARN_UNIT_NONE, CARN_UNIT_INCH, CARN_UNIT_CM };
struct carn_resolution {
    double x, y;
    enum carn_unit unit;
};
bool carn_frame_resolution(const struct carn_frame *frame, struct carn_resolution *resolution);
int carn_frame_set_resolution(struct carn_frame *frame, const struct carn_resolution *resolution,
                              struct carn_error *err);

#endif
