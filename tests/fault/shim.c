/*
 * shim: makes one call fail, for tests: the n-th allocation, read, write, open, close, rename or
 * fsync of the program that it is preloaded into (LD_PRELOAD). Only for the GNU C library on x86-64
 * Linux.
 *
 * CARN_FAULT is `KIND N FD`: which call, counted from 1 (0: only count), and a descriptor that
 * holds a struct fault_count, to be mapped. Allocations are taken over by name. System calls are
 * trapped by the kernel (seccomp(2)), so that those which the C library makes for itself, as in
 * fread(3), count too; all but the one go on to the kernel from the one place that the filter lets
 * pass. Writes to standard error stay whole: there is no other place to tell anything.
 */
#define _GNU_SOURCE
#include "shim.h"

#include <errno.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <malloc.h>
#include <signal.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <ucontext.h>
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
    if (++count->seen != want)
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

/* ---- system calls ---- */

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

__attribute__((constructor)) static void start(void)
{
    unsigned of;
    int fd;
    const char *fault = getenv("CARN_FAULT");
    if (fault == NULL || sscanf(fault, "%u %lu %d", &of, &want, &fd) != 3)
        return;
    void *map = mmap(NULL, sizeof *count, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    if (map == MAP_FAILED)
        return;
    kind = (enum fault_kind)of;
    if (kind != FAULT_ALLOC && trap() != 0)
        return;
    count = map;
    count->ready = 1;
}
