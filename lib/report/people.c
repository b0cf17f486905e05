/* A strip a person: their face by each camera, one under another, with the colours as swatches. */
#include "base/table.h"
#include "report/section.h"

#include "report/html.h"

#include <math.h>
#include <string.h>

/* People with at most this many frames by a camera stand side by side; others take the page's
 * width. */
enum { FEW = 2 };

static bool is_of(const struct carn_shown_frame *f, const char *person, const char *camera,
                  const struct carn_shown *shown)
{
    if (f->is_card || strcmp(f->camera, camera) != 0)
        return false;
    if (strcmp(f->subject, person) == 0 || carn_shown_listed(f->subject, person))
        return true;
    for (size_t i = 0; i < shown->reading_count; i++) /* one whom nobody named: frame#1 */
        if (strcmp(shown->readings[i].frame, f->name) == 0 &&
            strcmp(shown->readings[i].subject, person) == 0)
            return true;
    return false;
}

static size_t frames_of(const struct carn_shown *shown, const char *person, const char *camera)
{
    size_t frames = 0;
    for (size_t i = 0; i < shown->frame_count; i++)
        frames += is_of(&shown->frames[i], person, camera, shown) ? 1 : 0;
    return frames;
}

/* The most frames that the person has by a camera. */
static size_t widest(const struct carn_shown *shown, const char *person)
{
    size_t most = 0;
    for (size_t k = 0; k < shown->camera_count; k++) {
        size_t frames = frames_of(shown, person, shown->cameras[k]);
        most = frames > most ? frames : most;
    }
    return shown->camera_count > 0 ? most : frames_of(shown, person, "-");
}

static size_t widest_of_all(const struct carn_shown *shown)
{
    size_t most = 0;
    for (size_t i = 0; i < shown->people_count; i++) {
        size_t frames = widest(shown, shown->people[i]);
        most = frames > most ? frames : most;
    }
    return most;
}

static void row(const struct carn_section *s, const char *person, const char *camera)
{
    const struct carn_shown *shown = s->shown;
    struct carn_shown_values before, after;
    if (frames_of(shown, person, camera) == 0)
        return;
    (void)carn_shown_median(shown, person, camera, CARN_UNTONED, &before, &after, s->err);
    fputs("<div class=\"strip\"><div class=\"label\"><h4>camera ", s->to);
    carn_html(s->to, camera);
    fputs("</h4><div class=\"swatches\">", s->to);
    carn_section_swatch(s, "before", before.lab);
    carn_section_swatch(s, "after", after.lab);
    carn_section_swatch(s, "aim", shown->audit ? before.aim : after.aim);
    fputs("</div></div>\n<ul class=\"faces\">", s->to);
    for (size_t i = 0; i < shown->frame_count; i++) {
        const struct carn_shown_frame *f = &shown->frames[i];
        if (!is_of(f, person, camera, shown))
            continue;
        fputs("<li><a href=\"#f-", s->to);
        carn_html(s->to, f->id);
        fputs("\">", s->to);
        carn_section_crop(s, f, person, f->picture[1] != NULL ? 1 : 0, 112, "");
        carn_html(s->to, f->name);
        fputs("</a> <span>", s->to);
        carn_html(s->to, carn_shown_verdict(f));
        fputs("</span></li>\n", s->to);
    }
    fputs("</ul></div>\n", s->to);
}

void carn_section_people(const struct carn_section *s)
{
    const struct carn_shown *shown = s->shown;
    fprintf(s->to,
            "<section aria-labelledby=\"people\" class=\"people\"><div class=\"sheet\"><h2 "
            "id=\"people\">People</h2><p>Faces %s, each camera in a row; colours of the "
            "middle tone, the median of a row's frames. Figures describe a picture, not a "
            "person.</p></div>\n<div class=\"persons%s\">\n",
            shown->audit ? "after the cards" : "as delivered",
            widest_of_all(shown) > 1 ? "" : " single");
    for (size_t i = 0; i < shown->people_count; i++) {
        struct carn_shown_values before, after;
        (void)carn_shown_median(shown, shown->people[i], NULL, CARN_UNTONED, &before, &after,
                                s->err);
        fprintf(s->to, "<section id=\"p-%zu\" class=\"person%s\"><h3>", i,
                widest(shown, shown->people[i]) > FEW ? " many" : "");
        carn_html(s->to, shown->people[i]);
        if (!isnan(before.lab.L)) {
            fputs(" <small>L* ", s->to);
            carn_print_number(s->to, before.lab.L, 0);
            fputs("</small>", s->to);
        }
        fputs("</h3>\n", s->to);
        for (size_t k = 0; k < shown->camera_count; k++)
            row(s, shown->people[i], shown->cameras[k]);
        if (shown->camera_count == 0)
            row(s, shown->people[i], "-");
        fputs("</section>\n", s->to);
    }
    fputs("</div></section>\n", s->to);
}
