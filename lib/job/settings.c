#include "job/settings.h"

#include "base/io.h"
#include "base/tool.h"
#include "colour/profile.h"
#include "colour/separation.h"
#include "colour/space.h"
#include "correct/aim_table.h"
#include "correct/curve.h"
#include "job/files.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { PROFILE_LIMIT = 16 * 1024 * 1024 };

const char *const carn_setting_names[CARN_SETTINGS] = {
    "AIM",         "BOUND",  "STRENGTH",   "CURVE",       "EQUALISE", "SEPARATION",
    "BLACK_POINT", "FORMAT", "DEPTH",      "COMPRESSION", "QUALITY",  "PROFILE",
    "LOOK",        "SKIN",   "CONFIDENCE", "FOLLOW",
};

/* The default, and the words that may stand there; none: something else is to be checked. */
static const struct {
    const char *preset, *words;
} known[CARN_SETTINGS] = {
    [CARN_SET_AIM] = {"common", NULL},
    [CARN_SET_BOUND] = {"default", "default none"},
    [CARN_SET_STRENGTH] = {"1", NULL},
    [CARN_SET_CURVE] = {"group", "group frame"},
    [CARN_SET_EQUALISE] = {"no", "no yes"},
    [CARN_SET_SEPARATION] = {"default", NULL},
    [CARN_SET_BLACK_POINT] = {"yes", "yes no"},
    [CARN_SET_FORMAT] = {"same", "same tif png jpg pnm pam"},
    [CARN_SET_DEPTH] = {"same", "same 8 16"},
    [CARN_SET_COMPRESSION] = {"same", "same none lzw deflate packbits zstd"},
    [CARN_SET_QUALITY] = {"same", NULL},
    [CARN_SET_PROFILE] = {"same", NULL},
    [CARN_SET_LOOK] = {"none", NULL},
    [CARN_SET_SKIN] = {"yes", "yes no"},
    [CARN_SET_CONFIDENCE] = {"0.5", NULL},
    [CARN_SET_FOLLOW] = {"none", NULL},
};

bool carn_setting_is(const struct carn_settings *settings, enum carn_setting which,
                     const char *value)
{
    return strcmp(settings->value[which], value) == 0;
}

static int refuse(const struct carn_settings *settings, enum carn_setting which, const char *why,
                  struct carn_error *err)
{
    return carn_fail(err, CARN_USAGE, "Makefile: %s = %s: %s", carn_setting_names[which],
                     settings->value[which], why);
}

static int refuse_for(const struct carn_settings *settings, enum carn_setting which,
                      const struct carn_error *cause, struct carn_error *err)
{
    char line[2100];
    carn_error_line(cause, line, sizeof line);
    return refuse(settings, which, line, err);
}

static bool one_of(const char *value, const char *words)
{
    size_t n = strlen(value);
    for (const char *at = words; n > 0 && (at = strstr(at, value)) != NULL; at++)
        if ((at == words || at[-1] == ' ') && (at[n] == ' ' || at[n] == '\0'))
            return true;
    return false;
}

static int check_words(const struct carn_settings *settings, struct carn_error *err)
{
    char why[128];
    for (int i = 0; i < CARN_SETTINGS; i++) {
        if (known[i].words == NULL || one_of(settings->value[i], known[i].words))
            continue;
        snprintf(why, sizeof why, "one of %s", known[i].words);
        return refuse(settings, (enum carn_setting)i, why, err);
    }
    return 0;
}

/* A number of least..most; open: least itself is not in. */
static int check_number(const struct carn_settings *settings, enum carn_setting which, double least,
                        double most, bool open, double *value, const char *why,
                        struct carn_error *err)
{
    struct carn_error ignored = {0};
    const char *text = settings->value[which];
    double v = 0;
    if (strspn(text, "0123456789.") != strlen(text) || carn_number(text, "", &v, &ignored) != 0 ||
        v < least || v > most || (open && v <= least))
        return refuse(settings, which, why, err);
    *value = v;
    return 0;
}

static bool is_plain_file(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 && S_ISREG(st.st_mode);
}

/* A name of carn-to-profile(1), else the file of an RGB profile. */
static int check_profile(const char *name, struct carn_error *err)
{
    size_t size = 0;
    void *bytes = carn_space_profile(name, &size, err);
    if (bytes == NULL && err->kind == CARN_NONE && is_plain_file(name))
        bytes = carn_read_file(name, PROFILE_LIMIT, &size, err);
    if (bytes == NULL)
        return carn_fail(err, CARN_USAGE, "no such file, and none of %s", carn_space_names());
    struct carn_profile *profile = carn_profile_open(bytes, size, 3, err);
    free(bytes);
    carn_profile_close(profile);
    return profile != NULL ? 0 : -1;
}

static int check_files(struct carn_settings *settings, struct carn_error *err)
{
    struct carn_error why = {0};
    const char *separation = settings->value[CARN_SET_SEPARATION];
    char path[4096];
    const char *file = carn_tool_separation(strcmp(separation, "default") == 0 ? NULL : separation,
                                            path, sizeof path, err);
    if (file == NULL)
        return -1;
    if (!is_plain_file(file))
        return refuse(settings, CARN_SET_SEPARATION, "no such file", err);
    struct carn_separation *opened = carn_separation_open(file, true, &why);
    if (opened == NULL)
        return refuse_for(settings, CARN_SET_SEPARATION, &why, err);
    carn_separation_close(opened);
    if (snprintf(settings->separation, sizeof settings->separation, "%s", file) >=
        (int)sizeof settings->separation)
        return refuse(settings, CARN_SET_SEPARATION, "the name is too long", err);
    if (!carn_setting_is(settings, CARN_SET_LOOK, "none")) {
        struct carn_curve curve = {0};
        const char *look = settings->value[CARN_SET_LOOK];
        if (!is_plain_file(look))
            return refuse(settings, CARN_SET_LOOK, "no such file", err);
        if (carn_curve_read(look, &curve, &why) != 0)
            return refuse_for(settings, CARN_SET_LOOK, &why, err);
        carn_curve_clear(&curve);
    }
    if (!carn_setting_is(settings, CARN_SET_PROFILE, "same")) {
        if (check_profile(settings->value[CARN_SET_PROFILE], &why) != 0)
            return refuse_for(settings, CARN_SET_PROFILE, &why, err);
    }
    return 0;
}

static int check(struct carn_settings *settings, const char *aims, struct carn_error *err)
{
    struct carn_error why = {0};
    struct carn_aim aim;
    double value;
    if (check_words(settings, err) != 0 ||
        check_number(settings, CARN_SET_STRENGTH, 0, 1, true, &value, "a number over 0 and up to 1",
                     err) != 0 ||
        check_number(settings, CARN_SET_CONFIDENCE, 0, 1, false, &settings->confidence,
                     "a number from 0 to 1", err) != 0)
        return -1;
    const char *quality = settings->value[CARN_SET_QUALITY];
    if (strcmp(quality, "same") != 0 && (strspn(quality, "0123456789") != strlen(quality) ||
                                         check_number(settings, CARN_SET_QUALITY, 1, 100, false,
                                                      &value, "1 to 100, or same", err) != 0))
        return refuse(settings, CARN_SET_QUALITY, "1 to 100, or same", err);
    if (carn_aim_open(settings->value[CARN_SET_AIM], aims, &aim, &why) != 0)
        return refuse_for(settings, CARN_SET_AIM, &why, err);
    return check_files(settings, err);
}

static int take_line(struct carn_settings *settings, const char *line, struct carn_error *err)
{
    size_t n = strcspn(line, " ");
    for (int i = 0; i < CARN_SETTINGS; i++) {
        if (strlen(carn_setting_names[i]) != n || strncmp(carn_setting_names[i], line, n) != 0)
            continue;
        const char *value = line[n] == ' ' ? line + n + 1 : "";
        free(settings->value[i]);
        settings->value[i] = carn_copy(value[0] != '\0' ? value : known[i].preset, err);
        return settings->value[i] != NULL ? 0 : -1;
    }
    return 0;
}

int carn_settings_read(const char *path, const char *aims, struct carn_settings *settings,
                       struct carn_error *err)
{
    *settings = (struct carn_settings){0};
    char *text = carn_text(path, err);
    if (text == NULL)
        return carn_fail(err, CARN_USAGE, "%s: no such file", path);
    int rc = 0;
    for (char *line = text; rc == 0 && *line != '\0';) {
        char *end = line + strcspn(line, "\n");
        bool last = *end == '\0';
        *end = '\0';
        rc = take_line(settings, line, err);
        line = last ? end : end + 1;
    }
    free(text);
    for (int i = 0; rc == 0 && i < CARN_SETTINGS; i++)
        if (settings->value[i] == NULL)
            rc = take_line(settings, carn_setting_names[i], err);
    if (rc == 0)
        rc = check(settings, aims, err);
    if (rc != 0)
        carn_settings_clear(settings);
    return rc;
}

void carn_settings_clear(struct carn_settings *settings)
{
    for (int i = 0; i < CARN_SETTINGS; i++)
        free(settings->value[i]);
    *settings = (struct carn_settings){0};
}
