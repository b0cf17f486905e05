/*
 * text: how bytes become text on the stream and in tables, %HH escapes and base64 (RFC 4648), and
 * what of a text may be shown.
 */
#ifndef CARN_TEXT_H
#define CARN_TEXT_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* %HH for every byte that escape says; the caller frees. */
char *carn_escape(const char *text, bool (*escape)(const char *at), struct carn_error *err);

/* Undoes it in place; a % that no two hex digits follow stays. Returns the new length. */
size_t carn_unescape(char *text);

/* Base64 without line breaks; the caller frees. carn_unbase64 fails on what is not base64. */
char *carn_base64(const void *bytes, size_t size, struct carn_error *err);
void *carn_unbase64(const char *text, size_t *size, struct carn_error *err);

/* Bytes of the UTF-8 character at text (RFC 3629, as far as terminals care); 0 when it is none. */
size_t carn_character(const char *text);

/* Is a character of so many bytes a control: C0, DEL or C1? */
bool carn_is_control(const char *text, size_t size);

/* Prints a text for people: what could steer a terminal (controls, and what is no UTF-8) is shown
 * as '?'. */
void carn_show(FILE *to, const char *text);

/* How many places carn_show takes for a text, one a character. */
int carn_places(const char *text);

/* The width that printf's %-*s needs, which counts bytes, to fill so many places with it. */
int carn_fill(const char *text, int places);

#endif
