#include "frame/keys.h"

#include "base/text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FULL = 1 << 27 }; /* a side of a picture, as of a frame */

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
    return frame->label != NULL && frame->label[0] != '\0' ? frame->label : "-";
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

static bool is_orientation(const char *value)
{
    return value[0] >= '1' && value[0] <= '8' && value[1] == '\0';
}

unsigned carn_frame_orientation(const struct carn_frame *frame)
{
    const char *value = carn_frame_get(frame, "orientation");
    return value != NULL && is_orientation(value) ? (unsigned)(value[0] - '0') : 1;
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

static bool is_resolution(const struct carn_resolution *r)
{
    return r->x > 0 && r->y > 0 && r->x < 1e9 && r->y < 1e9;
}

/* Ten digits keep every PNG (whole pixels a metre) and every TIFF rational that means something. */
int carn_frame_set_resolution(struct carn_frame *frame, const struct carn_resolution *resolution,
                              struct carn_error *err)
{
    if (!is_resolution(resolution))
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
    char more;
    if (sscanf(text, "%lf %lf %7s %c", &resolution->x, &resolution->y, unit, &more) != 3 ||
        strpbrk(text, "xX") != NULL || !is_resolution(resolution)) /* no 0x40 */
        return false;
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (strcmp(unit, units[i]) == 0) {
            resolution->unit = (enum carn_unit)i;
            return true;
        }
    return false;
}

/* Two whole numbers from 1 with a space between. Cut off at 2^27, which no side of a frame exceeds.
 */
static bool take_full(const char *value, size_t *width, size_t *height)
{
    size_t *sides[] = {width, height};
    for (int i = 0; i < 2; i++) {
        size_t side = 0, digits = strspn(value, "0123456789");
        for (size_t k = 0; k < digits && side <= FULL; k++)
            side = side * 10 + (size_t)(value[k] - '0');
        if (side == 0 || side > FULL || value[digits] != (i == 0 ? ' ' : '\0'))
            return false;
        *sides[i] = side;
        value += digits + 1;
    }
    return true;
}

void carn_frame_full(const struct carn_frame *frame, size_t *width, size_t *height)
{
    const char *value = carn_frame_get(frame, "full");
    if (value != NULL && take_full(value, width, height))
        return;
    *width = frame->width;
    *height = frame->height;
}

/* ---- forms ---- */

static bool is_depth(const struct carn_frame *frame, const char *value)
{
    (void)frame;
    return strcmp(value, "8") == 0 || strcmp(value, "16") == 0;
}

static bool is_alpha(const struct carn_frame *frame, const char *value)
{
    (void)frame;
    return strcmp(value, "straight") == 0 || strcmp(value, "associated") == 0;
}

static bool is_turn(const struct carn_frame *frame, const char *value)
{
    (void)frame;
    return is_orientation(value);
}

static bool has_resolution(const struct carn_frame *frame, const char *value)
{
    struct carn_resolution resolution;
    (void)value;
    return carn_frame_resolution(frame, &resolution);
}

static bool is_full(const struct carn_frame *frame, const char *value)
{
    size_t width, height;
    (void)frame;
    return take_full(value, &width, &height);
}

/* Pairs of numbers, spaces between them escaped or not. */
static bool is_origin(const struct carn_frame *frame, const char *value)
{
    size_t numbers = 0, digits;
    (void)frame;
    while ((digits = strspn(value, "0123456789")) > 0 && digits <= 20) {
        numbers++;
        value += digits;
        if (*value == '\0')
            return numbers % 2 == 0;
        value += strncmp(value, "%20", 3) == 0 ? 3 : *value == ' ';
    }
    return false;
}

int carn_frame_check(const struct carn_frame *frame, const char *where, struct carn_error *err)
{
    static const struct {
        const char *key;
        bool (*good)(const struct carn_frame *frame, const char *value);
        const char *form;
    } forms[] = {
        {"depth", is_depth, "8 or 16"},
        {"alpha", is_alpha, "straight or associated"},
        {"orientation", is_turn, "1 to 8"},
        {"resolution", has_resolution, "two numbers over 0 and inch, cm or none"},
        {"full", is_full, "a width and a height"},
        {"origin", is_origin, "pairs of device and inode"},
    };
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
        const char *value = carn_frame_get(frame, forms[i].key);
        if (value != NULL && !forms[i].good(frame, value))
            return carn_fail_at(err, CARN_INPUT, where, "%s '%.40s' is not %s", forms[i].key, value,
                                forms[i].form);
    }
    return 0;
}
