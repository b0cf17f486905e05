/*
 * shim: what the preloaded shim (shim.c) and those who set it up tell one another.
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
    FAULT_CALLS, /* the kinds before it: calls that fail */
    FAULT_START = FAULT_CALLS,
    FAULT_MOVE,
    FAULT_FULL,
    FAULT_KINDS
};

static const char *const fault_kinds[FAULT_KINDS] = {"alloc",  "read",  "write", "open", "close",
                                                     "rename", "fsync", "start", "move", "full"};

/* What the file of counts holds. */
struct fault_count {
    unsigned long seen; /* of the kind, by all processes */
    unsigned ready;     /* the shim has started */
    unsigned struck;    /* the n-th was there and failed */
};

#endif
