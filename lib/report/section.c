#include "report/section.h"

#include "base/table.h"
#include "report/html.h"
#include "report/swatch.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

void carn_section_size(FILE *to, const struct carn_shown_frame *f, double wide, double high)
{
    double w = f->wide > 0 ? f->wide : 3, h = f->high > 0 ? f->high : 4;
    double scale = fmin(wide / w, high / h);
    fprintf(to, " width=\"%.0f\" height=\"%.0f\"", fmax(w * scale, 1), fmax(h * scale, 1));
}

/* The face at full size, as the delivery made it; NULL: not there. path has room for it. */
static const char *face_picture(const struct carn_section *s, const struct carn_shown_frame *f,
                                size_t face, int which, char path[400])
{
    static const char *const whens[] = {"before", "after"};
    snprintf(path, 400, "report/pictures/%.300s.%s.face-%zu.jpg", f->id, whens[which], face);
    return !s->shown->audit && face > 0 && access(path, R_OK) == 0 ? path + strlen("report/")
                                                                   : NULL;
}

void carn_section_crop(const struct carn_section *s, const struct carn_shown_frame *f,
                       const char *subject, int which, int wide, const char *alt)
{
    struct carn_shown_box crop = {0};
    const char *picture = f->picture[which];
    char path[400];
    if (picture == NULL)
        return;
    bool known = carn_shown_crop(s->shown, f, subject, &crop);
    const char *face = known ? face_picture(s, f, crop.face, which, path) : NULL;
    if (face != NULL) {
        picture = face;
        fprintf(s->to,
                "<span class=\"crop\"><img loading=\"lazy\" width=\"%d\" height=\"%d\" "
                "style=\"width:100%%\"",
                wide, wide * 5 / 4);
    } else if (!known) {
        fputs("<img loading=\"lazy\"", s->to);
        carn_section_size(s->to, f, wide, wide * 1.25);
    } else {
        double high = wide * 100 / crop.w * f->high / f->wide;
        fprintf(s->to,
                "<span class=\"crop\"><img loading=\"lazy\" width=\"%.0f\" height=\"%.0f\" "
                "style=\"width:%.2f%%;left:%.2f%%;top:%.2f%%\"",
                wide * 100 / crop.w, high, 1e4 / crop.w, -100 * crop.x / crop.w,
                -100 * crop.y / crop.h);
    }
    fputs(" src=\"", s->to);
    carn_html(s->to, picture);
    fputs("\" alt=\"", s->to);
    carn_html(s->to, alt);
    fputs(crop.w > 0 ? "\"></span>" : "\">", s->to);
}

void carn_section_swatch(const struct carn_section *s, const char *name, struct carn_lab lab)
{
    unsigned char rgb[3];
    if (!carn_swatch(s->srgb, lab, rgb))
        return;
    fprintf(s->to,
            "<span class=\"swatch\"><svg viewBox=\"0 0 1 1\" preserveAspectRatio=\"none\" "
            "aria-hidden=\"true\"><rect width=\"1\" height=\"1\" fill=\"#%02x%02x%02x\"/></svg>"
            "<span>%s <small><span>L* ",
            rgb[0], rgb[1], rgb[2], name);
    carn_print_number(s->to, lab.L, 1);
    fputs("</span> <span>a* ", s->to);
    carn_print_number(s->to, lab.a, 1);
    fputs("</span> <span>b* ", s->to);
    carn_print_number(s->to, lab.b, 1);
    fputs("</span></small></span></span>", s->to);
}
