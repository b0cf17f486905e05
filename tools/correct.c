/* carn-correct: one frame the whole way: card, readings, curve, corrected picture, and the proof.
 */
#define _XOPEN_SOURCE 700 /* mkdtemp, nftw */
#include "job/correct.h"
#include "base/tool.h"
#include "colour/separation.h"
#include "job/filters.h"

#include <errno.h>
#include <ftw.h>
#include <limits.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const struct carn_filter filters[] = {CARN_FILTERS(CARN_FILTER){0}};

/* ---- the folder ---- */

static int remove_one(const char *path, const struct stat *st, int type, struct FTW *at)
{
    (void)st;
    (void)type;
    (void)at;
    return remove(path);
}

/* Makes a folder, and those above it that are missing. */
static int make_folders(const char *path, struct carn_error *err)
{
    char part[PATH_MAX];
    size_t n = 0;
    do {
        n += strspn(path + n, "/");
        n += strcspn(path + n, "/");
        snprintf(part, sizeof part, "%.*s", (int)n, path);
        if (mkdir(part, 0777) != 0 && errno != EEXIST)
            return carn_fail_at(err, CARN_SYSTEM, path, "cannot be made: %s", strerror(errno));
    } while (path[n] != '\0');
    return 0;
}

/* A signal to end waits until the temporary folder is gone. */
static volatile sig_atomic_t stop;
static const int ending[] = {SIGINT, SIGTERM, SIGHUP};

static void on_signal(int number)
{
    stop = number;
}

static void catch_signals(void)
{
    struct sigaction old, act = {.sa_flags = 0};
    act.sa_handler = on_signal;
    for (size_t i = 0; i < sizeof ending / sizeof *ending; i++)
        if (sigaction(ending[i], NULL, &old) == 0 && old.sa_handler == SIG_DFL)
            (void)sigaction(ending[i], &act, NULL);
}

/* ---- what was said ---- */

/* When one filter of a pipeline fails, the next ones find standard input cut short. Such a line is
 * a consequence; the filter before has told the cause. */
static bool is_consequence(const char *line)
{
    const char *rest = strncmp(line, "carn-", 5) == 0 ? strstr(line, ": ") : NULL;
    return (rest != NULL && strncmp(rest, ": <stdin>: ", 11) == 0) ||
           strstr(line, ": frame cut short in row ") != NULL;
}

/* Prints a filter's line under the name carn-correct. */
static void tell_line(const char *line)
{
    size_t n =
        strncmp(line, "carn-", 5) == 0 ? 5 + strspn(line + 5, "abcdefghijklmnopqrstuvwxyz-") : 0;
    if (n > 0 && strncmp(line + n, ": ", 2) == 0)
        fprintf(stderr, "carn-correct%s\n", line + n);
    else
        fprintf(stderr, "%s\n", line);
}

/* Removes the temporary folder's name from a line and leaves the names of its files. */
static void shorten(char *line, const char *folder)
{
    size_t size = strlen(folder);
    for (char *at = line; size > 0 && (at = strstr(at, folder)) != NULL;)
        if (at[size] == '/')
            memmove(at, at + size + 1, strlen(at + size + 1) + 1);
        else
            at++;
}

/* What a note says of which file, without the program and the folders: each filter that meets a
 * picture without a profile says so. */
static const char *substance(const char *note)
{
    const char *about = strstr(note, ": note: ") + 8, *end = strstr(about, ": "), *name = end;
    while (name != NULL && name > about && name[-1] != '/')
        name--;
    return name != NULL ? name : about;
}

static bool is_note(const char *line)
{
    return strstr(line, ": note: ") != NULL;
}

/* Prints each note once, and each fault; a consequence only where no cause was told. True when
 * anything but notes was printed. */
static bool tell(char *said, const char *temporary)
{
    const char *consequence = NULL;
    bool told = false;
    char *rest = NULL;
    for (char *line = said != NULL ? strtok_r(said, "\n", &rest) : NULL; line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        shorten(line, temporary);
        if (is_note(line)) {
            bool again = false; /* strtok_r has ended each line before this one with a zero */
            for (const char *old = said; !again && old < line; old += strlen(old) + 1)
                again = is_note(old) && strcmp(substance(old), substance(line)) == 0;
            if (!again)
                fprintf(stderr, "%s\n", line);
        } else if (is_consequence(line)) {
            consequence = consequence != NULL ? consequence : line;
        } else {
            tell_line(line);
            told = true;
        }
    }
    if (!told && consequence != NULL)
        tell_line(consequence);
    return told || consequence != NULL;
}

enum { BOUND = 256 };

int main(int argc, char **argv)
{
    struct carn_correct asked = {.filters = filters, .stop = &stop};
    const struct carn_option options[] = {
        {'p', "patches", "PATCHES", "where skin is, and a card or backdrop; else faces are found",
         .text = &asked.patches},
        {'g', "card", "PICTURE", "picture of the grey card; else IN where a card patch serves it",
         .text = &asked.card},
        {'n', "neutral", "CURVE", "a neutral curve made before, in place of a card",
         .text = &asked.neutral},
        {'a', "aim", "AIM", "what the colour should be: common (default), hue, skin, or of -f",
         .text = &asked.aim},
        {'f', "aims", "AIMS", "table of the house's own aims", .text = &asked.aims},
        {'k', "separation", "SEPARATION", "CMYK profile file; else $CARN_SEPARATION, else our own",
         .text = &asked.separation},
        {'B', "no-black-point", NULL, "no black-point compensation", .flag = &asked.no_black_point},
        {BOUND, "bound", "none", "as far as the aim asks", .text = &asked.bound},
        {'W', "whole", NULL, "move the whole picture, for a cast over all of it; else only skin",
         .flag = &asked.whole},
        {'o', "profile", "PROFILE",
         "convert into this: srgb, oprgb, p3-d65, bt709, bt2020, romm or a file",
         .text = &asked.profile},
        {'b', "bits", "8|16", "depth of OUT; else as IN", .text = &asked.bits},
        {'q', "quality", "1..100", "JPEG: quality", .text = &asked.quality},
        {'z', "compression", "NAME", "TIFF: none, lzw, deflate, packbits or zstd; else as IN",
         .text = &asked.compression},
        {'w', "work", "FOLDER", "keep readings, curves and scores there", .text = &asked.folder},
        {0},
    };
    struct carn_tool tool = {.name = "carn-correct",
                             .operands = "IN OUT",
                             .purpose =
                                 "Corrects the skin of one picture and proves it with a table.",
                             .options = options};
    struct carn_corrected corrected = {0};
    char bin[4096], temporary[4096] = "";

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    bool go = key == 0 && tool.err.kind == CARN_NONE;
    if (go && argc - optind != 2)
        carn_fail(&tool.err, CARN_USAGE,
                  "one picture IN and one OUT, not %d names; see carn-correct --help",
                  argc - optind);
    else if (go && asked.card != NULL && asked.neutral != NULL)
        carn_fail(&tool.err, CARN_USAGE, "a card and a neutral curve contradict each other");
    else if (go && (strstr(argv[optind + 1], "{name}") != NULL ||
                    strstr(argv[optind + 1], "{n}") != NULL))
        carn_fail_at(&tool.err, CARN_USAGE, argv[optind + 1],
                     "one picture, so a plain name for OUT");
    go = go && tool.err.kind == CARN_NONE && carn_tool_folder(bin, sizeof bin, &tool.err) == 0;

    /* prepare */
    catch_signals();
    if (go && asked.folder != NULL) {
        go = make_folders(asked.folder, &tool.err) == 0;
    } else if (go) {
        const char *place = getenv("TMPDIR");
        snprintf(temporary, sizeof temporary, "%s/carn-correct.XXXXXX",
                 place != NULL && place[0] != '\0' ? place : "/tmp");
        asked.folder = mkdtemp(temporary);
        if (asked.folder == NULL) {
            go = carn_fail_at(&tool.err, CARN_SYSTEM, temporary, "cannot be made: %s",
                              strerror(errno)) == 0;
            temporary[0] = '\0';
        }
    }

    /* data */
    if (go) {
        char path[4096];
        struct carn_error ignored = {0};
        const char *separation =
            carn_tool_separation(asked.separation, path, sizeof path, &ignored);
        if (separation != NULL)
            carn_separation_keep(separation, !asked.no_black_point);
        asked.in = argv[optind];
        asked.out = argv[optind + 1];
        asked.bin = bin;
        bool done = carn_correct(&asked, &corrected, &tool.err) == 0;
        if (tell(corrected.said, temporary) && !done) {
            tool.err = (struct carn_error){0};
            tool.status = 2;
        } else if (done && corrected.delivered) {
            fprintf(stderr,
                    "carn-correct: %s: no face with the colour of skin found, delivered as it is\n",
                    asked.in);
        } else if (done) {
            done = carn_correct_show(asked.folder, &corrected, stdout, &tool.err) == 0;
        }
        if (done)
            tool.status = corrected.status;
    }

    /* clean up */
    carn_corrected_clear(&corrected);
    if (temporary[0] != '\0')
        (void)nftw(temporary, remove_one, 8, FTW_DEPTH | FTW_PHYS);
    if (stop != 0) {
        (void)signal(stop, SIG_DFL);
        (void)raise(stop);
    }
    return carn_tool_end(&tool);
}
