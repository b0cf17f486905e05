/*
 * main: the program: a portrait, the chart, or a table about them, on standard output.
 */
#include "maths.h"
#include "scene.h"

#include <stdio.h>
#include <stdlib.h>

/* The middle tones as the truth has them. */
static int print_choir(struct scene *s, struct carn_error *err)
{
    printf("singer\tdepth\tL\ta\tb\n");
    s->is.camera = NONE;
    for (size_t i = 0; i < SINGERS; i++) {
        double xyz[3];
        s->is.singer = &scene_choir[i];
        scene_clear(s);
        if (scene_set_up(s, err) != 0)
            return -1;
        scene_shade(&s->person[0].skin, 1, xyz);
        struct carn_lab lab = lab_of(xyz);
        const char *depth = lab.L > 60 ? "light" : lab.L > 45 ? "medium" : "deep";
        printf("%s\t%s\t%.4f\t%.4f\t%.4f\n", s->is.singer->name, depth, lab.L, lab.a, lab.b);
    }
    return 0;
}

static int draw_chart(struct scene *s, bool patches, struct carn_tool *tool)
{
    if (scene_read_chart(s, tool) != 0)
        return -1;
    if (!patches)
        return scene_write_picture(s, "chart.tif", scene_chart_pixel, &tool->err);
    scene_print_chart_patches(s);
    return 0;
}

static int draw_portrait(struct scene *s, const struct request *r, struct carn_error *err)
{
    char name[64];
    snprintf(name, sizeof name, "%s.tif", s->is.singer->name);
    s->detail = s->is.camera;
    if (r->truth) {
        s->is.camera = s->is.twist = NONE;
        s->is.grain = 0;
    }
    if (scene_set_up(s, err) != 0)
        return -1;
    if (!r->truth && !r->patches)
        return scene_write_picture(s, name, scene_portrait_pixel, err);
    if (r->truth)
        scene_print_truth(s);
    else
        scene_print_patches(s);
    return 0;
}

int main(int argc, char **argv)
{
    /* arguments */
    struct carn_tool tool = {.name = "scene",
                             .operands = "",
                             .purpose = "Writes one invented portrait with known truth.",
                             .options = scene_options};
    struct request r = {0};
    if (scene_read_request(&r, &tool, argc, argv) != 0)
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
        (void)draw_chart(s, r.patches, &tool);
    else
        (void)draw_portrait(s, &r, &tool.err);

    /* clean up */
    scene_clear(s);
    free(s);
    return carn_tool_end(&tool);
}
