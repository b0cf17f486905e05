/* carn-aim-meet: aims from readings, one a person: the colour where all their cameras meet. */
#include "base/tool.h"
#include "colour/separation.h"
#include "correct/aim_table.h"
#include "correct/meet.h"
#include "correct/reading.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Tolerance of a person's colour, CIEDE2000: light, middle, shade. */
static const double NEAR[CARN_TONES] = {2.0, 1.5, 2.0};

struct request {
    const char *aim, *aims, *separation;
    bool no_black_point, bound, as_read;
};

/* The order of rows. */
static const enum carn_tone order[] = {CARN_TONE_MIDDLE, CARN_TONE_LIGHT, CARN_TONE_SHADE};

static void print_value(const char *name, enum carn_tone tone, const char *quantity, double value,
                        bool cut, double asked, const char *note)
{
    carn_table_print(stdout, name);
    printf("\t%s\t%s\t", carn_tone_word(tone), quantity);
    carn_print_number(stdout, value, 4);
    fputs("\t-\t", stdout);
    carn_print_number(stdout, cut ? asked : (double)NAN, 4);
    putchar('\t');
    carn_table_print(stdout, note);
    putchar('\n');
}

static void print_meeting(const char *name, const struct carn_meeting *m)
{
    for (size_t i = 0; i < CARN_TONES; i++) {
        const struct carn_meeting_tone *t = &m->tones[order[i]];
        char note[128];
        if (!t->known)
            continue;
        snprintf(note, sizeof note, "at L* %.1f, %zu camera%s, %zu reading%s%s", t->colour.L,
                 m->cameras, m->cameras == 1 ? "" : "s", m->readings, m->readings == 1 ? "" : "s",
                 m->cut ? ", cut short by bound" : "");
        print_value(name, order[i], "a", t->colour.a, m->cut, t->asked.a, note);
        print_value(name, order[i], "b", t->colour.b, m->cut, t->asked.b, "-");
        carn_table_print(stdout, name);
        printf("\t%s\tciede2000\t-\t%g\t-\t-\n", carn_tone_word(order[i]), NEAR[order[i]]);
    }
}

/* Whether this row is the first reading of its subject's skin. */
static bool is_first(const struct carn_readings *readings, size_t row)
{
    const struct carn_reading *r = &readings->rows[row];
    for (size_t i = 0; i < row; i++)
        if (carn_reading_is_skin(&readings->rows[i]) &&
            strcmp(readings->rows[i].subject, r->subject) == 0)
            return false;
    return carn_reading_is_skin(r);
}

/* One aim a subject. A subject without one makes the status 1, and the others still get theirs. */
static void meet_all(struct carn_tool *tool, const struct request *ask,
                     const struct carn_readings *readings, const struct carn_aim *aim,
                     const struct carn_separation *separation)
{
    size_t skin = 0, printed = 0;
    for (size_t i = 0; i < readings->count; i++) {
        struct carn_meeting meeting;
        struct carn_error why = {0};
        const char *subject = readings->rows[i].subject;
        if (!is_first(readings, i))
            continue;
        skin++;
        int rc = carn_meet(readings, subject, ask->as_read ? NULL : aim, separation, ask->bound,
                           &meeting, &why);
        if (rc < 0)
            carn_fail_at(&tool->err, why.kind, carn_table_label(readings->table),
                         "subject '%s': %s", subject, why.text);
        if (rc >= 0 && printed++ == 0)
            puts("aim\ttone\tquantity\tvalue\ttolerance\tasked\tnote");
        if (rc == 1) {
            fprintf(stderr, "%s: note: subject '%s' has only doubtful readings: no aim\n",
                    tool->name, subject);
            tool->status = tool->status > 1 ? tool->status : 1;
        }
        if (rc == 0)
            print_meeting(subject, &meeting);
    }
    if (skin == 0)
        carn_fail_at(&tool->err, CARN_INPUT, carn_table_label(readings->table),
                     "no reading of skin, only of card and backdrop");
}

int main(int argc, char **argv)
{
    enum { BOUND = 256, AS_READ };
    struct request ask = {.bound = true};
    const struct carn_option options[] = {
        {'a', "aim", "AIM", "what the colour should be: common (default), hue, skin, or of -f",
         .text = &ask.aim},
        {'f', "aims", "AIMS", "table of the house's own aims", .text = &ask.aims},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own",
         .text = &ask.separation},
        {'B', "no-black-point", NULL, "no black-point compensation", .flag = &ask.no_black_point},
        {BOUND, "bound", "BOUND", .help = "default, or none: as far as the aim asks"},
        {AS_READ, "as-read", NULL, "no aim: the mean of each person's cameras",
         .flag = &ask.as_read},
        {0},
    };
    struct carn_tool tool = {.name = "carn-aim-meet",
                             .operands = "[READINGS] >AIMS",
                             .purpose = "Writes one aim a person, where all their cameras meet.",
                             .options = options};
    char path[4096];

    /* arguments */
    static const char *const bounds[] = {"default", "none", NULL};
    int key, choice;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        if ((choice = carn_tool_choice(&tool, "--bound", bounds)) < 0)
            return carn_tool_end(&tool);
        ask.bound = choice == 0;
    }
    if (key == 0 && argc - optind > 1)
        carn_fail(&tool.err, CARN_USAGE, "one table of readings, not %d", argc - optind);
    if (key == 0 && ask.as_read && (ask.aim != NULL || ask.aims != NULL))
        carn_fail(&tool.err, CARN_USAGE, "--as-read and an aim contradict each other");
    if (key < 0 || tool.err.text[0] != '\0')
        return carn_tool_end(&tool);

    /* prepare */
    struct carn_aim aim;
    struct carn_readings readings = {0};
    struct carn_separation *separation = NULL;
    const char *file = carn_tool_separation(ask.separation, path, sizeof path, &tool.err);
    const char *name = ask.aim != NULL ? ask.aim : "common";
    if (file != NULL && carn_aim_open(name, ask.aims, &aim, &tool.err) == 0)
        separation = carn_separation_open(file, !ask.no_black_point, &tool.err);

    /* data */
    if (separation != NULL &&
        carn_readings_read(optind < argc ? argv[optind] : "-", CARN_NEED_LAB, &readings,
                           &tool.err) == 0 &&
        carn_readings_fit(&readings, carn_separation_id(separation), &tool.err) == 0)
        meet_all(&tool, &ask, &readings, &aim, separation);

    /* clean up */
    carn_readings_clear(&readings);
    carn_separation_close(separation);
    return carn_tool_end(&tool);
}
