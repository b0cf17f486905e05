/*
 * files: where a job may write, and small files that appear whole or not at all.
 *
 * All paths are relative to the job folder, which is the working folder. Nothing outside work/,
 * report/ and out/ of it is ever written.
 */
#ifndef CARN_FILES_H
#define CARN_FILES_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* A real folder under this name, made when it is missing; a link or anything else is refused. */
int carn_folder(const char *path, struct carn_error *err);

/* Is the name that of a file in a folder: not empty, no slash, not . and not ..? */
bool carn_plain_name(const char *name);

/* A whole small file, with a zero byte after it; the caller frees. NULL without a message when
 * there is no such file, with one when it cannot be read. */
char *carn_text(const char *path, struct carn_error *err);

/* Writes text as the file at path unless it holds just that: 1 written, 0 it held it, -1 with a
 * message. Written beside it as PATH.part and renamed. */
int carn_keep(const char *path, const char *text, struct carn_error *err);

/* A text that grows as it is printed to. carn_page_keep closes it and does as carn_keep. */
struct carn_page {
    FILE *to;
    char *text;
    size_t size;
};
int carn_page_open(struct carn_page *page, struct carn_error *err);
int carn_page_close(struct carn_page *page, struct carn_error *err); /* text is the caller's then */
int carn_page_keep(struct carn_page *page, const char *path, struct carn_error *err);

/* A time of change now, and an empty file when there was none. */
int carn_touch(const char *path, struct carn_error *err);

/* Removes files ending in .part, and those that begin with .carn-, in a folder: what a killed
 * process leaves. */
void carn_sweep(const char *folder);

/* Removes a folder under work/ with the files in it. */
void carn_remove_folder(const char *folder);

/* The bytes on the disk, then renamed. */
int carn_move(const char *from, const char *to, struct carn_error *err);

/* Equal bytes; false also when either cannot be read. */
bool carn_same_bytes(const char *first, const char *second);

/* SHA-256 of a file in hex, 65 bytes with the zero. */
int carn_sha256(const char *path, char sum[65], struct carn_error *err);

/* That of bytes in memory, as bytes. */
int carn_sha256_text(const void *text, size_t size, unsigned char sum[32], struct carn_error *err);

/* The FNV-1a sum of a text, 64 bits: for telling changed requests, not for proof. */
unsigned long long carn_text_sum(unsigned long long sum, const char *text);

#endif
