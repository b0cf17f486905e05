#include "frame/canvas.h"

#include <math.h>
#include <stdlib.h>

static const struct carn_ink BLACK = {{0, 0, 0}}, WHITE = {{255, 255, 255}};

/* Half as wide as the lines are, in pixels: the black under, the white over it. */
static const double UNDER = 1.5, OVER = 0.8;

int carn_canvas_open(struct carn_canvas *canvas, size_t width, size_t height, struct carn_ink ink,
                     struct carn_error *err)
{
    *canvas = (struct carn_canvas){width, height,
                                   carn_alloc(width * height, sizeof *canvas->pixels, err)};
    if (canvas->pixels == NULL)
        return -1;
    carn_canvas_fill(canvas, 0, 0, width, height, ink);
    return 0;
}

void carn_canvas_close(struct carn_canvas *canvas)
{
    free(canvas->pixels);
    *canvas = (struct carn_canvas){0};
}

static void put(struct carn_canvas *canvas, long x, long y, struct carn_ink ink)
{
    if (x >= 0 && y >= 0 && (size_t)x < canvas->width && (size_t)y < canvas->height)
        canvas->pixels[(size_t)y * canvas->width + (size_t)x] = ink;
}

void carn_canvas_fill(struct carn_canvas *canvas, long x, long y, size_t width, size_t height,
                      struct carn_ink ink)
{
    for (size_t v = 0; v < height; v++)
        for (size_t u = 0; u < width; u++)
            put(canvas, x + (long)u, y + (long)v, ink);
}

/* All pixels within half of a point. */
static void dot(struct carn_canvas *canvas, double x, double y, double half, struct carn_ink ink)
{
    for (long v = (long)ceil(y - half); (double)v <= y + half; v++)
        for (long u = (long)ceil(x - half); (double)u <= x + half; u++)
            put(canvas, u, v, ink);
}

static void line(struct carn_canvas *canvas, double x0, double y0, double x1, double y1,
                 double half, struct carn_ink ink)
{
    long steps = lround(2 * hypot(x1 - x0, y1 - y0)) + 1;
    for (long i = 0; i <= steps; i++) {
        double t = (double)i / (double)steps;
        dot(canvas, x0 + t * (x1 - x0), y0 + t * (y1 - y0), half, ink);
    }
}

void carn_canvas_oval(struct carn_canvas *canvas, double cx, double cy, double rx, double ry,
                      double tilt)
{
    const double turn = acos(-1.0) / 180;
    double c = cos(tilt * turn), s = sin(tilt * turn);
    long steps = lround(8 * (rx + ry)) + 8;
    for (int pass = 0; pass < 2; pass++)
        for (long i = 0; i < steps; i++) {
            double at = 360 * turn * (double)i / (double)steps;
            double x = rx * cos(at), y = ry * sin(at);
            dot(canvas, cx + x * c - y * s, cy + x * s + y * c, pass == 0 ? UNDER : OVER,
                pass == 0 ? BLACK : WHITE);
        }
}

void carn_canvas_box(struct carn_canvas *canvas, double x0, double y0, double x1, double y1)
{
    const double x[] = {x0, x1, x1, x0, x0}, y[] = {y0, y0, y1, y1, y0};
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < 4; i++)
            line(canvas, x[i], y[i], x[i + 1], y[i + 1], pass == 0 ? UNDER : OVER,
                 pass == 0 ? BLACK : WHITE);
}

static void draw_letter(struct carn_canvas *canvas, const uint8_t *rows, long x, long y,
                        size_t scale, struct carn_ink ink)
{
    for (size_t v = 0; v < CARN_LETTER_HEIGHT; v++)
        for (size_t u = 0; u < CARN_LETTER_WIDTH; u++)
            if ((rows[v] & (0x80u >> u)) != 0)
                carn_canvas_fill(canvas, x + (long)(u * scale), y + (long)(v * scale), scale, scale,
                                 ink);
}

void carn_canvas_text(struct carn_canvas *canvas, const struct carn_letters *letters, long x,
                      long y, size_t width, size_t scale, const char *text, struct carn_ink ink)
{
    size_t room = width / (CARN_LETTER_WIDTH * scale), count = carn_letters_count(text);
    size_t whole = count <= room ? count : room >= 2 ? room - 2 : 0;
    const long step = (long)(CARN_LETTER_WIDTH * scale);
    for (size_t i = 0; i < whole; i++, x += step)
        draw_letter(canvas, carn_letter(letters, &text), x, y, scale, ink);
    for (int i = 0; count > room && i < 2; i++, x += step) {
        const char *dots = ".";
        draw_letter(canvas, carn_letter(letters, &dots), x, y, scale, ink);
    }
}
