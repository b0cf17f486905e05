/*
 * clones: hot loops compiled a second time for processors with AVX2; which one runs is chosen when
 * the program starts. Not for loops over whole samples, which became slower (measured). Sums keep
 * their order and nothing is contracted, so that both give the same bits.
 */
#ifndef CARN_CLONES_H
#define CARN_CLONES_H

#include <stdlib.h> /* __GLIBC__ */

#if defined(__x86_64__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__)
#define CARN_CLONES __attribute__((target_clones("default", "avx2")))
#else
#define CARN_CLONES
#endif

#endif
