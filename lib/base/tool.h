/*
 * tool: what every program's main shares: options, --help, --version, messages, exit status.
 *
 * A main is four steps: arguments, prepare, data, clean up; it ends with carn_tool_end().
 */
#ifndef CARN_TOOL_H
#define CARN_TOOL_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

#define CARN_VERSION "0.1.0"

/* One option. key is the short letter, or 256 and up for one that has only a long form; arg is the
 * argument's name in the help, NULL for none. text: where the argument goes, as it is typed. flag:
 * what becomes true. An option with neither is the main's to take. A list ends with {0}. */
struct carn_option {
    int key;
    const char *name;
    const char *arg;
    const char *help;
    const char **text;
    bool *flag;
};

/* Starts with name, operands, purpose and options set; the rest zero. */
struct carn_tool {
    const char *name;     /* "carn-sample" */
    const char *operands; /* "[READINGS]", "FILE...", "" */
    const char *purpose;  /* one line for --help */
    const struct carn_option *options;
    struct carn_error err;
    const char *value; /* the argument of the option just returned */
    int status;        /* 0, 1 or 2: the highest so far */
    size_t noted;      /* kinds of notes already said */
    const char *kinds[16];
};

/*
 * Takes the options that have a text or a flag, up to the next one that has neither, and returns
 * its key: 0 when there are no more (optind is then the first operand), -1 to stop: help or version
 * was asked for and printed, or the usage was wrong and tool->err says how.
 */
int carn_tool_option(struct carn_tool *tool, int argc, char **argv);

/* For a program that takes no operand but `-`, standard input; called after the last option. -1
 * with a message in tool->err when something else stands there. */
int carn_tool_no_operand(struct carn_tool *tool, int argc, char **argv);

/* `carn-x: TEXT` on standard error from tool->err, which is emptied; status becomes 2. Returns 2.
 */
int carn_tool_trouble(struct carn_tool *tool);

/* `carn-x: note: ...` once a run and kind; never changes the status. kind outlives the tool. */
__attribute__((format(printf, 3, 4))) void carn_tool_note(struct carn_tool *tool, const char *kind,
                                                          const char *format, ...);

/* The same for what the library has to tell of a file or frame; nothing when text is NULL. */
void carn_tool_note_of(struct carn_tool *tool, const char *kind, const char *where,
                       const char *text);

/* Reports what is in tool->err, flushes and closes standard output (it may fail there: status 2),
 * and returns the exit status. The last line of every main. */
int carn_tool_end(struct carn_tool *tool);

/* The folder of the running program, without a slash at its end. -1 with a message. */
int carn_tool_folder(char *path, size_t size, struct carn_error *err);

/* The path of a file that comes with the programs: under ../share/carnation of the program, in the
 * build folder as in an installation. -1 with a message naming the place. */
int carn_tool_share(const char *file, char *path, size_t size, struct carn_error *err);

/* Where the separation is: the -k option's file, else $CARN_SEPARATION, else the project's own.
 * NULL with a message; what it gives is the option's, the environment's or in path. */
const char *carn_tool_separation(const char *option, char *path, size_t size,
                                 struct carn_error *err);

/* The argument of the option that was read last as a number, or a whole number, from least to most.
 * -1 with a message that names what. */
int carn_tool_number(struct carn_tool *tool, const char *what, double least, double most,
                     double *value);
int carn_tool_whole(struct carn_tool *tool, const char *what, size_t least, size_t most,
                    size_t *value);

/* The argument of the option that was read last as one of words, a list that ends with NULL: its
 * place in the list. -1 with a message that names what and the words. */
int carn_tool_choice(struct carn_tool *tool, const char *what, const char *const *words);

/* Numbers as people type them, the whole text: -1 with a message that names what and the text. */
int carn_number(const char *text, const char *what, double *value, struct carn_error *err);

#endif
