/*
 * text: how bytes become text on the stream and in tables: %HH escapes and base64 (RFC 4648).
 */
#ifndef CARN_TEXT_H
#define CARN_TEXT_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* %HH for every byte that escape says; the caller frees. */
char *carn_escape(const char *text, bool (*escape)(const char *at), struct carn_error *err);

/* Undoes it in place; a % that no two hex digits follow stays. Returns the new length. */
size_t carn_unescape(char *text);

/* Base64 without line breaks; the caller frees. carn_unbase64 fails on what is not base64. */
char *carn_base64(const void *bytes, size_t size, struct carn_error *err);
void *carn_unbase64(const char *text, size_t *size, struct carn_error *err);

#endif
