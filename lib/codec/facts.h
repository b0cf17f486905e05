/*
 * facts: what a picture's Exif says about how it was taken. The only file that knows libexif.
 *
 * Exif comes from anywhere and may be damaged or hostile: of a block at most 64 KiB are looked at,
 * and what cannot be read is "-", never an error. Rationals and times are put in one form each, so
 * that equal settings are equal texts.
 */
#ifndef CARN_FACTS_H
#define CARN_FACTS_H

#include "base/error.h"

#include <stddef.h>

/* In this order the columns of carn-facts(1). */
enum carn_fact {
    CARN_MAKE,
    CARN_MODEL,
    CARN_SERIAL, /* of the body: two of a model are two cameras */
    CARN_LENS,
    CARN_ISO,
    CARN_SHUTTER,       /* seconds, as 1/125 or 2.5 */
    CARN_APERTURE,      /* f-number */
    CARN_BIAS,          /* exposure compensation, EV */
    CARN_FLASH,         /* fired or no */
    CARN_WHITE_BALANCE, /* auto or manual */
    CARN_TIME,          /* 2026-11-25T19:30:12.25+02:00, as far as known */
    CARN_FACTS
};

extern const char *const carn_fact_names[CARN_FACTS];

/* Each "-" or one line of text in UTF-8 as the camera wrote it, control bytes left out. */
struct carn_facts {
    char text[CARN_FACTS][128];
};

/* block NULL: all "-". -1 with a message only when memory is out. */
int carn_facts_read(const unsigned char *block, size_t size, struct carn_facts *facts,
                    struct carn_error *err);

#endif
