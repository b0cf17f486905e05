/*
 * md5: the MD5 of bytes (RFC 1321), where a format asks for it as a name; it protects nothing.
 */
#ifndef CARN_MD5_H
#define CARN_MD5_H

#include <stddef.h>

/* 16 bytes of sum for size bytes. */
void carn_md5(const void *bytes, size_t size, unsigned char sum[16]);

/* Its first 8 hex digits, which tell profiles apart in tables. */
void carn_md5_word(const void *bytes, size_t size, char word[9]);

#endif
