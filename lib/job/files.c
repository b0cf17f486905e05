#define _XOPEN_SOURCE 700 /* lstat, utimensat */
/* SHA-256 by itself: through EVP a program loads all of libcrypto, a third of its start. */
#define OPENSSL_API_COMPAT 0x10100000L
#include "job/files.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <openssl/sha.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_SIZE = 4096, BLOCK = 1 << 20 };

int carn_folder(const char *path, struct carn_error *err)
{
    struct stat st;
    if (lstat(path, &st) != 0) {
        if (errno == ENOENT && mkdir(path, 0777) == 0)
            return 0;
        /* Another run that starts now may have made it meanwhile. */
        if (errno != EEXIST || lstat(path, &st) != 0)
            return carn_fail(err, CARN_SYSTEM, "%s: cannot be made: %s", path, strerror(errno));
    }
    if (S_ISLNK(st.st_mode))
        return carn_fail(err, CARN_INPUT, "%s: is a link; a job writes in its own folder only",
                         path);
    if (!S_ISDIR(st.st_mode))
        return carn_fail(err, CARN_INPUT, "%s: is no folder", path);
    if (access(path, W_OK | X_OK) != 0)
        return carn_fail(err, CARN_SYSTEM, "%s: cannot be written to: %s", path, strerror(errno));
    return 0;
}

bool carn_plain_name(const char *name)
{
    return name[0] != '\0' && strchr(name, '/') == NULL && strcmp(name, ".") != 0 &&
           strcmp(name, "..") != 0;
}

char *carn_text(const char *path, struct carn_error *err)
{
    FILE *from = fopen(path, "rb");
    if (from == NULL) {
        if (errno != ENOENT)
            carn_fail(err, CARN_SYSTEM, "%s: cannot open: %s", path, strerror(errno));
        return NULL;
    }
    size_t room = 4096, used = 0;
    char *text = carn_alloc(room + 1, 1, err);
    while (text != NULL) {
        used += fread(text + used, 1, room - used, from);
        if (used < room)
            break;
        char *grown = carn_grow(text, room * 2 + 1, 1, err);
        if (grown == NULL) {
            free(text);
            text = NULL;
            break;
        }
        text = grown;
        room *= 2;
    }
    if (text != NULL && ferror(from)) {
        carn_fail(err, CARN_SYSTEM, "%s: cannot read: %s", path, strerror(errno));
        free(text);
        text = NULL;
    }
    fclose(from);
    if (text != NULL)
        text[used] = '\0';
    return text;
}

static int write_part(const char *part, const char *text, struct carn_error *err)
{
    FILE *to = fopen(part, "wb");
    if (to == NULL)
        return carn_fail(err, CARN_SYSTEM, "%s: cannot write: %s", part, strerror(errno));
    bool good = fputs(text, to) >= 0 && fflush(to) == 0;
    int cause = errno;
    good = fclose(to) == 0 && good;
    if (good)
        return 0;
    (void)unlink(part);
    return carn_fail(err, CARN_SYSTEM, "%s: cannot write: %s", part, strerror(cause));
}

int carn_keep(const char *path, const char *text, struct carn_error *err)
{
    struct carn_error ignored = {0};
    char *old = carn_text(path, &ignored);
    bool same = old != NULL && strcmp(old, text) == 0;
    free(old);
    if (same)
        return 0;
    char part[PATH_SIZE];
    if (snprintf(part, sizeof part, "%s.part", path) >= (int)sizeof part)
        return carn_fail(err, CARN_LIMIT, "%s: the name is too long", path);
    if (write_part(part, text, err) != 0)
        return -1;
    if (rename(part, path) != 0) {
        carn_fail(err, CARN_SYSTEM, "%s: cannot be renamed into place: %s", path, strerror(errno));
        (void)unlink(part);
        return -1;
    }
    return 1;
}

int carn_page_open(struct carn_page *page, struct carn_error *err)
{
    *page = (struct carn_page){0};
    page->to = open_memstream(&page->text, &page->size);
    return page->to != NULL ? 0 : carn_fail(err, CARN_MEMORY, "out of memory");
}

int carn_page_close(struct carn_page *page, struct carn_error *err)
{
    if (page->to == NULL)
        return -1;
    bool good = !ferror(page->to);
    good = fclose(page->to) == 0 && good;
    page->to = NULL;
    return good ? 0 : carn_fail(err, CARN_MEMORY, "out of memory");
}

int carn_page_keep(struct carn_page *page, const char *path, struct carn_error *err)
{
    int rc = carn_page_close(page, err);
    if (rc == 0)
        rc = carn_keep(path, page->text, err);
    free(page->text);
    page->text = NULL;
    return rc;
}

int carn_touch(const char *path, struct carn_error *err)
{
    int fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0666);
    if (fd < 0 || futimens(fd, NULL) != 0) {
        carn_fail(err, CARN_SYSTEM, "%s: cannot write: %s", path, strerror(errno));
        if (fd >= 0)
            (void)close(fd);
        return -1;
    }
    (void)close(fd);
    return 0;
}

static bool is_leaving(const char *name)
{
    size_t n = strlen(name);
    return strncmp(name, ".carn-", 6) == 0 || (n > 5 && strcmp(name + n - 5, ".part") == 0);
}

/* Calls unlink for the files of folder; leavings alone, or all. */
static void clear_folder(const char *folder, bool all)
{
    DIR *dir = opendir(folder);
    if (dir == NULL)
        return;
    const struct dirent *entry;
    while ((entry = readdir(dir)) != NULL)
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0 &&
            (all || is_leaving(entry->d_name)))
            (void)unlinkat(dirfd(dir), entry->d_name, 0);
    closedir(dir);
}

void carn_sweep(const char *folder)
{
    clear_folder(folder, false);
}

void carn_remove_folder(const char *folder)
{
    clear_folder(folder, true);
    (void)rmdir(folder);
}

int carn_move(const char *from, const char *to, struct carn_error *err)
{
    int fd = open(from, O_RDONLY | O_CLOEXEC);
    bool synced = fd >= 0 && fsync(fd) == 0;
    int cause = errno;
    if (fd >= 0)
        (void)close(fd);
    if (!synced)
        return carn_fail(err, CARN_SYSTEM, "%s: cannot be synced to disk: %s", from,
                         strerror(cause));
    if (rename(from, to) != 0)
        return carn_fail(err, CARN_SYSTEM, "%s: cannot be renamed into place: %s", to,
                         strerror(errno));
    return 0;
}

bool carn_same_bytes(const char *first, const char *second)
{
    struct stat a, b;
    if (stat(first, &a) != 0 || stat(second, &b) != 0 || !S_ISREG(a.st_mode) ||
        !S_ISREG(b.st_mode) || a.st_size != b.st_size)
        return false;
    FILE *x = fopen(first, "rb"), *y = fopen(second, "rb");
    char *blocks = malloc(2 * (size_t)BLOCK);
    bool same = x != NULL && y != NULL && blocks != NULL;
    while (same) {
        size_t n = fread(blocks, 1, BLOCK, x), m = fread(blocks + BLOCK, 1, BLOCK, y);
        same = n == m && memcmp(blocks, blocks + BLOCK, n) == 0 && !ferror(x) && !ferror(y);
        if (n < BLOCK)
            break;
    }
    free(blocks);
    if (x != NULL)
        fclose(x);
    if (y != NULL)
        fclose(y);
    return same;
}

int carn_sha256(const char *path, char sum[65], struct carn_error *err)
{
    FILE *from = fopen(path, "rb");
    if (from == NULL)
        return carn_fail(err, CARN_SYSTEM, "%s: cannot open: %s", path, strerror(errno));
    unsigned char *block = carn_alloc(BLOCK, 1, err), digest[SHA256_DIGEST_LENGTH];
    SHA256_CTX context;
    bool good = block != NULL && SHA256_Init(&context) == 1;
    for (size_t n = 1; good && n > 0;) {
        n = fread(block, 1, BLOCK, from);
        good = !ferror(from) && SHA256_Update(&context, block, n) == 1;
    }
    good = good && SHA256_Final(digest, &context) == 1;
    for (size_t i = 0; good && i < sizeof digest; i++)
        snprintf(sum + 2 * i, 3, "%02x", digest[i]);
    free(block);
    fclose(from);
    return good ? 0 : carn_fail(err, CARN_INPUT, "%s: cannot be summed", path);
}

int carn_sha256_text(const void *text, size_t size, unsigned char sum[32], struct carn_error *err)
{
    SHA256_CTX context;
    bool good = SHA256_Init(&context) == 1 && SHA256_Update(&context, text, size) == 1 &&
                SHA256_Final(sum, &context) == 1;
    return good ? 0 : carn_fail(err, CARN_SYSTEM, "no SHA-256 of %zu bytes", size);
}

unsigned long long carn_text_sum(unsigned long long sum, const char *text)
{
    if (sum == 0)
        sum = 14695981039346656037ULL;
    for (; *text != '\0'; text++)
        sum = (sum ^ (unsigned char)*text) * 1099511628211ULL;
    return (sum ^ 0xff) * 1099511628211ULL; /* so that two texts do not run into each other */
}
