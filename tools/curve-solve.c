/* carn-curve-solve: the curve that brings skin onto an aim at its own lightness. */
#include "base/tool.h"
#include "codec/codec.h"
#include "colour/profile.h"
#include "colour/separation.h"
#include "correct/aim_table.h"
#include "correct/curve.h"
#include "correct/pair.h"
#include "correct/reading.h"
#include "correct/solve.h"
#include "frame/frame.h"
#include "frame/keys.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct request {
    const char *aim, *aims, *follow, *separation, *profile;
    bool no_black_point, bound, tone, any_subject, by_subject, whole;
    double strength;
};

/* The profile of a picture file; NULL with size 0 when it is untagged. */
static void *picture_profile(const char *path, size_t *size, struct carn_error *err)
{
    struct carn_frame frame = {0};
    void *icc = NULL;
    if (carn_codec_header(path, NULL, &frame, NULL, err) == 0)
        icc = carn_frame_blob(&frame, "icc", size, err);
    carn_frame_clear(&frame);
    return icc;
}

/* sRGB without -r and for untagged pictures. */
static struct carn_profile *open_profile(const char *path, struct carn_error *err)
{
    size_t size = 0;
    void *icc = NULL;
    if (path != NULL)
        icc = carn_profile_is_icc(path) ? carn_profile_read(path, &size, err)
                                        : picture_profile(path, &size, err);
    if (err->kind != CARN_NONE)
        return NULL;
    struct carn_error why = {0};
    struct carn_profile *profile = carn_profile_open(icc, size, 3, &why);
    if (profile == NULL)
        carn_fail_from(err, &why, path != NULL ? path : "sRGB");
    free(icc);
    return profile;
}

static void print_solution(struct carn_tool *tool, const struct carn_solution *s)
{
    if (s->doubtful > 0)
        carn_tool_note(tool, "doubtful", "%zu reading%s with doubtful flags %s", s->doubtful,
                       s->doubtful == 1 ? "" : "s",
                       s->all_doubtful ? "used, there is no other" : "left out");
    carn_curve_print_header(stdout);
    for (size_t i = 0; i < s->count; i++) {
        char note[96];
        snprintf(note, sizeof note, "%zu reading%s, residual %.2f%s%s", s->readings[i],
                 s->readings[i] == 1 ? "" : "s", s->residual[i],
                 s->moves[i].cut ? ", cut short by " : "",
                 s->moves[i].cut ? carn_limit_word(s->limit[i]) : "");
        carn_curve_print(stdout, &s->moves[i], note);
    }
}

/* The aim asked for; by subject the one of -f that is named as the readings' one subject. */
static int open_aim(const struct request *ask, const struct carn_readings *readings,
                    struct carn_aim *aim, struct carn_error *err)
{
    const char *subject = NULL, *other = NULL;
    if (!ask->by_subject)
        return carn_aim_open(ask->aim != NULL ? ask->aim : "common", ask->aims, aim, err);
    for (size_t i = 0; i < readings->count; i++) {
        const struct carn_reading *r = &readings->rows[i];
        if (!carn_reading_is_skin(r))
            continue;
        if (subject == NULL)
            subject = r->subject;
        if (strcmp(subject, r->subject) != 0)
            other = r->subject;
    }
    if (other != NULL)
        return carn_fail_at(err, CARN_INPUT, carn_table_label(readings->table),
                            "subjects '%s' and '%s', and a curve by subject is for one", subject,
                            other);
    if (subject == NULL)
        return carn_fail_at(err, CARN_INPUT, carn_table_label(readings->table),
                            "no reading of skin, only of card and backdrop");
    struct carn_table *table = carn_table_read(ask->aims, err);
    int found = table != NULL ? carn_aim_find(subject, table, aim, err) : -1;
    carn_table_close(table);
    if (found < 0)
        return -1;
    return found == 0 ? carn_fail_at(err, CARN_INPUT, ask->aims, "no aim of subject '%s'", subject)
                      : found - 1;
}

/* The readings onto the aim. */
static int solve_aim(struct carn_tool *tool, const struct request *ask,
                     const struct carn_readings *readings, struct carn_profile *profile,
                     struct carn_solution *solution)
{
    struct carn_error *err = &tool->err;
    struct carn_aim aim;
    char path[4096];
    const char *file = carn_tool_separation(ask->separation, path, sizeof path, err);
    if (file == NULL || open_aim(ask, readings, &aim, err) != 0)
        return -1;
    struct carn_separation *separation = carn_separation_open(file, !ask->no_black_point, err);
    int rc =
        separation != NULL ? carn_readings_fit(readings, carn_separation_id(separation), err) : -1;
    if (rc == 0)
        rc = carn_solve_aim(readings, &aim, separation, profile, ask->bound, ask->whole, solution,
                            err);
    carn_separation_close(separation);
    return rc;
}

/* The readings onto those to follow. */
static int solve_follow(struct carn_tool *tool, const struct request *ask,
                        const struct carn_readings *readings, struct carn_profile *profile,
                        struct carn_solution *solution)
{
    struct carn_readings follow = {0};
    struct carn_pairs pairs = {0};
    int rc = carn_readings_read(ask->follow, CARN_NEED_LAB, &follow, &tool->err);
    if (rc == 0)
        rc = carn_pairs_make(readings, &follow, ask->any_subject, &pairs, &tool->err);
    for (size_t i = pairs.whole; i < pairs.count; i++)
        fprintf(stderr, "%s: note: subject '%s' patch '%s' tone '%s' has no partner\n", tool->name,
                pairs.pairs[i].subject, pairs.pairs[i].patch, pairs.pairs[i].tone);
    if (rc == 0)
        rc = carn_solve_follow(&pairs, profile, ask->bound, ask->tone, ask->whole, solution,
                               &tool->err);
    carn_pairs_clear(&pairs);
    carn_readings_clear(&follow);
    return rc;
}

int main(int argc, char **argv)
{
    enum { BOUND = 256, TONE, ANY, STRENGTH, BY_SUBJECT };
    struct request ask = {.bound = true, .strength = 1};
    const struct carn_option options[] = {
        {'a', "aim", "AIM", "what the colour should be: common (default), hue, skin, or of -f",
         .text = &ask.aim},
        {'f', "aims", "AIMS", "table of the house's own aims", .text = &ask.aims},
        {BY_SUBJECT, "by-subject", NULL, "the aim of -f that is named as the readings' subject",
         .flag = &ask.by_subject},
        {'l', "follow", "READINGS", "readings to follow in place of an aim", .text = &ask.follow},
        {TONE, "tone", NULL, "with -l: follow lightness too, of the same subject",
         .flag = &ask.tone},
        {ANY, "any-subject", NULL, "with -l: pair rows of different subjects as well",
         .flag = &ask.any_subject},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own",
         .text = &ask.separation},
        {'B', "no-black-point", NULL, "no black-point compensation", .flag = &ask.no_black_point},
        {'r', "profile", "PROFILE", "RGB the curve is for: ICC or picture file; default sRGB",
         .text = &ask.profile},
        {'W', "whole", NULL, "moves of channel curves, for a cast over the whole picture",
         .flag = &ask.whole},
        {BOUND, "bound", "BOUND", .help = "default, or none: as far as the aim asks"},
        {STRENGTH, "strength", "SHARE",
         .help = "0 to 1: this share of the way, in a straight line in CIELAB"},
        {0},
    };
    struct carn_tool tool = {.name = "carn-curve-solve",
                             .operands = "[READINGS] >CURVE",
                             .purpose = "Solves for the curve that brings skin onto an aim.",
                             .options = options};

    /* arguments */
    static const char *const bounds[] = {"default", "none", NULL};
    int key, choice;
    while ((key = carn_tool_option(&tool, argc, argv)) > 0) {
        if (key == STRENGTH ? carn_tool_number(&tool, "--strength", 0, 1, &ask.strength) != 0
                            : (choice = carn_tool_choice(&tool, "--bound", bounds)) < 0)
            return carn_tool_end(&tool);
        ask.bound = key == STRENGTH ? ask.bound : choice == 0;
    }
    if (key == 0 && argc - optind > 1)
        carn_fail(&tool.err, CARN_USAGE, "one table of readings, not %d", argc - optind);
    if (key == 0 && ask.follow != NULL && (ask.aim != NULL || ask.aims != NULL))
        carn_fail(&tool.err, CARN_USAGE, "an aim and readings to follow contradict each other");
    if (key == 0 && ask.by_subject && (ask.aims == NULL || ask.aim != NULL || ask.follow != NULL))
        carn_fail(&tool.err, CARN_USAGE,
                  "--by-subject needs a table of aims (-f), and no other aim");
    if (key == 0 && ask.follow == NULL && (ask.tone || ask.any_subject))
        carn_fail(&tool.err, CARN_USAGE, "--tone and --any-subject need readings to follow (-l)");
    if (key == 0 && ask.tone && ask.any_subject)
        carn_fail(&tool.err, CARN_USAGE,
                  "--tone follows the same subject only, --any-subject contradicts it");
    if (key < 0 || tool.err.kind != CARN_NONE)
        return carn_tool_end(&tool);

    /* prepare */
    struct carn_readings readings = {0};
    struct carn_solution solution;
    struct carn_profile *profile = open_profile(ask.profile, &tool.err);
    const char *path = optind < argc ? argv[optind] : "-";

    /* data */
    if (profile != NULL && carn_readings_read(path, CARN_NEED_LAB, &readings, &tool.err) == 0 &&
        (ask.follow != NULL ? solve_follow(&tool, &ask, &readings, profile, &solution)
                            : solve_aim(&tool, &ask, &readings, profile, &solution)) == 0 &&
        carn_solve_weaken(&solution, ask.strength, profile, &tool.err) == 0)
        print_solution(&tool, &solution);

    /* clean up */
    carn_readings_clear(&readings);
    carn_profile_close(profile);
    return carn_tool_end(&tool);
}
