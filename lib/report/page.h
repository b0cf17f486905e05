/*
 * page: the HTML pages of a job's report, made from its tables (carn-job(5)).
 *
 * Each is one file of HTML beside pictures/; nothing is loaded from outside. All text from tables
 * and files is escaped.
 */
#ifndef CARN_PAGE_H
#define CARN_PAGE_H

#include "base/error.h"
#include "report/shown.h"

/* report/index.html and report/contact.html, each only when it differs. -1 with a message. */
int carn_page_index(const struct carn_shown *shown, struct carn_error *err);
int carn_page_contact(const struct carn_shown *shown, struct carn_error *err);

/* Writes the page up to <body>, with the style sheet and the script of these names (in
 * share/carnation). Its content-security policy allows that script, by its SHA-256, and no other.
 * script NULL: none. */
int carn_page_head(FILE *to, const char *title, const char *script, struct carn_error *err);
/* The script, and the end of the page. */
int carn_page_end(FILE *to, const char *script, struct carn_error *err);

#endif
