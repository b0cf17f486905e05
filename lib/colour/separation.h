/*
 * separation: the inks that print a colour, from a CMYK profile (ICC.1).
 *
 * In floating point, relative colorimetric, without lcms2's optimised tables, which err by up to
 * 2.4 % of ink.
 */
#ifndef CARN_SEPARATION_H
#define CARN_SEPARATION_H

#include "base/error.h"
#include "colour/lab.h"

#include <stdbool.h>

struct carn_separation;

/* A CMYK profile file. bpc: black-point compensation. */
struct carn_separation *carn_separation_open(const char *path, bool bpc, struct carn_error *err);
void carn_separation_close(struct carn_separation *separation);

/* Keeps this separation open until the process ends: opened by the same path and bpc, it is there
 * at once, in the processes that this one forks too. Nothing where it cannot be opened. */
void carn_separation_keep(const char *path, bool bpc);

/* NAME/relative/bpc|nobpc/first 8 hex digits of the MD5 of the profile file. */
const char *carn_separation_id(const struct carn_separation *separation);

struct carn_inks {
    double cyan, magenta, yellow, black; /* per cent, 0..100 */
};

struct carn_inks carn_separation_inks(const struct carn_separation *separation,
                                      struct carn_lab lab);

#endif
