/* carn-job: runs a job folder and exits with the job's own status. */
#define _XOPEN_SOURCE 700 /* nftw, realpath */
#include "base/text.h"
#include "base/tool.h"
#include "job/drive.h"
#include "job/files.h"
#include "job/run.h"
#include "job/strays.h"

#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

enum { RULES = 256, BY };

struct job {
    struct carn_tool *tool;
    const char *folder, *target, *jobs, *by;
    char bin[4096], rules[4200], via[4200], count[16];
    bool dry;
    struct carn_settings settings;
    struct carn_plan plan;
};

/* ---- arguments ---- */

static int print_rules(struct carn_tool *tool)
{
    char path[4200];
    if (carn_tool_share("job.mk", path, sizeof path, &tool->err) != 0)
        return -1;
    /* make separates names at spaces, so they are escaped. */
    for (const char *c = path; *c != '\0'; c++)
        printf("%s%c", *c == ' ' ? "\\" : "", *c);
    putchar('\n');
    return 0;
}

static int check_operands(struct job *job, int count, char **words)
{
    static const char *const targets[] = {"default", "audit", "tidy", "clean-work"};
    struct carn_error *err = &job->tool->err;
    if (count < 1)
        return carn_fail(err, CARN_USAGE, "no job folder given; see carn-job --help");
    if (count > 2)
        return carn_fail(err, CARN_USAGE,
                         "one job folder and one target, not %d names; see carn-job --help", count);
    job->folder = words[0];
    job->target = count == 2 ? words[1] : "default";
    for (size_t i = 0; i < sizeof targets / sizeof *targets; i++)
        if (strcmp(targets[i], job->target) == 0)
            return 0;
    return carn_fail(err, CARN_USAGE, "unknown target '%s': default, audit, tidy or clean-work",
                     job->target);
}

static int check_jobs(struct job *job)
{
    double n = 0;
    if (job->jobs == NULL)
        return 0;
    if (carn_number(job->jobs, "-j", &n, &job->tool->err) != 0)
        return -1;
    if (n < 1 || n > 9999 || n != (double)(int)n)
        return carn_fail(&job->tool->err, CARN_USAGE, "-j '%s': a number of steps, 1 to 9999",
                         job->jobs);
    return 0;
}

/* ---- the folder ---- */

static int open_folder(struct job *job)
{
    struct carn_error *err = &job->tool->err;
    struct stat st;
    if (stat(job->folder, &st) != 0 || !S_ISDIR(st.st_mode))
        return carn_fail(err, CARN_INPUT, "%s: no such folder", job->folder);
    if (chdir(job->folder) != 0)
        return carn_fail(err, CARN_SYSTEM, "%s: %s", job->folder, strerror(errno));
    if (access("Makefile", R_OK) != 0)
        return carn_fail(err, CARN_USAGE, "%s: no Makefile here; carn-job-new makes a job folder",
                         job->folder);
    static const char *const folders[] = {"work", "work/tmp", "report", "report/pictures", "out"};
    for (size_t i = 0; i < sizeof folders / sizeof *folders; i++)
        if (carn_folder(folders[i], err) != 0)
            return -1;
    return 0;
}

/* Every process of a run inherits this descriptor, so the lock opens when the last of them ends,
 * however it ends. A second run waits, and then finds the work done. */
static int take_lock(struct job *job)
{
    int fd = open("work/.lock", O_RDWR | O_CREAT | O_NOFOLLOW, 0666);
    if (fd < 0)
        return carn_fail(&job->tool->err, CARN_SYSTEM, "work/.lock: %s", strerror(errno));
    if (flock(fd, LOCK_EX | LOCK_NB) == 0)
        return 0;
    carn_tool_note(job->tool, "lock", "%s: waiting for another run", job->folder);
    while (flock(fd, LOCK_EX) != 0)
        if (errno != EINTR)
            return carn_fail(&job->tool->err, CARN_SYSTEM, "work/.lock: %s", strerror(errno));
    return 0;
}

/* Hidden names at the top stay: the lock, and what was ever delivered. */
static int remove_one(const char *path, const struct stat *st, int kind, struct FTW *at)
{
    (void)st;
    (void)kind;
    if (at->level == 0 || (at->level == 1 && path[at->base] == '.'))
        return 0;
    return remove(path);
}

static int clean_work(struct carn_error *err)
{
    return nftw("work", remove_one, 16, FTW_DEPTH | FTW_PHYS) == 0
               ? 0
               : carn_fail(err, CARN_SYSTEM, "work: cannot be emptied: %s", strerror(errno));
}

static int set_environment(struct job *job)
{
    char folder[4096], path[16384];
    const char *old = getenv("PATH");
    if (getcwd(folder, sizeof folder) == NULL)
        return carn_fail(&job->tool->err, CARN_SYSTEM, "%s: %s", job->folder, strerror(errno));
    char temporary[4200];
    snprintf(temporary, sizeof temporary, "%s/work/tmp", folder);
    snprintf(path, sizeof path, "%s:%s", job->bin, old != NULL ? old : "/usr/bin:/bin");
    if (setenv("TMPDIR", temporary, 1) != 0 || setenv("PATH", path, 1) != 0 ||
        setenv("CARN_RULES", "work/rules.mk", 1) != 0 || setenv("CARN_LOCKED", "1", 1) != 0 ||
        setenv("LC_ALL", "C", 1) != 0)
        return carn_fail(&job->tool->err, CARN_MEMORY, "out of memory");
    return 0;
}

/* ---- settings and plan ---- */

static int read_settings(struct job *job)
{
    struct carn_error *err = &job->tool->err, why = {0};
    char *rules = carn_text(job->rules, err);
    if (rules == NULL || carn_keep("work/rules.mk", rules, err) < 0) {
        free(rules);
        return -1;
    }
    free(rules);
    struct carn_run run = {0};
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, "make");
    carn_run_words(&run, "--no-print-directory", "-s");
    carn_run_words(&run, "-f", "Makefile");
    carn_run_word(&run, "settings");
    run.stages[at].out = "work/settings";
    int rc = carn_run_all(&run, &why);
    if (rc == 0 && run.highest != 0)
        rc =
            carn_fail(&why, CARN_INPUT, "%s", run.stages[0].said != NULL ? run.stages[0].said : "");
    carn_run_clear(&run);
    if (rc != 0)
        return carn_fail_at(err, CARN_INPUT, job->folder, "its Makefile cannot be read: %s",
                            why.text);
    const char *aims = access("aims.tsv", F_OK) == 0 ? "aims.tsv" : NULL;
    return carn_settings_read("work/settings", aims, &job->settings, err);
}

static int make_plan(struct job *job)
{
    struct carn_error *err = &job->tool->err;
    if (carn_plan_make(&job->settings, job->dry, &job->plan, err) != 0)
        return -1;
    if (job->dry)
        return 0;
    if (carn_plan_write(&job->plan, job->bin, job->via, err) != 0 ||
        carn_strays_remember(&job->plan, err) != 0)
        return -1;
    return carn_keep("work/target", job->target, err) < 0 ? -1 : 0;
}

/* ---- running ---- */

static int say_anew(struct job *job)
{
    size_t count = 0, listed = 0;
    for (size_t i = 0; i < job->plan.count; i++)
        listed += job->plan.frames[i].listed ? 1 : 0;
    for (size_t i = 0; i < job->plan.note_count; i++) {
        printf("note: ");
        carn_show(stdout, job->plan.notes[i]);
        putchar('\n');
    }
    if (carn_plan_compare(&job->plan, stdout, &count, &job->tool->err) != 0)
        return -1;
    printf("%zu of %zu frames would be made anew or looked at again\n", count, listed);
    return 0;
}

static void report_anyway(const struct job *job, bool audit)
{
    struct carn_run run = {0};
    struct carn_error ignored = {0};
    char program[4200];
    snprintf(program, sizeof program, "%s/carn-job-report", job->bin);
    carn_run_add(&run, CARN_NO_STAGE, NULL, program);
    carn_run_word(&run, audit ? "--audit" : NULL);
    carn_run_word(&run, ".");
    (void)carn_run_all(&run, &ignored);
    carn_run_clear(&run);
}

/* The summary, and the job's status, which is the last line of summary.tsv. */
static int finish(struct job *job)
{
    struct carn_error *err = &job->tool->err;
    char *text = carn_text("report/summary.txt", err),
         *table = carn_text("report/summary.tsv", err);
    const char *status = table != NULL ? strstr(table, "\nstatus\t") : NULL;
    int rc = 0;
    if (text == NULL || status == NULL) {
        rc = carn_fail(err, CARN_INPUT, "report/summary.tsv: not there; run it again");
    } else {
        fputs(text, stdout);
        job->tool->status = status[8] == '0' ? 0 : status[8] == '1' ? 1 : 2;
    }
    free(text);
    free(table);
    return rc;
}

/* The CPUs that Slurm has, of `sinfo -o %C`: allocated/idle/other/total. */
static int count_slurm(struct job *job)
{
    struct carn_run run = {0};
    struct carn_error *err = &job->tool->err;
    int at = carn_run_add(&run, CARN_NO_STAGE, NULL, "sinfo");
    carn_run_words(&run, "-h", "-o");
    carn_run_word(&run, "%C");
    run.stages[at].out = "work/slurm";
    int rc = carn_run_all(&run, err);
    carn_run_clear(&run);
    char *text = rc == 0 ? carn_text("work/slurm", err) : NULL;
    const char *total = text != NULL ? strrchr(text, '/') : NULL;
    long cpus = total != NULL ? strtol(total + 1, NULL, 10) : 0;
    free(text);
    if (rc == 0 && (cpus < 1 || cpus > 9999))
        rc = carn_fail(err, CARN_INPUT, "--by slurm: sinfo counts no CPU");
    snprintf(job->count, sizeof job->count, "-j%ld", cpus);
    return rc;
}

/* slurm: each step through srun, make keeps the order; parallel=HOSTS: kind after kind. */
static int take_engine(struct job *job)
{
    static const char parallel[] = "parallel=";
    if (job->by == NULL || strncmp(job->by, parallel, sizeof parallel - 1) == 0)
        return 0;
    if (strcmp(job->by, "slurm") != 0)
        return carn_fail(&job->tool->err, CARN_USAGE, "--by '%s': slurm or parallel=HOSTS",
                         job->by);
    snprintf(job->via, sizeof job->via,
             "srun --quiet --nodes=1 --ntasks=1 --cpus-per-task=1 --job-name=carn");
    return 0;
}

static int run(struct job *job)
{
    bool audit = strcmp(job->target, "audit") == 0;
    const char *flags = getenv("MAKEFLAGS");
    /* Under a make that a person started, that make's -j counts; else the number of cores. */
    bool inherited = flags != NULL && strstr(flags, "-j") != NULL && job->jobs == NULL;
    if (job->jobs != NULL)
        (void)unsetenv("MAKEFLAGS");
    if (job->jobs != NULL)
        snprintf(job->count, sizeof job->count, "-j%s", job->jobs);
    else
        snprintf(job->count, sizeof job->count, "-j%ld", sysconf(_SC_NPROCESSORS_ONLN));
    const char *words[] = {"make",      "--no-print-directory",        "-s", "-k", "-f", "Makefile",
                           job->target, inherited ? NULL : job->count, NULL};
    char parallel[4300];
    snprintf(parallel, sizeof parallel, "%.*s/job-parallel",
             (int)(strrchr(job->rules, '/') - job->rules), job->rules);
    const char *hosts = job->by != NULL ? strchr(job->by, '=') : NULL;
    const char *parallel_words[] = {parallel, hosts != NULL ? hosts + 1 : "", job->target, NULL};
    const char *const *argv = hosts != NULL ? parallel_words : words;
    if (job->by != NULL && hosts == NULL && job->jobs == NULL && count_slurm(job) != 0)
        return -1;
    struct carn_drive drive = {
        .plan = &job->plan, .argv = argv, .audit = audit, .terminal = isatty(STDOUT_FILENO) == 1};
    fflush(stdout);
    int status = carn_drive_make(&drive, &job->tool->err);
    if (status < 0)
        return -1;
    if (status >= 128)
        return carn_fail(&job->tool->err, CARN_SYSTEM,
                         "%s: make was ended by signal %d; run it again", job->folder,
                         status - 128);
    if (status != 0)
        report_anyway(job, audit);
    if (finish(job) != 0)
        return -1;
    if (status != 0)
        carn_fail(&job->tool->err, CARN_INPUT, "%s: a step ended before it was done; run it again",
                  job->folder);
    return 0;
}

static int work(struct job *job)
{
    struct carn_error *err = &job->tool->err;
    if (open_folder(job) != 0 || carn_tool_folder(job->bin, sizeof job->bin, err) != 0 ||
        carn_tool_share("job.mk", job->rules, sizeof job->rules, err) != 0 ||
        set_environment(job) != 0 || take_lock(job) != 0)
        return -1;
    if (strcmp(job->target, "clean-work") == 0)
        return clean_work(err);
    static const char *const swept[] = {"work", "work/tmp", "report", "report/pictures"};
    for (size_t i = 0; i < sizeof swept / sizeof *swept; i++)
        carn_sweep(swept[i]);
    if (read_settings(job) != 0 || make_plan(job) != 0)
        return -1;
    if (job->dry)
        return say_anew(job);
    if (carn_strays_look(&job->plan, strcmp(job->target, "tidy") == 0, stdout, err) != 0)
        return -1;
    return strcmp(job->target, "tidy") == 0 ? 0 : run(job);
}

int main(int argc, char **argv)
{
    struct job job = {0};
    bool rules = false;
    const struct carn_option options[] = {
        {'j', "jobs", "N", "steps at once (the number of cores)", .text = &job.jobs},
        {'n', "dry-run", NULL, "say what would be made anew and why; make nothing",
         .flag = &job.dry},
        {BY, "by", "ENGINE", "run steps by slurm, or by parallel=HOSTS over ssh", .text = &job.by},
        {RULES, "rules", NULL, "print the path of the rules that a job's Makefile includes",
         .flag = &rules},
        {0},
    };
    struct carn_tool tool = {
        .name = "carn-job",
        .operands = "JOB [TARGET]",
        .purpose = "Runs the job in folder JOB: default (correct and deliver), audit (measure "
                   "only),\ntidy (remove delivered files that no row asks for) or clean-work.",
        .options = options};
    job.tool = &tool;

    /* arguments */
    int key = carn_tool_option(&tool, argc, argv);
    bool go = key == 0 && tool.err.kind == CARN_NONE;
    if (go && rules) {
        (void)print_rules(&tool);
        return carn_tool_end(&tool);
    }
    go = go && check_jobs(&job) == 0 && take_engine(&job) == 0 &&
         check_operands(&job, argc - optind, argv + optind) == 0;

    /* data */
    if (go)
        (void)work(&job);

    /* clean up */
    carn_plan_close(&job.plan);
    carn_settings_clear(&job.settings);
    return carn_tool_end(&tool);
}
