#include "base/tone.h"
#include "job/guess_own.h"
#include "job/record.h"

#include <string.h>

static const char *const SKIN_ROW = "*<tab>cheek<tab>middle<tab>38%<tab>52%<tab>5%<tab>4%";

static void tell_count(FILE *to, size_t count, const char *one, const char *many)
{
    fprintf(to, "%zu %s", count, count == 1 ? one : many);
}

static size_t count_cameras(const struct carn_guess *guess)
{
    size_t count = 0;
    for (size_t k = 0; k < guess->count; k++) /* ordered by camera */
        if (k == 0 || strcmp(guess->pictures[guess->order[k]].camera,
                             guess->pictures[guess->order[k - 1]].camera) != 0)
            count++;
    return count;
}

void guess_tell_all(struct guess_work *w)
{
    size_t fresh = 0;
    for (size_t i = 0; i < w->guess.count; i++)
        fresh += w->guess.pictures[i].fresh ? 1 : 0;
    fprintf(w->told.to, "%zu new, %zu pictures in all\n", fresh, w->guess.count);
    tell_count(w->told.to, count_cameras(&w->guess), "camera", "cameras");
    fputs("; ", w->told.to);
    tell_count(w->told.to, w->guess.groups, "group", "groups");
    fputs(" of one camera, one setting and one session\n", w->told.to);
}

static bool any_skin(const struct carn_table *patches)
{
    for (size_t i = 0; i < carn_table_rows(patches); i++)
        if (carn_tone_is_skin(carn_table_at(patches, i, "tone")))
            return true;
    return false;
}

void guess_tell_rest(struct guess_work *w, const char *without)
{
    FILE *to = w->told.to;
    size_t nobody = 0, unknown = 0, unreadable = 0;
    fputs("To look at before carn-job:\n", to);
    for (size_t i = 0; i < w->guess.count; i++) {
        const struct carn_guess_picture *p = &w->guess.pictures[i];
        if (!p->readable) {
            fputs(unreadable++ == 0 ? "- cannot be read: " : ", ", to);
            carn_show(to, p->frame);
        }
        nobody += p->fresh && strcmp(p->subject, "-") == 0 ? 1 : 0;
        unknown += p->fresh && strcmp(p->camera, "-") == 0 ? 1 : 0;
    }
    fputs(unreadable > 0 ? "\n" : "", to);
    if (unknown > 0) {
        fputs("- job.tsv: ", to);
        tell_count(to, unknown, "picture", "pictures");
        fputs(" of an unknown camera: write which, and its card\n", to);
    }
    if (nobody > 0) {
        fputs("- job.tsv: ", to);
        tell_count(to, nobody, "picture", "pictures");
        fputs(" without a subject: write who it is, so that one person's pictures share a curve\n",
              to);
    }
    if (w->guess.subjects > 0) {
        fputs("- job.tsv: ", to);
        tell_count(to, w->guess.subjects, "subject", "subjects");
        fprintf(to, "%s, guessed by pauses: write who it is\n", nobody > 0 ? " besides" : "");
    }
    if (without[0] != '\0')
        fprintf(to,
                "- job.tsv: no card for group %s: name the picture that shows it, with a row of "
                "tone card in patches.tsv\n",
                without);
    else
        fputs("- patches.tsv: do the rows of tone card lie on the grey card?\n", to);
    if (!any_skin(w->patches))
        fprintf(to,
                "- patches.tsv: no row of skin: carn-job finds it and shows where in "
                "report/contact.html (carn-job JOB audit, to look first); a row as '%s' wins\n",
                SKIN_ROW);
}
