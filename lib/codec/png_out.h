/* png_out: the writing half of carn_format_png. */
#ifndef CARN_PNG_OUT_H
#define CARN_PNG_OUT_H

#include "codec/format.h"

void *carn_png_write_open(struct carn_sink *sink, struct carn_error *err);
int carn_png_write_row(void *state, const void *row, struct carn_error *err);
int carn_png_write_end(void *state, struct carn_error *err);
void carn_png_write_close(void *state);

#endif
