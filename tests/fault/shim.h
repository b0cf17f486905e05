/*
 * shim: what the driver (sweep.c) and the preloaded shim (shim.c) tell one another.
 */
#ifndef FAULT_SHIM_H
#define FAULT_SHIM_H

#include <stdbool.h>

enum fault_kind {
    FAULT_ALLOC,
    FAULT_READ,
    FAULT_WRITE,
    FAULT_OPEN,
    FAULT_CLOSE,
    FAULT_RENAME,
    FAULT_FSYNC,
    FAULT_KINDS
};

struct fault_count {
    unsigned long seen; /* calls of the kind */
    unsigned ready;     /* the shim has started */
    unsigned struck;    /* the n-th was there and failed */
};

#endif
