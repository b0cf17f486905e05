/*
 * pool: the median of many readings, which a few bad ones hardly change.
 */
#ifndef CARN_POOL_H
#define CARN_POOL_H

#include "base/error.h"
#include "colour/lab.h"
#include "correct/reading.h"

#include <stdbool.h>
#include <stddef.h>

/* The median L*, a*, b* of the rows whose pick is true; *count of them, lab untouched for none. */
int carn_pool(const struct carn_readings *readings, const bool *pick, struct carn_lab *lab,
              size_t *count, struct carn_error *err);

#endif
