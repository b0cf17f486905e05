#include "correct/serving.h"

#include "base/match.h"

#include <math.h>
#include <string.h>

/* One of enum carn_serves; above CARN_SERVES_FRAME where the frame's name is told more closely. */
static int rank(const struct carn_reading *reading, const char *frame, const char *subject)
{
    if (!carn_reading_is_skin(reading) || carn_chroma(reading->lab) < 1)
        return CARN_SERVES_NONE;
    int same = carn_table_serves(reading->frame, frame);
    if (same > 0)
        return CARN_SERVES_FRAME - 1 + same;
    bool own = strcmp(subject, "-") != 0 && strcmp(subject, reading->subject) == 0;
    return own ? CARN_SERVES_SUBJECT : CARN_SERVES_ANYBODY;
}

size_t carn_readings_serving(const struct carn_readings *readings, const char *frame,
                             const char *subject, size_t *rows, enum carn_serves *how)
{
    int best = CARN_SERVES_NONE;
    for (size_t i = 0; i < readings->count; i++) {
        int own = rank(&readings->rows[i], frame, subject);
        best = own > best ? own : best;
    }
    *how = best > CARN_SERVES_FRAME ? CARN_SERVES_FRAME : (enum carn_serves)best;
    if (best == CARN_SERVES_NONE)
        return 0;
    size_t count = 0, sound = 0;
    for (size_t i = 0; i < readings->count; i++)
        if (rank(&readings->rows[i], frame, subject) == best) {
            rows[count++] = i;
            sound += (readings->rows[i].flags & CARN_DOUBTS) == 0;
        }
    if (sound == 0)
        return count;
    size_t kept = 0;
    for (size_t i = 0; i < count; i++)
        if ((readings->rows[rows[i]].flags & CARN_DOUBTS) == 0)
            rows[kept++] = rows[i];
    return kept;
}

const struct carn_reading *carn_readings_tone(const struct carn_readings *readings,
                                              const struct carn_reading *of, enum carn_tone tone)
{
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        if (strcmp(r->frame, of->frame) == 0 && strcmp(r->patch, of->patch) == 0 &&
            carn_tone_of(r->tone) == tone && !isnan(r->hue_spread) && carn_chroma(r->lab) >= 1)
            return r;
    }
    return NULL;
}
