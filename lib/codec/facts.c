#include "codec/facts.h"

#include <libexif/exif-data.h>
#include <libexif/exif-utils.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *const carn_fact_names[CARN_FACTS] = {"make",  "model",         "serial",   "lens",
                                                 "iso",   "shutter",       "aperture", "bias",
                                                 "flash", "white_balance", "time"};

enum { BLOCK_LIMIT = 64 * 1024, MARKER = 6 };

static const struct {
    ExifTag tag;
    ExifIfd ifd;
} places[CARN_FACTS] = {
    [CARN_MAKE] = {EXIF_TAG_MAKE, EXIF_IFD_0},
    [CARN_MODEL] = {EXIF_TAG_MODEL, EXIF_IFD_0},
    [CARN_SERIAL] = {EXIF_TAG_BODY_SERIAL_NUMBER, EXIF_IFD_EXIF},
    [CARN_LENS] = {EXIF_TAG_LENS_MODEL, EXIF_IFD_EXIF},
    [CARN_ISO] = {EXIF_TAG_ISO_SPEED_RATINGS, EXIF_IFD_EXIF},
    [CARN_SHUTTER] = {EXIF_TAG_EXPOSURE_TIME, EXIF_IFD_EXIF},
    [CARN_APERTURE] = {EXIF_TAG_FNUMBER, EXIF_IFD_EXIF},
    [CARN_BIAS] = {EXIF_TAG_EXPOSURE_BIAS_VALUE, EXIF_IFD_EXIF},
    [CARN_FLASH] = {EXIF_TAG_FLASH, EXIF_IFD_EXIF},
    [CARN_WHITE_BALANCE] = {EXIF_TAG_WHITE_BALANCE, EXIF_IFD_EXIF},
    [CARN_TIME] = {EXIF_TAG_DATE_TIME_ORIGINAL, EXIF_IFD_EXIF},
};

/* The text of an ASCII entry; "" when there is none. Some cameras fill up with blanks. */
static void get_text(ExifData *data, ExifIfd ifd, ExifTag tag, char *to, size_t room)
{
    const ExifEntry *entry = exif_content_get_entry(data->ifd[ifd], tag);
    size_t n = 0;
    if (entry != NULL && entry->data != NULL && entry->format == EXIF_FORMAT_ASCII)
        for (size_t i = 0; i < entry->size && entry->data[i] != 0 && n < room - 1; i++)
            if (entry->data[i] >= 0x20 && entry->data[i] != 0x7f)
                to[n++] = (char)entry->data[i];
    while (n > 0 && to[n - 1] == ' ')
        n--;
    to[n] = '\0';
}

/* The first number of an entry; NAN when there is none. */
static double get_number(ExifData *data, ExifIfd ifd, ExifTag tag)
{
    const ExifEntry *entry = exif_content_get_entry(data->ifd[ifd], tag);
    ExifByteOrder order = exif_data_get_byte_order(data);
    if (entry == NULL || entry->data == NULL)
        return (double)NAN;
    if (entry->format == EXIF_FORMAT_SHORT && entry->size >= 2)
        return exif_get_short(entry->data, order);
    if (entry->format == EXIF_FORMAT_LONG && entry->size >= 4)
        return exif_get_long(entry->data, order);
    if (entry->format == EXIF_FORMAT_RATIONAL && entry->size >= 8) {
        ExifRational r = exif_get_rational(entry->data, order);
        return r.denominator != 0 ? (double)r.numerator / r.denominator : (double)NAN;
    }
    if (entry->format == EXIF_FORMAT_SRATIONAL && entry->size >= 8) {
        ExifSRational r = exif_get_srational(entry->data, order);
        return r.denominator != 0 ? (double)r.numerator / r.denominator : (double)NAN;
    }
    return (double)NAN;
}

/* Cameras write the same exposure time as 1/125, 10/1250 or 0.008; here it has one form. */
static void print_shutter(double seconds, char *to, size_t room)
{
    if (seconds > 0 && seconds < 0.29)
        snprintf(to, room, "1/%.0f", 1 / seconds);
    else if (seconds > 0 && seconds < 1e6)
        snprintf(to, room, "%.4g", seconds);
}

/* "2026:11:25 19:30:12" with fraction and zone where they are known. */
static void print_time(ExifData *data, const char *text, char *to, size_t room)
{
    static const char form[] = "dddd:dd:dd dd:dd:dd";
    char fraction[8], zone[8];
    for (size_t i = 0; i < sizeof form - 1; i++) {
        bool digit = text[i] >= '0' && text[i] <= '9';
        if (form[i] == 'd' ? !digit : text[i] != form[i])
            return;
    }
    if (text[sizeof form - 1] != '\0' || strncmp(text, "0000", 4) == 0)
        return;
    get_text(data, EXIF_IFD_EXIF, EXIF_TAG_SUB_SEC_TIME_ORIGINAL, fraction, sizeof fraction);
    get_text(data, EXIF_IFD_EXIF, EXIF_TAG_OFFSET_TIME_ORIGINAL, zone, sizeof zone);
    if (strspn(fraction, "0123456789") != strlen(fraction))
        fraction[0] = '\0';
    if (strlen(zone) != 6 || strspn(zone, "+-0123456789:") != 6)
        zone[0] = '\0';
    snprintf(to, room, "%.4s-%.2s-%.2sT%.8s%s%s%s", text, text + 5, text + 8, text + 11,
             fraction[0] != '\0' ? "." : "", fraction, zone);
}

static void print_fact(ExifData *data, enum carn_fact fact, char *to, size_t room)
{
    char text[128];
    double v = get_number(data, places[fact].ifd, places[fact].tag);
    get_text(data, places[fact].ifd, places[fact].tag, text, sizeof text);
    snprintf(to, room, "-");
    switch (fact) {
    case CARN_ISO:
        if (v > 0)
            snprintf(to, room, "%.0f", v);
        break;
    case CARN_SHUTTER:
        print_shutter(v, to, room);
        break;
    case CARN_APERTURE:
        if (v > 0 && v < 1000)
            snprintf(to, room, "%.3g", v);
        break;
    case CARN_BIAS:
        if (fabs(v) < 100)
            snprintf(to, room, "%.2g", v);
        break;
    case CARN_FLASH:
        if (isfinite(v))
            snprintf(to, room, "%s", ((unsigned)v & 1u) != 0 ? "fired" : "no");
        break;
    case CARN_WHITE_BALANCE:
        if (v >= 0 && v <= 1)
            snprintf(to, room, "%s", v > 0 ? "manual" : "auto");
        break;
    case CARN_TIME:
        print_time(data, text, to, room);
        break;
    default:
        if (text[0] != '\0')
            snprintf(to, room, "%s", text);
    }
}

/* libexif passes over what it has no memory for; here that is noticed. */
static bool short_of_memory;

static void *get(ExifLong size)
{
    void *p = calloc(1, size);
    short_of_memory = short_of_memory || (p == NULL && size > 0);
    return p;
}

static void *resize(void *old, ExifLong size)
{
    void *p = realloc(old, size);
    short_of_memory = short_of_memory || (p == NULL && size > 0);
    return p;
}

static ExifData *new_data(void)
{
    ExifMem *memory = exif_mem_new(get, resize, free);
    ExifData *data = memory != NULL ? exif_data_new_mem(memory) : NULL;
    exif_mem_unref(memory);
    return data;
}

int carn_facts_read(const unsigned char *block, size_t size, struct carn_facts *facts,
                    struct carn_error *err)
{
    for (int i = 0; i < CARN_FACTS; i++)
        snprintf(facts->text[i], sizeof facts->text[i], "-");
    if (block == NULL || size == 0)
        return 0;
    short_of_memory = false;
    if (size > BLOCK_LIMIT - MARKER)
        size = BLOCK_LIMIT - MARKER;
    unsigned char *marked = carn_alloc(size + MARKER, 1, err);
    ExifData *data = marked != NULL ? new_data() : NULL;
    if (data == NULL) {
        free(marked);
        return carn_fail(err, CARN_MEMORY, "out of memory");
    }
    memcpy(marked, "Exif\0\0", MARKER); /* libexif wants the marker of JPEG files in front */
    memcpy(marked + MARKER, block, size);
    exif_data_unset_option(data, EXIF_DATA_OPTION_FOLLOW_SPECIFICATION); /* read, mend nothing */
    exif_data_load_data(data, marked, (unsigned)(size + MARKER));
    for (int i = 0; i < CARN_FACTS; i++)
        print_fact(data, (enum carn_fact)i, facts->text[i], sizeof facts->text[i]);
    exif_data_unref(data);
    free(marked);
    return short_of_memory ? carn_fail(err, CARN_MEMORY, "out of memory") : 0;
}
