/*
 * resources: IPTC inside image resource blocks ("8BIM"), the form in which JPEG files and PNG texts
 * hold it. Other resources are not carried.
 */
#ifndef CARN_RESOURCES_H
#define CARN_RESOURCES_H

#include "base/error.h"

#include <stddef.h>

/* The IPTC bytes among the blocks; NULL when there are none. They point into blocks. */
const unsigned char *carn_resources_iptc(const unsigned char *blocks, size_t size,
                                         size_t *iptc_size);

/* The length of IPTC bytes without the zeroes that TIFF fills them up with (IPTC-NAA Information
 * Interchange Model: data sets begin with 0x1c). */
size_t carn_iptc_length(const unsigned char *iptc, size_t size);

/* IPTC bytes as one block, which the caller frees. */
unsigned char *carn_resources_block(const void *iptc, size_t size, size_t *block_size,
                                    struct carn_error *err);

#endif
