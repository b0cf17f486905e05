#include "frame/lut.h"

#include "frame/alpha.h"
#include "frame/keys.h"
#include <stdbool.h>
#include <string.h>

static void plain_row(const struct carn_lut *lut, size_t width, size_t channels, uint16_t *row)
{
    for (uint16_t *end = row + width * channels; row < end; row += channels) {
        row[0] = lut->entry[0][row[0]];
        row[1] = lut->entry[1][row[1]];
        row[2] = lut->entry[2][row[2]];
    }
}

/* One sample that was multiplied with alpha. */
static uint16_t associated(const uint16_t *table, uint32_t v, uint32_t alpha)
{
    return carn_alpha_multiply(table[carn_alpha_divide(v, alpha)], alpha);
}

static uint16_t mix(uint16_t in, uint16_t out, uint32_t weight)
{
    int64_t step = ((int64_t)out - in) * weight;
    return (uint16_t)(in + (step + (step < 0 ? -32767 : 32767)) / 65535);
}

void carn_lut_row(const struct carn_lut *lut, const struct carn_frame *frame, uint16_t *row)
{
    bool multiplied = carn_frame_associated(frame);
    size_t channels = carn_frame_channels(frame);
    if (!frame->weight && !multiplied) {
        plain_row(lut, frame->width, channels, row);
        return;
    }
    for (size_t x = 0; x < frame->width; x++, row += channels) {
        uint32_t weight = frame->weight ? row[channels - 1] : 65535;
        uint32_t share = multiplied ? row[3] : 65535;
        for (size_t c = 0; c < 3; c++) {
            uint16_t out = share == 65535 ? lut->entry[c][row[c]]
                           : share == 0   ? row[c]
                                          : associated(lut->entry[c], row[c], share);
            row[c] = weight == 65535 ? out : mix(row[c], out, weight);
        }
    }
}
