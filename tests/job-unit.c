/* The job's own parts: ids, people, names of what is delivered, lines, small files, pipelines. */
#define _XOPEN_SOURCE 700
#include "tap.h"

#include "job/correct.h"
#include "job/drive.h"
#include "job/files.h"
#include "job/people.h"
#include "job/picture.h"
#include "job/plan.h"
#include "job/record.h"
#include "job/report_own.h"
#include "job/result.h"
#include "job/run.h"
#include "job/step.h"
#include "job/step_own.h"
#include "job/story.h"
#include "job/tell.h"
#include "report/section.h"

#include <math.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static void ids(void)
{
    char id[CARN_ID], name[300];
    carn_plan_id(id, 7, "north 02-\xc3\xa4.tif");
    tap_ok(strcmp(id, "0007-north_02-__.tif") == 0, "an id is the number and a plain name: %s", id);
    memset(name, 'l', sizeof name - 1);
    name[sizeof name - 1] = '\0';
    carn_plan_id(id, 12345, name);
    tap_ok(strlen(id) == CARN_ID - 1 && strncmp(id, "12345-lll", 9) == 0, "a long one is cut");
}

static void out_names(void)
{
    static const char *const names[] = {"a.png.jpg", "a.tif", "a.png", "b.tif", ".hidden", "b"};
    static const char *const want[] = {"a.png.jpg", "a.jpg",       "a.png-2.jpg",
                                       "b.jpg",     ".hidden.jpg", "b-2.jpg"};
    struct carn_plan_frame frames[6] = {{0}};
    struct carn_error err = {0};
    bool good = true;
    for (size_t i = 0; i < 6; i++)
        frames[i].name = carn_copy(names[i], &err);
    good = carn_plan_out_names(frames, 6, "jpg", &err) == 0;
    for (size_t i = 0; good && i < 6; i++) {
        bool twice = false;
        for (size_t k = 0; k < i; k++)
            twice = twice || strcmp(frames[k].out, frames[i].out) == 0;
        good = !twice && (i == 5 || strcmp(frames[i].out, want[i]) == 0);
        if (!good)
            printf("# %s: %s, not %s\n", names[i], frames[i].out, want[i]);
    }
    tap_ok(good, "no two frames deliver to one file");
    for (size_t i = 0; i < 6; i++) {
        free(frames[i].name);
        free(frames[i].out);
    }
}

static struct carn_table *table_of(const char *text)
{
    struct carn_error err = {0};
    (void)carn_keep("people.tsv", text, &err);
    return carn_table_read("people.tsv", &err);
}

static bool belongs(const struct carn_people *people, const char *patch, const char *name)
{
    return strcmp(carn_people_of(people, patch), name) == 0;
}

static void people(void)
{
    static const char found[] = "frame\tpatch\ttone\tx\ty\tw\th\tconfidence\n"
                                "*\tface-1\tall\t10%\t20%\t10%\t20%\t0.9\n"
                                "*\tface-2\tall\t40%\t20%\t4%\t8%\t0.3\n"
                                "*\tface-3\tall\t70%\t20%\t12%\t24%\t0.8\n";
    static const char given[] = "frame\tpatch\ttone\tx\ty\tw\th\n"
                                "*\tcelia cheek\tmiddle\t10%\t20%\t10%\t20%\n"
                                "*\tbirk\tall\t70%\t20%\t4%\t8%\n";
    struct carn_people who;
    struct carn_error err = {0};
    struct carn_table *table = table_of(found);
    int rc = carn_people_match(table, true, "birk, celia", "a.tif", &who, &err);
    tap_ok(rc == 0 && who.count == 2 && belongs(&who, "face-1", "birk") &&
               belongs(&who, "face-3", "celia") && belongs(&who, "face-2", "-"),
           "two names are the two largest faces, from left to right");
    carn_people_clear(&who);
    rc = carn_people_match(table, true, "birk", "a.tif", &who, &err);
    tap_ok(rc == 0 && who.count == 1 && who.person[2] == 0 && who.person[0] < 0 && who.faces == 3 &&
               fabs(who.confidence[0] - 0.8) < 1e-9,
           "one name is the largest face, with its confidence");
    carn_people_clear(&who);
    rc = carn_people_match(table, true, "-", "a.tif", &who, &err);
    tap_ok(rc == 0 && who.count == 3 && belongs(&who, "face-1", "a.tif#1") &&
               belongs(&who, "face-2", "a.tif#2") && belongs(&who, "face-3", "a.tif#3") &&
               fabs(who.confidence[1] - 0.3) < 1e-9,
           "nobody's are numbered, the doubtful too, with their confidence");
    carn_people_clear(&who);
    rc = carn_people_match(table, true, "a,b,c,d", "a.tif", &who, &err);
    tap_ok(rc != 0 && strstr(err.text, "4 people, 3 faces") != NULL, "more names than faces: %s",
           err.text);
    carn_people_clear(&who);
    carn_table_close(table);
    err = (struct carn_error){0};
    table = table_of(given);
    rc = carn_people_match(table, false, "birk, celia", "a.tif", &who, &err);
    tap_ok(rc == 0 && belongs(&who, "celia cheek", "celia") && belongs(&who, "birk", "birk"),
           "rows that a person wrote are theirs whose name they begin with");
    carn_people_clear(&who);
    rc = carn_people_match(table, false, "emre, jomo", "a.tif", &who, &err);
    tap_ok(rc != 0 && strstr(err.text, "whose?") != NULL, "others are asked about: %s", err.text);
    carn_people_clear(&who);
    carn_table_close(table);
}

static void lines(void)
{
    char *text = NULL, line[] = "delivered 0001-a.tif same\n", other[] = "make: nothing to do\n";
    size_t size = 0;
    const char *word, *id;
    bool same;
    FILE *to = open_memstream(&text, &size);
    carn_show(to, "a\033[2Jb\302\233c\x9b\xc3\xa4\t\x7f\xe2\x82");
    fclose(to);
    tap_ok(strcmp(text, "a?[2Jb??c?\xc3\xa4????") == 0, "nothing of a name steers a terminal");
    free(text);
    tap_ok(carn_places("Zo\xc3\xab\xff") == 4 && carn_fill("Zo\xc3\xab", 11) == 12,
           "a name with an accent fills its column as one without");
    tap_ok(carn_tell_read(line, &word, &id, &same) && strcmp(word, "delivered") == 0 &&
               strcmp(id, "0001-a.tif") == 0 && same && !carn_tell_read(other, &word, &id, &same),
           "what a step says is told from what make says");
    tap_ok(fabs(carn_drive_left(2, 8, 10) - 30) < 1e-9 && carn_drive_left(0, 8, 10) < 0 &&
               carn_drive_left(8, 8, 10) >= 0 && carn_drive_left(8, 8, 10) <= 0,
           "the time left is in proportion to the work left");
}

/* Runs that start at once make the same folders: so many that some are made in the moment
 * between another's look and its making. */
static void folders(void)
{
    enum { RUNS = 4, FOLDERS = 1000 };
    int failed = 0, status;
    char name[32];
    for (int run = 0; run < RUNS; run++) {
        if (fork() != 0)
            continue;
        struct carn_error err = {0};
        for (int i = 0; i < FOLDERS; i++) {
            snprintf(name, sizeof name, "at-once-%d", i);
            if (carn_folder(name, &err) != 0)
                _exit(1);
        }
        _exit(0);
    }
    while (wait(&status) > 0)
        failed += status != 0;
    for (int i = 0; i < FOLDERS; i++) {
        snprintf(name, sizeof name, "at-once-%d", i);
        (void)rmdir(name);
    }
    tap_ok(failed == 0, "runs that start at once make the same folders");
}

static void files(void)
{
    struct carn_error err = {0};
    char sum[65];
    tap_ok(carn_plain_name("a.tif") && carn_plain_name("..a") && !carn_plain_name("../a") &&
               !carn_plain_name("..") && !carn_plain_name(".") && !carn_plain_name(""),
           "a plain name has no folder");
    tap_ok(carn_keep("kept", "one\n", &err) == 1 && carn_keep("kept", "one\n", &err) == 0 &&
               carn_keep("kept", "two\n", &err) == 1 && access("kept.part", F_OK) != 0,
           "a file is written when it differs");
    tap_ok(carn_sha256("kept", sum, &err) == 0 &&
               strcmp(sum, "27dd8ed44a83ff94d557f9fd0412ed5a8cbca69ea04922d88c01184a07300a5a") == 0,
           "SHA-256 as sha256sum has it");
    tap_ok(symlink("elsewhere", "link") == 0 && mkdir("elsewhere", 0777) == 0 &&
               carn_folder("link", &err) != 0 && strstr(err.text, "link") != NULL,
           "a folder that is a link is refused");
    err = (struct carn_error){0};
    tap_ok(carn_folder("kept", &err) != 0, "and a file");
    err = (struct carn_error){0};
    (void)carn_keep("failed.tsv", "# failed: no such file\nframe\tL\n", &err);
    char *message = carn_step_failed("failed.tsv", &err), *none = carn_step_failed("kept", &err);
    tap_ok(message != NULL && strcmp(message, "no such file") == 0 && none == NULL,
           "failure is read back from a table");
    free(message);
    free(none);
}

static int run_of(const char *first, const char *second, const char *third, struct carn_run *run,
                  struct carn_error *err)
{
    const char *const scripts[] = {first, second, third};
    int from = CARN_NO_STAGE;
    *run = (struct carn_run){0};
    *err = (struct carn_error){0};
    for (size_t i = 0; i < 3 && scripts[i] != NULL; i++) {
        from = carn_run_add(run, from, NULL, "sh");
        carn_run_words(run, "-c", scripts[i]);
    }
    run->stages[run->count - 1].out = "result";
    return carn_run_all(run, err);
}

/* One stage, and readers of more than a pipe holds, one of them slow. */
static void check_readers(size_t readers)
{
    static const char *const outs[] = {"slow", "second", "third"};
    struct carn_run run = {0};
    struct carn_error err = {0};
    bool good = true;
    int from = carn_run_add(&run, CARN_NO_STAGE, NULL, "sh");
    carn_run_words(&run, "-c", "seq 400000");
    for (size_t i = 0; i < readers; i++) {
        int at = carn_run_add(&run, from, NULL, "sh");
        carn_run_words(&run, "-c", i == 0 ? "sleep 0.1; cksum" : "cksum");
        run.stages[at].out = outs[i];
    }
    int rc = carn_run_all(&run, &err);
    for (size_t i = 0; i < readers; i++) {
        char *sum = carn_text(outs[i], &err);
        good = good && sum != NULL && strcmp(sum, "2852415605 2688895\n") == 0;
        free(sum);
        (void)unlink(outs[i]);
    }
    tap_ok(rc == 0 && good, "%zu readers each get all of it", readers);
    carn_run_clear(&run);
}

static void pipelines(void)
{
    struct carn_run run;
    struct carn_error err;
    tap_ok(run_of("echo x; exit 1", "cat", NULL, &run, &err) == 0 && run.highest == 1,
           "status 1 is done");
    carn_run_clear(&run);
    tap_ok(run_of("yes", "echo no: why >&2; exit 3", "cat", &run, &err) != 0 && run.own_words &&
               strcmp(err.text, "no: why") == 0 && access("result.part", F_OK) != 0,
           "the culprit is who failed, not who lost its reader");
    carn_run_clear(&run);
    tap_ok(run_of("kill -KILL $$", "cat", NULL, &run, &err) != 0 &&
               strstr(err.text, "signal 9") != NULL,
           "a signal is trouble");
    carn_run_clear(&run);
    for (size_t readers = 2; readers <= 3; readers++)
        check_readers(readers);
    run = (struct carn_run){0};
    (void)signal(SIGPIPE, SIG_IGN);
    tap_ok(run_of("cat /dev/zero", "exit 2", NULL, &run, &err) != 0 && run.stages[0].status == 141,
           "stages end by SIGPIPE also where the caller ignores it");
    carn_run_clear(&run);
    err = (struct carn_error){0};
    carn_run_add(&run, CARN_NO_STAGE, NULL, "true");
    for (int i = 0; i < CARN_ARGUMENTS - 2; i++)
        carn_run_word(&run, "x");
    tap_ok(carn_run_all(&run, &err) == 0, "as many arguments as a stage takes");
    carn_run_word(&run, "x");
    tap_ok(carn_run_all(&run, &err) != 0 && err.kind == CARN_LIMIT, "one more: %s", err.text);
    carn_run_clear(&run);
    err = (struct carn_error){0};
    for (int i = 0; i <= CARN_STAGES; i++)
        carn_run_add(&run, i - 1, NULL, "cat");
    tap_ok(carn_run_all(&run, &err) != 0 && err.kind == CARN_LIMIT, "one stage too many");
    carn_run_clear(&run);
}

/* A filter that passes its input on, says how many options it had, and ends with 1. */
static int pass_on(int argc, char **argv)
{
    int c, options = 0;
    while (getopt(argc, argv, "ab") != -1)
        options++;
    while ((c = getchar()) != EOF)
        putchar(c);
    fprintf(stderr, "pass-on: note: %d options\n", options);
    return 1;
}

static int end_by_pipe(int argc, char **argv)
{
    (void)argc;
    (void)argv;
    while (puts("yes") >= 0)
        ;
    return 0;
}

static void inside(void)
{
    static const struct carn_filter filters[] = {
        {"pass-on", pass_on}, {"yes-inside", end_by_pipe}, {0}};
    struct carn_run run = {.inside = filters};
    struct carn_error err = {0};
    int from = carn_run_add(&run, CARN_NO_STAGE, NULL, "sh");
    carn_run_words(&run, "-c", "head -c 3000000 /dev/zero");
    for (int i = 0; i < 2; i++) {
        int at = carn_run_add(&run, from, NULL, "no/such/folder/pass-on");
        carn_run_words(&run, "-a", "-b");
        at = carn_run_add(&run, at, NULL, "sh");
        carn_run_words(&run, "-c", "wc -c");
        run.stages[at].out = i == 0 ? "slow" : "fast";
    }
    int rc = carn_run_all(&run, &err);
    char *slow = carn_text("slow", &err), *fast = carn_text("fast", &err);
    tap_ok(rc == 0 && run.highest == 1 && slow != NULL && fast != NULL &&
               strtol(slow, NULL, 10) == 3000000 && strcmp(slow, fast) == 0,
           "stages inside pass all on, and their status counts");
    tap_ok(run.stages[1].said != NULL && run.stages[3].said != NULL &&
               strcmp(run.stages[1].said, "pass-on: note: 2 options\n") == 0 &&
               strcmp(run.stages[3].said, run.stages[1].said) == 0,
           "each reads its own options and has its own standard error");
    free(slow);
    free(fast);
    carn_run_clear(&run);
    carn_run_add(&run, CARN_NO_STAGE, NULL, "yes-inside");
    carn_run_add(&run, 0, NULL, "sh");
    carn_run_words(&run, "-c", "exit 2");
    tap_ok(carn_run_all(&run, &err) != 0 && run.stages[0].status == 141, "they end by SIGPIPE too");
    carn_run_clear(&run);
}

/* A toned black and white of so many greys, of two halves whose blues differ by this share: b* by
 * some 72 of it. */
static int of_one_colour(double apart, int greys)
{
    struct carn_error err = {0};
    FILE *to = fopen("toned.ppm", "wb");
    if (to == NULL)
        return -1;
    fprintf(to, "P6\n180 2\n255\n");
    for (int i = 0; i < 360; i++) {
        int v = 40 + i % greys;
        double blue = i < 180 ? 0.9 : 0.9 - apart;
        fprintf(to, "%c%c%c", v, (int)(0.97 * v + 0.5), (int)(blue * v + 0.5));
    }
    return fclose(to) == 0 ? carn_picture_one_colour("toned.ppm", &err) : -1;
}

static void depths(void)
{
    tap_ok(
        strcmp(carn_depth_of(60.1), "light") == 0 && strcmp(carn_depth_of(59.9), "medium") == 0 &&
            strcmp(carn_depth_of(45.1), "medium") == 0 && strcmp(carn_depth_of(44.9), "deep") == 0,
        "skin is light over L* 60 and deep under 45");
    tap_ok(of_one_colour(0, 180) == 1 && of_one_colour(0.04, 180) == 1 &&
               of_one_colour(0.11, 180) == 0,
           "tones 3 apart in b* are one colour, 8 apart two");
    tap_ok(of_one_colour(0, 20) == 0 && of_one_colour(0, 50) == 1,
           "a wall is of one colour and no toned picture");
}

/* A frame delivered, held with so much left to its aim: does a person have to look at it? */
static bool needs_person(const char *left)
{
    struct carn_error err = {0};
    struct carn_story_frame f;
    char after[200];
    snprintf(after, sizeof after,
             "frame\ttone\tL\tciede2000\tverdict\na.tif\tmiddle\t60\t%s\theld\n", left);
    (void)carn_keep("work/frame/1-a/readings.tsv", "frame\ttone\tL\na.tif\tmiddle\t60\n", &err);
    (void)carn_keep("work/frame/1-a/made.tsv", "curve\nturn\n", &err);
    (void)carn_keep("work/frame/1-a/after.tsv", after, &err);
    struct carn_table *table = table_of("id\tframe\tout\n1-a\ta.tif\ta.tif\n");
    bool held = carn_story_one(table, 0, false, &f, &err) == 0 && f.verdict == CARN_HELD;
    bool needs = held && f.needs_person;
    tap_ok(held, "held with %s left %s", left, err.text);
    carn_story_one_clear(&f);
    carn_table_close(table);
    return needs;
}

/* How many need a person because of the exposure of two cards of these L*. */
static size_t cards_apart(double first, double second)
{
    struct carn_error err = {0};
    struct carn_story_card cards[] = {{.name = "a", .L = first, .flags = "-"},
                                      {.name = "b", .L = second, .flags = "-"}};
    struct carn_story story = {.cards = 2, .card = cards};
    struct report w = {.story = &story, .err = &err};
    if (carn_page_open(&w.text, &err) != 0 || carn_page_open(&w.table, &err) != 0 ||
        carn_page_open(&w.json, &err) != 0)
        return 99;
    (void)report_cards(&w);
    struct carn_page *pages[] = {&w.text, &w.table, &w.json};
    for (size_t i = 0; i < 3; i++) {
        (void)carn_page_close(pages[i], &err);
        free(pages[i]->text);
    }
    for (size_t i = 0; i < w.person_count; i++) {
        free(w.persons[i].about);
        free(w.persons[i].what);
        free(w.persons[i].note);
    }
    free(w.persons);
    return w.person_count;
}

/* Photographs show skin of chroma 10 at chroma 14, so its dot belongs there. */
static void dots(void)
{
    struct carn_error err = {0};
    struct carn_page page;
    struct carn_shown shown = {.audit = true};
    struct carn_locus locus = {0};
    char cross[80] = "no dot";
    double x, y;
    (void)carn_keep("skin.tsv", "kind\tchroma\thue\nmeasured\t10\t60\npreferred\t14\t60\n", &err);
    if (carn_page_open(&page, &err) != 0)
        return;
    struct carn_section section = {page.to, &shown, &locus, NULL, "skin.tsv", &err};
    carn_section_plots(&section);
    (void)carn_page_close(&page, &err);
    const char *dot = strstr(page.text, "<circle class=\"skin\" ");
    if (dot != NULL && sscanf(dot, "<circle class=\"skin\" cx=\"%lf\" cy=\"%lf\"", &x, &y) == 2)
        snprintf(cross, sizeof cross, "\"M%.1f %.1fm-7 0h14", x, y);
    tap_ok(strstr(page.text, cross) != NULL, "published skin is plotted as photographs show it");
    free(page.text);
}

/* A person's own colours by tone are a turn each; the second's were told of the wrong person once.
 */
static void people_turned(void)
{
    static const char tables[] = "patch\ttone\n",
                      one[] = "kind\tfrom\tto\nturn\t60 18 20\t60 19 21\n",
                      two[] =
                          "kind\tfrom\tto\nturn\t60 18 20\t60 19 21\nturn\t40 18 20\t40 19 21\n";
    static const struct {
        const char *name, *text;
    } files[] = {{"found.readings", tables}, {"before.scored", tables}, {"after.scored", tables},
                 {"skin.curve", two},        {"skin-1.curve", two},     {"skin-2.curve", one}};
    struct carn_error err = {0};
    char *names[] = {(char[]){"face-1"}, (char[]){"face-2"}};
    const struct carn_corrected corrected = {.people = 2, .names = names};
    struct carn_page page;
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        (void)carn_keep(files[i].name, files[i].text, &err);
    if (carn_page_open(&page, &err) != 0)
        return;
    int rc = carn_correct_show(".", &corrected, page.to, &err);
    (void)carn_page_close(&page, &err);
    const char *first = strstr(page.text, "face-1: turn at L* 40.0");
    tap_ok(rc == 0 && first != NULL && strstr(first, "face-2: turn at L* 60.0") != NULL,
           "turns are told of the person whose they are");
    free(page.text);
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        (void)unlink(files[i].name);
}

static void reports(void)
{
    struct carn_error err = {0};
    (void)carn_folder("work", &err);
    (void)carn_folder("work/frame", &err);
    (void)carn_folder("work/frame/1-a", &err);
    tap_ok(!needs_person("2.9") && needs_person("3.1"),
           "a person looks at what is held with more than 3 left");
    carn_remove_folder("work/frame/1-a");
    (void)rmdir("work/frame");
    (void)rmdir("work");
    /* L* 50 and 51.2 are 0.08 stops apart, 51.9 is 0.12. */
    tap_ok(cards_apart(50, 51.2) == 0 && cards_apart(50, 51.9) == 1 && cards_apart(51.9, 50) == 1,
           "cards more than a tenth of a stop apart are told");
    dots();
    people_turned();
}

static int say(int argc, char **argv)
{
    for (int i = 1; i < argc; i++)
        puts(argv[i]);
    fprintf(stderr, "say: note: %d\n", argc);
    return 0;
}

static int count(int argc, char **argv)
{
    int lines = 0, c;
    (void)argv;
    while ((c = getchar()) != EOF)
        lines += c == '\n';
    printf("%d lines, %d words\n", lines, argc);
    return lines > 2 ? 2 : 0;
}

/* Reads one letter of its input, of which stdio has read ahead more. */
static int peek(int argc, char **argv)
{
    (void)argv;
    return getchar() == 'a' && argc == 1 ? 0 : 2;
}

static int crash(int argc, char **argv)
{
    (void)argv;
    return raise(argc > 0 ? SIGKILL : 0);
}

/* One after another: the same files and messages, in one process; after trouble no more. */
static void in_turn(void)
{
    static const struct carn_filter filters[] = {
        {"say", say}, {"count", count}, {"peek", peek}, {"crash", crash}, {0}};
    struct carn_run run = {.inside = filters, .in_turn = true};
    struct carn_error err = {0};
    carn_run_add(&run, CARN_NO_STAGE, NULL, "say");
    carn_run_words(&run, "a", "b");
    for (int i = 0; i < 2; i++) {
        carn_run_add(&run, 0, NULL, "peek");
        int at = carn_run_add(&run, 0, NULL, "count");
        run.stages[at].out = i == 0 ? "slow" : "fast";
    }
    int rc = carn_run_all(&run, &err);
    char *slow = carn_text("slow", &err), *fast = carn_text("fast", &err);
    tap_ok(rc == 0 && slow != NULL && fast != NULL && strcmp(slow, "2 lines, 1 words\n") == 0 &&
               strcmp(slow, fast) == 0,
           "one after another, each reader gets all: %s", slow);
    tap_ok(strcmp(run.stages[0].said, "say: note: 3\n") == 0 && run.stages[1].said[0] == '\0',
           "and what each said is its own");
    free(slow);
    free(fast);
    (void)unlink("slow");
    carn_run_clear(&run);
    carn_run_add(&run, CARN_NO_STAGE, NULL, "say");
    carn_run_words(&run, "a", "b");
    carn_run_word(&run, "c");
    carn_run_add(&run, 0, NULL, "count");
    run.stages[carn_run_add(&run, 1, NULL, "count")].out = "slow";
    rc = carn_run_all(&run, &err);
    tap_ok(rc != 0 && run.stages[1].status == 2 && run.stages[2].status == 141 &&
               access("slow", F_OK) != 0,
           "after trouble none begins, and no file is left: %s", err.text);
    err = (struct carn_error){0};
    carn_run_clear(&run);
    run.stages[carn_run_add(&run, CARN_NO_STAGE, NULL, "crash")].out = "slow";
    carn_run_add(&run, 0, NULL, "say");
    rc = carn_run_all(&run, &err);
    tap_ok(rc != 0 && strcmp(err.text, "crash: ended by signal 9") == 0 &&
               access("slow", F_OK) != 0,
           "a filter that dies is the culprit: %s", err.text);
    carn_run_clear(&run);
}

/* A group has two texts a frame and more; a person in hundreds of frames was refused once. */
static void texts(void)
{
    struct carn_error err = {0};
    struct carn_step *step = carn_step_open("", "", "", NULL, &err);
    int right = 0;
    for (int i = 0; step != NULL && i < 3000; i++)
        right += atoi(step_text(step, "%d", i)) == i && step->why.kind == CARN_NONE;
    carn_step_close(step);
    tap_ok(right == 3000, "a step keeps as many texts as its frames need (%d)", right);
}

int main(void)
{
    char folder[] = "/tmp/carn-job-XXXXXX";
    if (mkdtemp(folder) == NULL || chdir(folder) != 0)
        return 1;
    ids();
    out_names();
    people();
    lines();
    files();
    folders();
    pipelines();
    inside();
    in_turn();
    depths();
    texts();
    reports();
    static const char *const made[] = {"kept", "link", "people.tsv", "failed.tsv", "result",
                                       "slow", "fast", "toned.ppm",  "skin.tsv"};
    for (size_t i = 0; i < sizeof made / sizeof *made; i++)
        (void)unlink(made[i]);
    (void)rmdir("elsewhere");
    if (chdir("/") != 0 || rmdir(folder) != 0)
        tap_ok(false, "nothing is left");
    return tap_end();
}
