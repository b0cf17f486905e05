#include "base/match.h"
#include "base/tone.h"
#include "report/sheet_own.h"
#include "report/swatch.h"

#include <stdio.h>
#include <string.h>

/* One a patch: the middle of a face, or the patch as it is. */
static bool is_main(const struct carn_reading *r, const char *frame)
{
    enum carn_tone tone = carn_tone_of_face(r->tone);
    return carn_tone_is_skin(r->tone) && (tone == CARN_TONE_MIDDLE || tone == CARN_UNTONED) &&
           carn_table_serves(r->frame, frame) > 0;
}

/* The colours of a patch in the tables' order, and the aim of the last. */
static size_t swatches_of(struct carn_sheet *sheet, const char *frame, const char *patch,
                          struct carn_ink inks[CARN_SHEET_TABLES + 1])
{
    size_t count = 0;
    for (size_t t = 0; t < sheet->ask.table_count; t++)
        for (size_t i = 0; i < sheet->ask.tables[t].count; i++) {
            const struct carn_reading *r = &sheet->ask.tables[t].rows[i];
            if (!is_main(r, frame) || strcmp(r->patch, patch) != 0)
                continue;
            count += carn_swatch(sheet->srgb, r->lab, inks[count].rgb) ? 1 : 0;
            const struct carn_lab aim = {carn_table_value(sheet->ask.tables[t].table, i, "aim_L"),
                                         carn_table_value(sheet->ask.tables[t].table, i, "aim_a"),
                                         carn_table_value(sheet->ask.tables[t].table, i, "aim_b")};
            if (t + 1 == sheet->ask.table_count)
                count += carn_swatch(sheet->srgb, aim, inks[count].rgb) ? 1 : 0;
            break;
        }
    return count;
}

/* Side by side without a gap, as colours are compared; and who it is, with the verdict. */
void sheet_readings(struct carn_sheet *sheet, const char *frame, struct carn_canvas *cell)
{
    const struct carn_readings *last = &sheet->ask.tables[sheet->ask.table_count - 1];
    const long top = (long)sheet->high;
    int verdict = carn_table_find(last->table, "verdict");
    char words[400] = "";
    size_t people = 0, person = 0, used = 0;
    for (size_t i = 0; i < last->count; i++)
        people += is_main(&last->rows[i], frame) ? 1 : 0;
    for (size_t i = 0; i < last->count; i++) {
        struct carn_ink inks[CARN_SHEET_TABLES + 1];
        if (people == 0 || !is_main(&last->rows[i], frame))
            continue;
        size_t count = swatches_of(sheet, frame, last->rows[i].patch, inks);
        size_t x = sheet->ask.width * person / people, end = sheet->ask.width * ++person / people;
        size_t gap = person < people ? 4 * sheet->scale : 0;
        for (size_t k = 0; k < count; k++) {
            size_t from = x + (end - gap - x) * k / count,
                   to = x + (end - gap - x) * (k + 1) / count;
            carn_canvas_fill(cell, (long)from, top + (long)(4 * sheet->scale), to - from,
                             SHEET_SWATCH * sheet->scale, inks[k]);
        }
        if (used < sizeof words - 1)
            used += (size_t)snprintf(words + used, sizeof words - used, "%s%s%s%s",
                                     used > 0 ? ", " : "", last->rows[i].subject,
                                     verdict >= 0 ? " " : "",
                                     verdict >= 0 ? carn_table_cell(last->table, i, verdict) : "");
    }
    carn_canvas_text(
        cell, sheet->letters, 0, top + (long)((4 + SHEET_SWATCH + 2 + SHEET_LINE) * sheet->scale),
        sheet->ask.width, sheet->scale, people > 0 ? words : "not measured", sheet_letters);
}
