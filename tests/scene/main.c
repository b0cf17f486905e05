/*
 * main: the program: a portrait, the chart, or a table about them, on standard output.
 */
#include "maths.h"
#include "scene.h"

#include <stdio.h>
#include <stdlib.h>

static void clear(struct scene *s)
{
    carn_profile_close(s->profile);
    free(s->icc);
    s->profile = NULL;
    s->icc = NULL;
}

static int print_choir(struct scene *s, struct carn_error *err)
{
    printf("singer\tdepth\tL\ta\tb\n");
    for (size_t i = 0; i < SINGERS; i++) {
        s->is.singer = &choir[i];
        s->is.camera = NONE;
        clear(s);
        if (set_up(s, err) != 0)
            return -1;
        struct paint p = {{0, 0, 0}, 0};
        scene_lay_skin(&p, &s->person[0].skin, (struct light){1, 0}, 1);
        struct carn_lab lab = lab_of(p.xyz);
        printf("%s\t%s\t%.4f\t%.4f\t%.4f\n", choir[i].name,
               lab.L > 60   ? "light"
               : lab.L > 45 ? "medium"
                            : "deep",
               lab.L, lab.a, lab.b);
    }
    return 0;
}

static int draw_chart(struct scene *s, const struct request *r, struct carn_tool *tool)
{
    char names[CHART][32];
    if (read_chart(s, tool, names) != 0)
        return -1;
    if (!r->patches)
        return write_picture(s, r->is.name != NULL ? r->is.name : "chart.tif", chart_pixel,
                             &tool->err);
    print_chart_patches(s, names);
    return 0;
}

static int draw_portrait(struct scene *s, const struct request *r, struct carn_tool *tool)
{
    char name[64];
    snprintf(name, sizeof name, "%s.tif", r->is.singer->name);
    s->detail = r->is.camera;
    if (r->truth) {
        s->is.camera = s->is.twist = NONE;
        s->is.grain = 0;
    }
    if (set_up(s, &tool->err) != 0)
        return -1;
    if (r->truth)
        return print_truth(s);
    if (r->patches)
        return print_patches(s);
    return write_picture(s, r->is.name != NULL ? r->is.name : name, shoot, &tool->err);
}

int main(int argc, char **argv)
{
    /* arguments */
    struct carn_tool tool = {.name = "scene",
                             .operands = "",
                             .purpose = "Writes one invented portrait with known truth.",
                             .options = options};
    struct request r = {0};
    if (read_request(&r, &tool, argc, argv) != 0)
        return carn_tool_end(&tool);

    /* prepare */
    struct scene *s = carn_alloc(1, sizeof *s, &tool.err);
    if (s == NULL)
        return carn_tool_end(&tool);
    s->is = r.is;

    /* data; what failed is in tool.err */
    if (r.list)
        (void)print_choir(s, &tool.err);
    else if (r.chart)
        (void)draw_chart(s, &r, &tool);
    else
        (void)draw_portrait(s, &r, &tool);

    /* clean up */
    clear(s);
    free(s);
    return carn_tool_end(&tool);
}
