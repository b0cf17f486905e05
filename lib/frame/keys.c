#include "frame/keys.h"

#include "base/text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- any key ---- */

static struct carn_key *find(const struct carn_frame *frame, const char *key)
{
    for (size_t i = 0; i < frame->key_count; i++)
        if (strcmp(frame->keys[i].key, key) == 0)
            return &frame->keys[i];
    return NULL;
}

const char *carn_frame_get(const struct carn_frame *frame, const char *key)
{
    const struct carn_key *found = find(frame, key);
    return found != NULL ? found->value : NULL;
}

static void remove_key(struct carn_frame *frame, struct carn_key *key)
{
    free(key->key);
    free(key->value);
    size_t after = (size_t)(frame->keys + frame->key_count - (key + 1));
    memmove(key, key + 1, after * sizeof *key);
    frame->key_count--;
}

/* Keeps the decoded name beside the keys, so that messages need no allocation. */
static int relabel(struct carn_frame *frame, const char *key, struct carn_error *err)
{
    if (strcmp(key, "name") != 0)
        return 0;
    free(frame->label);
    frame->label = carn_frame_text(frame, "name", err);
    return frame->label == NULL && carn_frame_get(frame, "name") != NULL ? -1 : 0;
}

int carn_frame_add(struct carn_frame *frame, char *key, char *value, struct carn_error *err)
{
    struct carn_key *keys = key != NULL && value != NULL
                                ? carn_grow(frame->keys, frame->key_count + 1, sizeof *keys, err)
                                : NULL;
    if (keys == NULL) {
        free(key);
        free(value);
        return -1;
    }
    frame->keys = keys;
    keys[frame->key_count++] = (struct carn_key){key, value};
    return relabel(frame, key, err);
}

int carn_frame_set(struct carn_frame *frame, const char *key, const char *value,
                   struct carn_error *err)
{
    struct carn_key *found = find(frame, key);
    if (value == NULL) {
        if (found != NULL)
            remove_key(frame, found);
        return relabel(frame, key, err);
    }
    char *copy = carn_copy(value, err);
    if (copy == NULL)
        return -1;
    if (found == NULL)
        return carn_frame_add(frame, carn_copy(key, err), copy, err);
    free(found->value);
    found->value = copy;
    return relabel(frame, key, err);
}

static bool is_special(const char *at)
{
    unsigned char c = (unsigned char)*at;
    return c < 0x21 || c == 0x7f || c == '%';
}

char *carn_frame_text(const struct carn_frame *frame, const char *key, struct carn_error *err)
{
    const char *value = carn_frame_get(frame, key);
    char *text = value != NULL ? carn_copy(value, err) : NULL;
    if (text != NULL)
        carn_unescape(text);
    return text;
}

int carn_frame_set_text(struct carn_frame *frame, const char *key, const char *text,
                        struct carn_error *err)
{
    char *value = carn_escape(text, is_special, err);
    int rc = value != NULL ? carn_frame_set(frame, key, value, err) : -1;
    free(value);
    return rc;
}

void *carn_frame_blob(const struct carn_frame *frame, const char *key, size_t *size,
                      struct carn_error *err)
{
    const char *value = carn_frame_get(frame, key);
    void *bytes = value != NULL ? carn_unbase64(value, size, err) : NULL;
    if (bytes == NULL || *size > 0)
        return bytes;
    free(bytes);
    carn_fail(err, CARN_INPUT, "no bytes");
    return NULL;
}

int carn_frame_set_blob(struct carn_frame *frame, const char *key, const void *bytes, size_t size,
                        struct carn_error *err)
{
    if (size == 0)
        return carn_frame_set(frame, key, NULL, err);
    char *value = carn_base64(bytes, size, err);
    int rc = value != NULL ? carn_frame_set(frame, key, value, err) : -1;
    free(value);
    return rc;
}

const char *carn_frame_name(const struct carn_frame *frame)
{
    return frame->label != NULL ? frame->label : "-";
}

void carn_frame_clear(struct carn_frame *frame)
{
    while (frame->key_count > 0)
        remove_key(frame, &frame->keys[frame->key_count - 1]);
    free(frame->keys);
    free(frame->label);
    memset(frame, 0, sizeof *frame);
}

int carn_frame_copy(struct carn_frame *frame, const struct carn_frame *from, struct carn_error *err)
{
    carn_frame_clear(frame);
    *frame = *from;
    frame->keys = NULL;
    frame->key_count = 0;
    frame->label = NULL;
    for (size_t i = 0; i < from->key_count; i++)
        if (carn_frame_add(frame, carn_copy(from->keys[i].key, err),
                           carn_copy(from->keys[i].value, err), err) != 0)
            return -1;
    return 0;
}

/* ---- keys with a type ---- */

int carn_frame_depth(const struct carn_frame *frame)
{
    const char *depth = carn_frame_get(frame, "depth");
    if (depth == NULL)
        return frame->maxval > 0 && frame->maxval <= 255 ? 8 : 16;
    return strcmp(depth, "8") == 0 ? 8 : 16;
}

int carn_frame_set_depth(struct carn_frame *frame, int depth, struct carn_error *err)
{
    return carn_frame_set(frame, "depth", depth > 8 ? "16" : "8", err);
}

int carn_frame_set_orientation(struct carn_frame *frame, unsigned orientation,
                               struct carn_error *err)
{
    char text[2] = {(char)('0' + orientation), '\0'};
    if (orientation < 1 || orientation > 8)
        return 0;
    return carn_frame_set(frame, "orientation", text, err);
}

/* 1 to 8; 1 without the key, 0 for a broken one. */
static unsigned parse_orientation(const struct carn_frame *frame)
{
    const char *value = carn_frame_get(frame, "orientation");
    if (value == NULL)
        return 1;
    return value[0] >= '1' && value[0] <= '8' && value[1] == '\0' ? (unsigned)(value[0] - '0') : 0;
}

unsigned carn_frame_orientation(const struct carn_frame *frame)
{
    unsigned orientation = parse_orientation(frame);
    return orientation != 0 ? orientation : 1;
}

int carn_frame_check_orientation(const struct carn_frame *frame, struct carn_error *err)
{
    if (parse_orientation(frame) != 0)
        return 0;
    return carn_fail_at(err, CARN_INPUT, carn_frame_name(frame),
                        "orientation '%.20s' is not 1 to 8", carn_frame_get(frame, "orientation"));
}

bool carn_frame_associated(const struct carn_frame *frame)
{
    const char *alpha = carn_frame_get(frame, "alpha");
    return frame->alpha && alpha != NULL && strcmp(alpha, "associated") == 0;
}

int carn_frame_set_alpha(struct carn_frame *frame, bool associated, struct carn_error *err)
{
    return carn_frame_set(frame, "alpha", associated ? "associated" : "straight", err);
}

static const char *const units[] = {"none", "inch", "cm"};

/* Ten digits keep every PNG (whole pixels a metre) and every TIFF rational that means something. */
int carn_frame_set_resolution(struct carn_frame *frame, const struct carn_resolution *resolution,
                              struct carn_error *err)
{
    if (!(resolution->x > 0 && resolution->y > 0 && resolution->x < 1e9 && resolution->y < 1e9))
        return 0;
    char text[80];
    snprintf(text, sizeof text, "%.10g %.10g %s", resolution->x, resolution->y,
             units[resolution->unit]);
    return carn_frame_set_text(frame, "resolution", text, err);
}

bool carn_frame_resolution(const struct carn_frame *frame, struct carn_resolution *resolution)
{
    const char *value = carn_frame_get(frame, "resolution");
    char text[80] = "";
    char unit[8] = "";
    /* The only bytes that are escaped in it are its spaces. */
    for (size_t used = 0; value != NULL && *value != '\0' && used < sizeof text - 1; used++) {
        bool space = strncmp(value, "%20", 3) == 0;
        text[used] = space ? ' ' : *value;
        value += space ? 3 : 1;
    }
    if (sscanf(text, "%lf %lf %7s", &resolution->x, &resolution->y, unit) != 3 ||
        !(resolution->x > 0 && resolution->y > 0) || !isfinite(resolution->x) ||
        !isfinite(resolution->y))
        return false;
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (strcmp(unit, units[i]) == 0) {
            resolution->unit = (enum carn_unit)i;
            return true;
        }
    return false;
}
