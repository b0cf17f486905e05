#include "base/tool.h"

#include <errno.h>
#include <fcntl.h>
#include <getopt.h>
#include <math.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { OPTIONS = 32, HELP = 1000, VERSION = 1001 };

static int print_help(const struct carn_tool *tool)
{
    printf("usage: %s [OPTION]... %s\n%s\n\n", tool->name, tool->operands, tool->purpose);
    for (const struct carn_option *o = tool->options; o->name != NULL; o++) {
        char left[64], letter[8] = "    ";
        if (o->key < 256)
            snprintf(letter, sizeof letter, "-%c, ", (char)o->key);
        snprintf(left, sizeof left, "%s--%s%s%s", letter, o->name, o->arg != NULL ? " " : "",
                 o->arg != NULL ? o->arg : "");
        printf("  %-30s %s\n", left, o->help);
    }
    printf("  %-30s %s\n  %-30s %s\n", "    --help", "print this and exit", "    --version",
           "print the version and exit");
    return -1;
}

/* getopt's own tables, built from the program's list. */
static void build_tables(const struct carn_option *options, char *letters,
                         struct option longs[OPTIONS + 3])
{
    size_t n = 0;
    *letters++ = '+'; /* POSIX: the first operand ends the options */
    *letters++ = ':';
    for (const struct carn_option *o = options; o->name != NULL && n < OPTIONS; o++) {
        longs[n++] = (struct option){o->name, o->arg != NULL, NULL, o->key};
        if (o->key >= 256)
            continue;
        *letters++ = (char)o->key;
        if (o->arg != NULL)
            *letters++ = ':';
    }
    *letters = '\0';
    longs[n++] = (struct option){"help", 0, NULL, HELP};
    longs[n++] = (struct option){"version", 0, NULL, VERSION};
    longs[n] = (struct option){0};
}

/* A standard stream that was closed would be the next file opened, and be written to as output.
 * In its place stands one that fails at the first use. */
static void fill_standard_streams(void)
{
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) == -1 && errno == EBADF)
            (void)open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
}

static void pass_over(int number)
{
    (void)number;
}

/* A file over the user's limit is a failed write like another, with its line and status. Caught
 * and not ignored: what this process starts has the default again. */
static void outlive_file_limit(void)
{
    struct sigaction old, act = {.sa_flags = SA_RESTART};
    act.sa_handler = pass_over;
    sigemptyset(&act.sa_mask);
    if (sigaction(SIGXFSZ, NULL, &old) == 0 && old.sa_handler == SIG_DFL)
        (void)sigaction(SIGXFSZ, &act, NULL);
}

/* Puts the value of the option just read in its place; false when it has none. */
static bool place(const struct carn_tool *tool, int key)
{
    const struct carn_option *o = tool->options;
    while (o->name != NULL && o->key != key)
        o++;
    if (o->text != NULL)
        *o->text = tool->value;
    if (o->flag != NULL)
        *o->flag = true;
    return o->text != NULL || o->flag != NULL;
}

int carn_tool_option(struct carn_tool *tool, int argc, char **argv)
{
    fill_standard_streams();
    outlive_file_limit();
    char letters[2 * OPTIONS + 3];
    struct option longs[OPTIONS + 3];
    build_tables(tool->options, letters, longs);
    opterr = 0;
    int at, key;
    do {
        at = optind;
        key = getopt_long(argc, argv, letters, longs, NULL);
        tool->value = optarg;
    } while (place(tool, key));
    if (key == -1)
        return 0;
    if (key == HELP)
        return print_help(tool);
    if (key == VERSION) {
        printf("%s %s\n", tool->name, CARN_VERSION);
        return -1;
    }
    if (key != '?' && key != ':')
        return key;
    const char *text = argv[at < argc ? at : argc - 1];
    char letter[3] = {'-', (char)optopt, '\0'};
    return carn_fail(&tool->err, CARN_USAGE, "%s '%s'; see %s --help",
                     key == ':' ? "no argument after option" : "unknown or wrongly used option",
                     strncmp(text, "--", 2) == 0 ? text : letter, tool->name);
}

int carn_tool_no_operand(struct carn_tool *tool, int argc, char **argv)
{
    if (optind < argc && strcmp(argv[optind], "-") == 0)
        optind++;
    if (optind >= argc)
        return 0;
    return carn_fail(&tool->err, CARN_USAGE,
                     "unexpected argument '%s'; frames come on standard input", argv[optind]);
}

int carn_tool_trouble(struct carn_tool *tool)
{
    char line[sizeof tool->err.where + 2 + sizeof tool->err.text];
    carn_error_line(&tool->err, line, sizeof line);
    fprintf(stderr, "%s: %s\n", tool->name,
            tool->err.kind != CARN_NONE ? line : "failed without a message");
    tool->err = (struct carn_error){0};
    return tool->status = 2;
}

void carn_tool_note(struct carn_tool *tool, const char *kind, const char *format, ...)
{
    for (size_t i = 0; i < tool->noted; i++)
        if (strcmp(tool->kinds[i], kind) == 0)
            return;
    if (tool->noted < sizeof tool->kinds / sizeof *tool->kinds)
        tool->kinds[tool->noted++] = kind;
    char text[sizeof tool->err.text];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    carn_one_line(text);
    fprintf(stderr, "%s: note: %s\n", tool->name, text);
}

void carn_tool_note_of(struct carn_tool *tool, const char *kind, const char *where,
                       const char *text)
{
    if (text != NULL)
        carn_tool_note(tool, kind, "%s: %s", where, text);
}

int carn_tool_end(struct carn_tool *tool)
{
    if (tool->err.kind != CARN_NONE)
        carn_tool_trouble(tool);
    errno = 0;
    bool failed = fflush(stdout) != 0 || ferror(stdout);
    /* carn_out_finish has closed the descriptor where frames were written: EBADF is no news. */
    if (failed || (close(STDOUT_FILENO) != 0 && errno != EBADF)) {
        carn_fail_at(&tool->err, CARN_SYSTEM, "<stdout>", "cannot write: %s",
                     errno != 0 ? strerror(errno) : "an earlier write failed");
        carn_tool_trouble(tool);
    }
    return tool->status;
}

int carn_tool_folder(char *path, size_t size, struct carn_error *err)
{
    ssize_t got = readlink("/proc/self/exe", path, size - 1);
    if (got <= 0)
        return carn_fail(err, CARN_SYSTEM, "cannot find the program's own folder: %s",
                         strerror(errno));
    path[got] = '\0';
    char *slash = strrchr(path, '/');
    if (slash != NULL)
        *slash = '\0';
    return 0;
}

int carn_tool_share(const char *file, char *path, size_t size, struct carn_error *err)
{
    char folder[4096];
    if (carn_tool_folder(folder, sizeof folder, err) != 0)
        return -1;
    int n = snprintf(path, size, "%s/../share/carnation/%s", folder, file);
    if (n > 0 && (size_t)n < size && access(path, R_OK) == 0)
        return 0;
    return carn_fail_at(err, CARN_SYSTEM, file, "not found in %s/../share/carnation", folder);
}

const char *carn_tool_separation(const char *option, char *path, size_t size,
                                 struct carn_error *err)
{
    const char *environment = getenv("CARN_SEPARATION");
    if (option != NULL)
        return option;
    if (environment != NULL && environment[0] != '\0')
        return environment;
    return carn_tool_share("coated-late-black.icc", path, size, err) == 0 ? path : NULL;
}

int carn_tool_number(struct carn_tool *tool, const char *what, double least, double most,
                     double *value)
{
    if (carn_number(tool->value, what, value, &tool->err) != 0)
        return -1;
    if (!(*value >= least && *value <= most))
        return carn_fail(&tool->err, CARN_USAGE, "%s: '%s' is not from %g to %g", what, tool->value,
                         least, most);
    return 0;
}

int carn_tool_whole(struct carn_tool *tool, const char *what, size_t least, size_t most,
                    size_t *value)
{
    double v = 0;
    if (carn_number(tool->value, what, &v, &tool->err) != 0)
        return -1;
    if (!(v >= (double)least && v <= (double)most && v == floor(v)))
        return carn_fail(&tool->err, CARN_USAGE, "%s: '%s' is not a whole number from %zu to %zu",
                         what, tool->value, least, most);
    *value = (size_t)v;
    return 0;
}

int carn_tool_choice(struct carn_tool *tool, const char *what, const char *const *words)
{
    char list[256] = "";
    for (int i = 0; words[i] != NULL; i++) {
        size_t used = strlen(list);
        if (strcmp(tool->value, words[i]) == 0)
            return i;
        snprintf(list + used, sizeof list - used, "%s%s", i > 0 ? ", " : "", words[i]);
    }
    return carn_fail(&tool->err, CARN_USAGE, "%s: '%s' is not one of %s", what, tool->value, list);
}

int carn_number(const char *text, const char *what, double *value, struct carn_error *err)
{
    char *end = NULL;
    double v = strtod(text, &end);
    if (end == text || *end != '\0' || !isfinite(v) || strpbrk(text, "xX") != NULL)
        return carn_fail(err, CARN_USAGE, "%s: '%s' is not a number", what, text);
    *value = v;
    return 0;
}
