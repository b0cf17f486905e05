/*
 * window: means around each sample of a plane given and taken a row at a time.
 *
 * The window is a box of 2 reach + 1 samples a side, twice over, which falls off like a tent; at
 * an edge only what is inside counts. Time a sample does not depend on the reach.
 *
 * Held in memory: two times 2 reach + 1 rows.
 */
#ifndef CARN_WINDOW_H
#define CARN_WINDOW_H

#include "base/error.h"

#include <stddef.h>
#include <stdint.h>

struct carn_window;

/* NULL with a message when memory is out. reach is at most 1000. */
struct carn_window *carn_window_open(size_t reach, size_t width, size_t height, size_t channels,
                                     struct carn_error *err);
void carn_window_close(struct carn_window *window);

/* Takes the next row, width * channels samples; exactly height rows in all. Between two rows,
 * carn_window_pull has to be called until it gives NULL. */
void carn_window_push(struct carn_window *window, const uint16_t *row);

/* The next row of means, good until the next call; NULL when more rows have to be pushed first, or
 * when all were given. */
const uint16_t *carn_window_pull(struct carn_window *window);

#endif
