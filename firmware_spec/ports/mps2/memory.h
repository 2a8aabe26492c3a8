/* The two functions that a compiler may ask for anyway; a freestanding compiler need not have <string.h>. */
#ifndef MEMORY_H
#define MEMORY_H

#include <stddef.h>

void *memcpy(void *restrict to, const void *restrict from, size_t count);
void *memset(void *to, int value, size_t count);

#endif
