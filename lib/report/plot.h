/*
 * plot: one style of plot, as SVG in a page: axes with units, marks told apart by shape and fill
 * and not by colour alone, a text alternative.
 *
 * Made for a width of 560 units; texts stay readable down to 360 pixels. Values are in the caller's
 * own units; one outside the axes is drawn at their edge.
 */
#ifndef CARN_PLOT_H
#define CARN_PLOT_H

#include "base/error.h"

#include <stdbool.h>
#include <stdio.h>

struct carn_plot_axis {
    const char *label; /* with its unit */
    double low, high;  /* widened to whole ticks by carn_plot_open */
    bool bare;         /* no ticks, no grid: the caller writes its own */
    double tick;       /* set by carn_plot_open */
};

struct carn_plot {
    FILE *to;
    const char *id;
    double left, top, width, height; /* of the field, in SVG units */
    struct carn_plot_axis x, y;
};

/* An axis that holds all values given to it; starts as {label, INFINITY, -INFINITY}. */
void carn_plot_hold(struct carn_plot_axis *axis, double value);

/* Opens a figure with heading, the SVG, title, desc, grid and labels. high: height of the SVG; 0
 * for 420, -1 for the height at which a unit is as long on both axes. */
void carn_plot_open(struct carn_plot *plot, FILE *to, const char *id, const char *title,
                    const char *about, struct carn_plot_axis x, struct carn_plot_axis y,
                    double high);

double carn_plot_x(const struct carn_plot *plot, double x);
double carn_plot_y(const struct carn_plot *plot, double y);

/* kind: the number of a camera or tone; there are 6 shapes and colours, used in turn. */
void carn_plot_mark(const struct carn_plot *plot, size_t kind, bool hollow, double x, double y);
/* From one value to another, with an arrow's head at its end. */
void carn_plot_arrow(const struct carn_plot *plot, size_t kind, double x, double y, double to_x,
                     double to_y);
/* A line of a class of the style sheet. */
void carn_plot_line(const struct carn_plot *plot, const char *class, const double *x,
                    const double *y, size_t count);
void carn_plot_band(const struct carn_plot *plot, double low, double high);
void carn_plot_text(const struct carn_plot *plot, double x, double y, double dx, double dy,
                    const char *anchor, const char *text);
/* Ends the SVG and opens the caption of the figure. The caller prints its key there, then calls
 * carn_plot_close. */
void carn_plot_key(const struct carn_plot *plot);
void carn_plot_key_mark(FILE *to, size_t kind, bool hollow, const char *text);
void carn_plot_key_camera(FILE *to, size_t kind, const char *camera);
/* The figures of the plot as a table that opens on demand; the caller prints its rows. about:
 * whose figures, for who hears the page. */
void carn_plot_table(FILE *to, const char *about, const char *const *heads);
void carn_plot_table_end(FILE *to);
void carn_plot_close(const struct carn_plot *plot);

#endif
