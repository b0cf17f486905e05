#include "report/locus.h"

#include "base/tool.h"
#include "correct/aim_colour.h"
#include "correct/aim_table.h"

#include <unistd.h>

int carn_locus_find(const struct carn_shown *shown, struct carn_locus *locus,
                    struct carn_error *err)
{
    struct carn_error unknown = {0};
    char path[4200];
    const char *name = shown->aim[0] != '\0' ? shown->aim : "common", *said = shown->separation;
    *locus = (struct carn_locus){0};
    const char *file =
        carn_tool_separation(said[0] != '\0' ? said : NULL, path, sizeof path, &unknown);
    struct carn_separation *separation =
        file != NULL && carn_aim_open(name, access("aims.tsv", R_OK) == 0 ? "aims.tsv" : NULL,
                                      &locus->aim, &unknown) == 0
            ? carn_separation_open(file, shown->black_point, &unknown)
            : NULL;
    for (int L = CARN_LOCUS_FROM; separation != NULL && L <= CARN_LOCUS_TO; L += CARN_LOCUS_STEP) {
        struct carn_error none = {0};
        /* The start of the search: about where photographs show skin (docs/skin.tsv). */
        struct carn_lab colour = {L, 20, 25};
        if (carn_aim_colour(&locus->aim, separation, CARN_TONE_MIDDLE, colour, &colour, NULL,
                            &none) == 0)
            locus->at[locus->count++] = colour;
        if (carn_is_machine(&none))
            carn_fail_from(err, &none, NULL);
    }
    carn_separation_close(separation);
    if (carn_is_machine(&unknown))
        carn_fail_from(err, &unknown, NULL);
    return err->kind == CARN_NONE ? 0 : -1;
}
