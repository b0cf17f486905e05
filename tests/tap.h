/*
 * tap: what every unit test shares. Prints TAP (Test Anything Protocol).
 */
#ifndef CARN_TAP_H
#define CARN_TAP_H

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>

static int tap_count, tap_failed;

__attribute__((format(printf, 2, 3))) static inline bool tap_ok(bool good, const char *format, ...)
{
    va_list args;
    printf("%sok %d - ", good ? "" : "not ", ++tap_count);
    va_start(args, format);
    vprintf(format, args);
    va_end(args);
    putchar('\n');
    tap_failed += !good;
    return good;
}

static inline int tap_end(void)
{
    printf("1..%d\n", tap_count);
    return tap_failed > 0;
}

#endif
