/*
 * html: text and numbers in a page. Whatever came from a file, a table or a person goes through
 * carn_html: so no text can close an element or an attribute, or send control bytes to a terminal.
 */
#ifndef CARN_HTML_H
#define CARN_HTML_H

#include <stdio.h>

/* In an element or a quoted attribute alike. Control bytes and what is no UTF-8 are shown as ?. */
void carn_html(FILE *to, const char *text);

/* <th scope="col"> for each name that is not empty; NULL ends them. Then <td>. */
void carn_html_heads(FILE *to, const char *const *names);
void carn_html_cell(FILE *to, double value, int decimals);
void carn_html_text_cell(FILE *to, const char *text);

#endif
