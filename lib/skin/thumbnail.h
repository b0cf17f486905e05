/*
 * thumbnail: a whole picture, small and upright, as planes of numbers, for finding things in it.
 *
 * Frames are averaged down on the way so that the longer side has at most CARN_THUMBNAIL_SIDE
 * pixels: what is held does not depend on the frame, 20 MB at most. Positions are pixels of the
 * small upright picture (orientation applied).
 */
#ifndef CARN_THUMBNAIL_H
#define CARN_THUMBNAIL_H

#include "base/error.h"
#include "colour/frame_profile.h"
#include "colour/lab_lookup.h"
#include "frame/frame.h"
#include "frame/stream.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CARN_THUMBNAIL_SIDE = 512 };

/* Samples up to LOW and from HIGH on count as clipped. */
enum { CARN_THUMBNAIL_LOW = 300, CARN_THUMBNAIL_HIGH = 65000 };

struct carn_thumbnail {
    size_t width, height;
    uint16_t *rgb; /* red green blue a pixel, in the encoding of the frame's profile */
    float *L, *a, *b;
    bool *unfit; /* clipped at an end, or not opaque */
    /* For looking for faces and patches; NULL before carn_thumbnail_search. */
    float *skin;   /* 0..1, how far the colour could be skin, a moderate cast allowed for */
    float *edge;   /* steepness of L*, per two pixels, at most 40 */
    double *edges; /* its sum over all pixels above and left of a corner: width + 1 by height + 1 */
};

struct carn_thumbnail_maker;

/* For the RGB frame; it and quick have to stay. NULL with a message. */
struct carn_thumbnail_maker *carn_thumbnail_open(const struct carn_frame *frame,
                                                 const struct carn_lab_lookup *quick,
                                                 struct carn_error *err);
void carn_thumbnail_close(struct carn_thumbnail_maker *maker);

/* Takes the next row as it was read; exactly height of them, then carn_thumbnail_done, whose planes
 * stay the maker's. */
void carn_thumbnail_push(struct carn_thumbnail_maker *maker, const uint16_t *row);
const struct carn_thumbnail *carn_thumbnail_done(struct carn_thumbnail_maker *maker);

/* After carn_thumbnail_done: the planes that only a search needs. NULL with a message. */
const struct carn_thumbnail *carn_thumbnail_search(struct carn_thumbnail_maker *maker,
                                                   struct carn_error *err);

/* All rows of the stream's RGB frame, whose profile last remembers. *maker is closed by the caller,
 * also after trouble. The planes, or NULL with a message. */
const struct carn_thumbnail *carn_thumbnail_read(struct carn_stream *stream,
                                                 struct carn_frame_profile *last,
                                                 struct carn_thumbnail_maker **maker,
                                                 struct carn_error *err);

/* The mean steepness over a rectangle, rounded to pixels and cut at the picture's edges. Returns
 * none where nothing is left. */
double carn_thumbnail_edge(const struct carn_thumbnail *planes, double x0, double y0, double x1,
                           double y1, double none);

#endif
