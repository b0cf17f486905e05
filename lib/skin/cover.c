#include "skin/cover.h"

#include "frame/frame.h"
#include "skin/face_skin.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Writes own skin as a bitmap (PBM). cover: width * height of enum carn_cover. */
static int write_cover(struct carn_out *out, size_t width, size_t height,
                       const unsigned char *cover, struct carn_error *err)
{
    char head[64];
    int size = snprintf(head, sizeof head, "P4\n%zu %zu\n", width, height);
    size_t bytes = (width + 7) / 8;
    unsigned char *row = carn_alloc(bytes, 1, err);
    int rc = row != NULL ? carn_out_write(out, head, (size_t)size, err) : -1;
    for (size_t y = 0; rc == 0 && y < height; y++) {
        memset(row, 0, bytes);
        for (size_t x = 0; x < width; x++)
            if (cover[y * width + x] == CARN_OWN_SKIN)
                row[x / 8] |= (unsigned char)(0x80 >> x % 8);
        rc = carn_out_write(out, row, bytes, err);
    }
    free(row);
    return rc;
}

/* Reads the next bitmap into cover, as own skin or no skin. */
static int read_cover(struct carn_in *in, size_t width, size_t height, unsigned char *cover,
                      struct carn_error *err)
{
    struct carn_frame frame = {0};
    const char *label = carn_in_label(in);
    int got = carn_frame_next(in, &frame, 0, err), rc = got == 1 ? 0 : -1;
    if (got == 0)
        carn_fail_at(err, CARN_INPUT, label, "has fewer bitmaps than there are faces");
    if (rc == 0 && (!frame.bitmap || frame.width != width || frame.height != height))
        rc = carn_fail_at(err, CARN_INPUT, label, "no bitmap of %zu x %zu, as the picture asks",
                          width, height);
    uint16_t *row = rc == 0 ? carn_alloc(width, sizeof *row, err) : NULL;
    for (size_t y = 0; row != NULL && rc == 0 && y < height; y++) {
        rc = carn_frame_read(in, &frame, row, err);
        for (size_t x = 0; rc == 0 && x < width; x++)
            cover[y * width + x] = row[x] == 0 ? CARN_OWN_SKIN : CARN_NO_SKIN;
    }
    free(row);
    carn_frame_clear(&frame);
    return row != NULL ? rc : -1;
}

int carn_cover_tones(struct carn_covers *covers, const struct carn_thumbnail *planes,
                     const struct carn_outline *outline, struct carn_face_tones *tones,
                     struct carn_error *err)
{
    size_t width = planes->width, height = planes->height;
    unsigned char *cover = carn_alloc(width * height, 1, err);
    int rc = cover != NULL ? 0 : -1;
    if (rc == 0 && covers->known != NULL) {
        rc = read_cover(covers->known, width, height, cover, err);
        if (rc == 0)
            rc = carn_face_tones_again(planes, outline, cover, tones, err);
    } else if (rc == 0) {
        rc = carn_face_tones(planes, outline, tones, cover, err);
    }
    if (rc == 0 && covers->known == NULL && tones->pixels == 0)
        memset(cover, CARN_NO_SKIN, width * height);
    if (rc == 0 && covers->found != NULL)
        rc = write_cover(covers->found, width, height, cover, err);
    free(cover);
    return rc;
}
