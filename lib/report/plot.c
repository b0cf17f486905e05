#include "report/plot.h"

#include "base/table.h"
#include "report/html.h"

#include <math.h>
#include <stddef.h>

enum { KINDS = 6, WIDTH = 560, HEIGHT = 420, LEFT = 74, RIGHT = 14, TOP = 14, BOTTOM = 54 };

/* About five to nine ticks, at 1, 2 or 5 times a power of ten. */
static double tick_of(double range)
{
    double power = pow(10, floor(log10(range / 4)));
    double steps = range / 4 / power;
    return power * (steps < 2 ? 1 : steps < 5 ? 2 : 5);
}

static void widen(struct carn_plot_axis *axis)
{
    if (!(axis->high >= axis->low)) { /* nothing to show */
        axis->low = 0;
        axis->high = 1;
    }
    if (axis->high - axis->low < 1e-6) {
        axis->low -= 0.5;
        axis->high += 0.5;
    }
    if (axis->bare)
        return;
    double tick = axis->tick = tick_of(axis->high - axis->low);
    axis->low = tick * floor(axis->low / tick + 1e-6);
    axis->high = tick * ceil(axis->high / tick - 1e-6);
}

void carn_plot_hold(struct carn_plot_axis *axis, double value)
{
    if (isnan(value))
        return;
    axis->low = fmin(axis->low, value);
    axis->high = fmax(axis->high, value);
}

double carn_plot_x(const struct carn_plot *p, double x)
{
    double at = (x - p->x.low) / (p->x.high - p->x.low);
    return p->left + p->width * fmin(fmax(at, 0), 1);
}

double carn_plot_y(const struct carn_plot *p, double y)
{
    double at = (y - p->y.low) / (p->y.high - p->y.low);
    return p->top + p->height * (1 - fmin(fmax(at, 0), 1));
}

static void draw_ticks(const struct carn_plot *p, const struct carn_plot_axis *axis, bool across)
{
    if (axis->bare)
        return;
    double tick = axis->tick;
    int decimals = tick < 1 ? (int)ceil(-log10(tick) - 1e-9) : 0;
    long count = lround((axis->high - axis->low) / tick);
    for (long i = 0; i <= count; i++) {
        double v = axis->low + tick * (double)i;
        double at = across ? carn_plot_x(p, v) : carn_plot_y(p, v);
        if (across)
            fprintf(p->to,
                    "<path class=\"grid\" d=\"M%.1f %.1fv%.1f\"/><text x=\"%.1f\" y=\"%.1f\" "
                    "text-anchor=\"middle\">",
                    at, p->top, p->height, at, p->top + p->height + 18);
        else
            fprintf(p->to,
                    "<path class=\"grid\" d=\"M%.1f %.1fh%.1f\"/><text x=\"%.1f\" y=\"%.1f\" "
                    "text-anchor=\"end\">",
                    p->left, at, p->width, p->left - 6, at + 5);
        carn_print_number(p->to, v, decimals);
        fputs("</text>\n", p->to);
    }
}

void carn_plot_open(struct carn_plot *p, FILE *to, const char *id, const char *title,
                    const char *about, struct carn_plot_axis x, struct carn_plot_axis y,
                    double high)
{
    widen(&x);
    widen(&y);
    if (high < 0)
        high = TOP + BOTTOM + (WIDTH - LEFT - RIGHT) * (y.high - y.low) / (x.high - x.low);
    high = high > 0 ? high : HEIGHT;
    *p = (struct carn_plot){to, id, LEFT, TOP, WIDTH - LEFT - RIGHT, high - TOP - BOTTOM, x, y};
    if (y.bare) { /* names of rows need more room */
        p->left += 90;
        p->width -= 90;
    }
    fprintf(to,
            "<figure class=\"plot sheet\" id=\"%s\"><h3 id=\"%s-h\">%s</h3>\n<svg viewBox=\"0 0 %d "
            "%.0f\" "
            "role=\"img\" aria-labelledby=\"%s-t %s-d\"><title id=\"%s-t\">%s</title><desc "
            "id=\"%s-d\">",
            id, id, title, WIDTH, high, id, id, id, title, id);
    carn_html(to, about);
    fputs("</desc>\n", to);
    draw_ticks(p, &p->x, true);
    draw_ticks(p, &p->y, false);
    fprintf(to,
            "<path class=\"axis\" d=\"M%.1f %.1fv%.1fh%.1f\"/>\n<text x=\"%.1f\" y=\"%.1f\" "
            "text-anchor=\"middle\">%s</text>\n",
            p->left, p->top, p->height, p->width, p->left + p->width / 2, high - 12, x.label);
    if (!y.bare)
        fprintf(
            to,
            "<text transform=\"translate(18 %.1f) rotate(-90)\" text-anchor=\"middle\">%s</text>\n",
            p->top + p->height / 2, y.label);
}

/* The outline of a kind about 0 0, all of about the same area. */
static const char *shape_of(size_t kind)
{
    static const char *const shapes[KINDS] = {"m-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0z",
                                              "m0 -6.2l6 10.6h-12z",
                                              "m-4.6 -4.6h9.2v9.2h-9.2z",
                                              "m0 -6.4l6.4 6.4l-6.4 6.4l-6.4 -6.4z",
                                              "m0 6.2l6 -10.6h-12z",
                                              "m-2 -6h4v4h4v4h-4v4h-4v-4h-4v-4h4z"};
    return shapes[kind % KINDS];
}

void carn_plot_mark(const struct carn_plot *p, size_t kind, bool hollow, double x, double y)
{
    if (isnan(x) || isnan(y))
        return;
    fprintf(p->to, "<path class=\"k%zu%s\" d=\"M%.1f %.1f%s\"/>\n", kind % KINDS,
            hollow ? " o" : "", carn_plot_x(p, x), carn_plot_y(p, y), shape_of(kind));
}

void carn_plot_arrow(const struct carn_plot *p, size_t kind, double x, double y, double to_x,
                     double to_y)
{
    double u = carn_plot_x(p, x), v = carn_plot_y(p, y);
    double du = carn_plot_x(p, to_x) - u, dv = carn_plot_y(p, to_y) - v, d = hypot(du, dv);
    if (isnan(d) || d < 1)
        return;
    double a = 7 * du / d, b = 7 * dv / d; /* the head's two strokes */
    fprintf(p->to,
            "<path class=\"way k%zu\" d=\"M%.1f %.1fL%.1f %.1fm%.1f %.1fl%.1f %.1fl%.1f %.1f\"/>\n",
            kind % KINDS, u, v, u + du, v + dv, -a - b * 0.6, -b + a * 0.6, a + b * 0.6,
            b - a * 0.6, -a + b * 0.6, -b - a * 0.6);
}

void carn_plot_line(const struct carn_plot *p, const char *class, const double *x, const double *y,
                    size_t count)
{
    fprintf(p->to, "<polyline class=\"%s\" points=\"", class);
    for (size_t i = 0; i < count; i++)
        if (x[i] >= p->x.low && x[i] <= p->x.high && y[i] >= p->y.low && y[i] <= p->y.high)
            fprintf(p->to, "%.1f,%.1f ", carn_plot_x(p, x[i]), carn_plot_y(p, y[i]));
    fputs("\"/>\n", p->to);
}

void carn_plot_band(const struct carn_plot *p, double low, double high)
{
    double top = carn_plot_y(p, high);
    fprintf(p->to, "<rect class=\"band\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\"/>\n",
            p->left, top, p->width, carn_plot_y(p, low) - top);
}

void carn_plot_text(const struct carn_plot *p, double x, double y, double dx, double dy,
                    const char *anchor, const char *text)
{
    fprintf(p->to, "<text class=\"name\" x=\"%.1f\" y=\"%.1f\" text-anchor=\"%s\">",
            carn_plot_x(p, x) + dx, carn_plot_y(p, y) + dy, anchor);
    carn_html(p->to, text);
    fputs("</text>\n", p->to);
}

void carn_plot_key(const struct carn_plot *p)
{
    fputs("</svg>\n<figcaption>", p->to);
}

void carn_plot_key_mark(FILE *to, size_t kind, bool hollow, const char *text)
{
    fprintf(to,
            "<span class=\"key\"><svg viewBox=\"0 0 16 16\" width=\"16\" height=\"16\" "
            "aria-hidden=\"true\"><path class=\"k%zu%s\" d=\"M8 8%s\"/></svg> ",
            kind % KINDS, hollow ? " o" : "", shape_of(kind));
    carn_html(to, text);
    fputs("</span> ", to);
}

void carn_plot_key_camera(FILE *to, size_t kind, const char *camera)
{
    char text[300];
    snprintf(text, sizeof text, "camera %s", camera);
    carn_plot_key_mark(to, kind, false, text);
}

void carn_plot_table(FILE *to, const char *about, const char *const *heads)
{
    fprintf(to,
            "<details><summary>Figures</summary><div class=\"scroll\" role=\"region\" "
            "tabindex=\"0\" aria-label=\"Figures of %s\"><table>",
            about);
    carn_html_heads(to, heads);
    fputs("<tbody>\n", to);
}

void carn_plot_table_end(FILE *to)
{
    fputs("</tbody></table></div></details>", to);
}

void carn_plot_close(const struct carn_plot *p)
{
    fputs("</figcaption></figure>\n", p->to);
}
