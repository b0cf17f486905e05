/*
 * settings: what a job's Makefile says, with the defaults of carn-job(5), checked before any frame
 * is read.
 */
#ifndef CARN_SETTINGS_H
#define CARN_SETTINGS_H

#include "base/error.h"

#include <stdbool.h>

enum carn_setting {
    CARN_SET_AIM,
    CARN_SET_BOUND,
    CARN_SET_STRENGTH,
    CARN_SET_CURVE,
    CARN_SET_EQUALISE,
    CARN_SET_SEPARATION,
    CARN_SET_BLACK_POINT,
    CARN_SET_FORMAT,
    CARN_SET_DEPTH,
    CARN_SET_COMPRESSION,
    CARN_SET_QUALITY,
    CARN_SET_PROFILE,
    CARN_SET_LOOK,
    CARN_SET_SKIN,
    CARN_SET_CONFIDENCE,
    CARN_SET_FOLLOW,
    CARN_SETTINGS
};

extern const char *const carn_setting_names[CARN_SETTINGS];

struct carn_settings {
    char *value[CARN_SETTINGS];
    double confidence;     /* 0..1 */
    char separation[4096]; /* the CMYK profile file */
};

/* From lines `NAME VALUE` as the rules print them; one that is missing or empty is the default. -1
 * with a message that begins `Makefile: NAME = VALUE`. aims: the house's table of aims, or NULL. */
int carn_settings_read(const char *path, const char *aims, struct carn_settings *settings,
                       struct carn_error *err);
void carn_settings_clear(struct carn_settings *settings);

bool carn_setting_is(const struct carn_settings *settings, enum carn_setting which,
                     const char *value);

#endif
