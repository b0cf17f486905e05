/*
 * shim: a library to preload (LD_PRELOAD) that makes one thing go wrong: the n-th of its kind.
 *
 * CARN_FAULT is "KIND N FILE": N counts from 1 (0: only count), FILE is mapped as struct
 * fault_count.
 *
 * alloc, read, write, open, close, rename (and link), fsync: the call fails, in this process
 * (sweep.c). Allocations are taken over by name. System calls are trapped by the kernel
 * (seccomp(2)), so that those which the C library makes for itself, as in fread(3), count too; all
 * but the one go on to the kernel from the one place that the filter lets pass. Writes to standard
 * error stay whole: there is no other place to tell anything. On x86-64 alone.
 *
 * start, move, full: counted over a whole tree of processes (tests/job-sweep.sh), so by name: a
 * filter would outlive exec(2), and its handler not. With start the program is killed before it has
 * done anything; with move before a file is renamed, removed or given a time; with full a file that
 * is opened for writing is on a full disk.
 */
#define _GNU_SOURCE
#include "shim.h"

#include <errno.h>
#include <fcntl.h>
#include <malloc.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

extern void *__libc_malloc(size_t);
extern void *__libc_calloc(size_t, size_t);
extern void *__libc_realloc(void *, size_t);
extern void *__libc_memalign(size_t, size_t);

static struct fault_count *count;
static enum fault_kind kind;
static unsigned long want;

/* Is this call of a kind the one? */
static bool strikes(enum fault_kind of)
{
    if (count == NULL || of != kind)
        return false;
    if (__atomic_add_fetch(&count->seen, 1, __ATOMIC_SEQ_CST) != want)
        return false;
    count->struck = 1;
    return true;
}

/* ---- allocations ---- */

static bool no_memory(void)
{
    if (!strikes(FAULT_ALLOC))
        return false;
    errno = ENOMEM;
    return true;
}

void *malloc(size_t size)
{
    return no_memory() ? NULL : __libc_malloc(size);
}

void *calloc(size_t number, size_t size)
{
    return no_memory() ? NULL : __libc_calloc(number, size);
}

void *realloc(void *old, size_t size)
{
    return no_memory() ? NULL : __libc_realloc(old, size);
}

void *reallocarray(void *old, size_t number, size_t size)
{
    size_t bytes;
    if (__builtin_mul_overflow(number, size, &bytes)) {
        errno = ENOMEM;
        return NULL;
    }
    return realloc(old, bytes);
}

void *memalign(size_t alignment, size_t size)
{
    return no_memory() ? NULL : __libc_memalign(alignment, size);
}

void *aligned_alloc(size_t alignment, size_t size)
{
    return memalign(alignment, size);
}

int posix_memalign(void **to, size_t alignment, size_t size)
{
    void *p = memalign(alignment, size);
    if (p == NULL)
        return ENOMEM;
    *to = p;
    return 0;
}

/* ---- system calls of this process ---- */

#ifdef __x86_64__
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <sys/prctl.h>
#include <ucontext.h>

/* The one place from which the filter lets the calls pass: number and five arguments. */
long fault_raw(long number, long a, long b, long c, long d, long e);
extern const char fault_raw_end[];
__asm__(".text\n"
        "fault_raw:\n"
        "  mov %rdi, %rax\n"
        "  mov %rsi, %rdi\n"
        "  mov %rdx, %rsi\n"
        "  mov %rcx, %rdx\n"
        "  mov %r8, %r10\n"
        "  mov %r9, %r8\n"
        "  syscall\n"
        "fault_raw_end:\n"
        "  ret\n");

static const struct {
    int number;
    enum fault_kind kind;
    int error;
} calls[] = {
    {SYS_read, FAULT_READ, EIO},          {SYS_pread64, FAULT_READ, EIO},
    {SYS_readv, FAULT_READ, EIO},         {SYS_write, FAULT_WRITE, ENOSPC},
    {SYS_pwrite64, FAULT_WRITE, ENOSPC},  {SYS_writev, FAULT_WRITE, ENOSPC},
    {SYS_open, FAULT_OPEN, EMFILE},       {SYS_openat, FAULT_OPEN, EMFILE},
    {SYS_close, FAULT_CLOSE, EIO},        {SYS_rename, FAULT_RENAME, EACCES},
    {SYS_renameat, FAULT_RENAME, EACCES}, {SYS_renameat2, FAULT_RENAME, EACCES},
    {SYS_linkat, FAULT_RENAME, EACCES},   {SYS_fsync, FAULT_FSYNC, EIO},
    {SYS_fdatasync, FAULT_FSYNC, EIO},
};
enum { CALLS = sizeof calls / sizeof *calls };

static void on_call(int signal, siginfo_t *info, void *context)
{
    greg_t *r = ((ucontext_t *)context)->uc_mcontext.gregs;
    int error = 0;
    (void)signal;
    for (size_t i = 0; i < CALLS; i++)
        if (calls[i].number == info->si_syscall) {
            bool told = calls[i].kind == FAULT_WRITE && r[REG_RDI] == STDERR_FILENO;
            if (!told && strikes(calls[i].kind))
                error = calls[i].error;
        }
    /* A close that fails has closed the file all the same (close(2)). */
    long done = 0;
    if (error == 0 || info->si_syscall == SYS_close)
        done =
            fault_raw(info->si_syscall, r[REG_RDI], r[REG_RSI], r[REG_RDX], r[REG_R10], r[REG_R8]);
    r[REG_RAX] = error != 0 ? -error : done;
}

static int trap(void)
{
    struct sock_filter filter[CALLS + 8];
    unsigned short n = 0;
    unsigned long pass = (unsigned long)fault_raw_end;
    struct sigaction act = {.sa_flags = SA_SIGINFO};
    act.sa_sigaction = on_call;
    sigemptyset(&act.sa_mask);
#define PUT(...) filter[n++] = (struct sock_filter)__VA_ARGS__
    PUT(BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, instruction_pointer)));
    PUT(BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (unsigned)(pass & 0xffffffff), 0, 2));
    PUT(BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, instruction_pointer) + 4));
    PUT(BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (unsigned)(pass >> 32), CALLS + 1, 0));
    PUT(BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)));
    for (unsigned i = 0; i < CALLS; i++)
        PUT(BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (unsigned)calls[i].number,
                     (unsigned char)(CALLS - i), 0));
    PUT(BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW));
    PUT(BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_TRAP));
    struct sock_fprog program = {n, filter};
    if (sigaction(SIGSYS, &act, NULL) != 0 || prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0)
        return -1;
    return prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program);
}
#else
static int trap(void)
{
    return -1;
}
#endif

/* ---- a tree of processes ---- */

static void die_when(enum fault_kind of)
{
    if (strikes(of))
        (void)raise(SIGKILL);
}

int rename(const char *from, const char *to)
{
    die_when(FAULT_MOVE);
    return (int)syscall(SYS_renameat2, AT_FDCWD, from, AT_FDCWD, to, 0);
}

int unlink(const char *path)
{
    die_when(FAULT_MOVE);
    return (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
}

int futimens(int fd, const struct timespec times[2])
{
    die_when(FAULT_MOVE);
    return (int)syscall(SYS_utimensat, fd, NULL, times, 0);
}

/* The file is there, and takes nothing. */
static void fill(int fd)
{
    struct stat st;
    if (fd < 0 || kind != FAULT_FULL || fstat(fd, &st) != 0 || !S_ISREG(st.st_mode) ||
        !strikes(FAULT_FULL))
        return;
    int flags = fcntl(fd, F_GETFD);
    int full = (int)syscall(SYS_openat, AT_FDCWD, "/dev/full", O_RDWR);
    if (full < 0 || dup2(full, fd) < 0)
        abort();
    (void)fcntl(fd, F_SETFD, flags);
    (void)close(full);
}

static int open_as(const char *path, int flags, va_list more)
{
    bool made = (flags & O_CREAT) != 0 || (flags & O_TMPFILE) == O_TMPFILE;
    mode_t mode = made ? (mode_t)va_arg(more, int) : 0;
    int fd = (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
    if ((flags & O_ACCMODE) != O_RDONLY)
        fill(fd);
    return fd;
}

int open(const char *path, int flags, ...)
{
    va_list more;
    va_start(more, flags);
    int fd = open_as(path, flags, more);
    va_end(more);
    return fd;
}

int open64(const char *path, int flags, ...)
{
    va_list more;
    va_start(more, flags);
    int fd = open_as(path, flags, more);
    va_end(more);
    return fd;
}

/* The C library opens the files of these by itself. */
FILE *fopen(const char *path, const char *mode)
{
    bool both = strchr(mode, '+') != NULL;
    int flags = both ? O_RDWR : mode[0] == 'r' ? O_RDONLY : O_WRONLY;
    flags |= mode[0] == 'w' ? O_CREAT | O_TRUNC : mode[0] == 'a' ? O_CREAT | O_APPEND : 0;
    flags |= (strchr(mode, 'e') != NULL ? O_CLOEXEC : 0) | (strchr(mode, 'x') != NULL ? O_EXCL : 0);
    int fd = open(path, flags, 0666);
    FILE *file = fd >= 0 ? fdopen(fd, mode) : NULL;
    if (fd >= 0 && file == NULL)
        (void)close(fd);
    return file;
}

FILE *fopen64(const char *path, const char *mode)
{
    return fopen(path, mode);
}

int mkstemp(char *path)
{
    int fd = mkostemp(path, 0);
    fill(fd);
    return fd;
}

int mkstemp64(char *path)
{
    return mkstemp(path);
}

/* ---- processes ---- */

extern pid_t __fork(void);

/* A filter that is forked starts here, and no constructor sees it. */
pid_t fork(void)
{
    pid_t pid = __fork();
    if (pid == 0)
        die_when(FAULT_START);
    return pid;
}

/* ---- which one ---- */

__attribute__((constructor)) static void start(void)
{
    const char *fault = getenv("CARN_FAULT");
    char word[16];
    int used = 0;
    if (fault == NULL || sscanf(fault, "%15s %lu %n", word, &want, &used) != 2)
        return;
    for (kind = FAULT_ALLOC; kind < FAULT_KINDS && strcmp(fault_kinds[kind], word) != 0;)
        kind++;
    int fd = open(fault + used, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (kind == FAULT_KINDS || fd < 0 || ftruncate(fd, sizeof *count) != 0)
        return;
    void *map = mmap(NULL, sizeof *count, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    (void)close(fd);
    if (map == MAP_FAILED || (kind > FAULT_ALLOC && kind < FAULT_CALLS && trap() != 0))
        return;
    count = map;
    count->ready = 1;
    die_when(FAULT_START);
}
