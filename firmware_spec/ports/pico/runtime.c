/* What a compiler may ask for in a freestanding program: division, by the chip's divider, and memory. Names and registers: Run-time ABI for
 * the Arm Architecture, IHI 0043, from memory. */
#include <stddef.h>
#include <stdint.h>

#include "rp2040.h"

#define DIVIDEND REG(SIO + 0x60)
#define DIVISOR REG(SIO + 0x64)
#define SIGNED_DIVIDEND REG(SIO + 0x68)
#define SIGNED_DIVISOR REG(SIO + 0x6C)
#define QUOTIENT REG(SIO + 0x70) /* read last (2.3.1.5) */
#define REMAINDER REG(SIO + 0x74)
#define DIVIDER_STATE REG(SIO + 0x78)

uint64_t __aeabi_uidivmod(uint32_t dividend, uint32_t divisor);
uint64_t __aeabi_idivmod(int32_t dividend, int32_t divisor);
uint32_t __aeabi_uidiv(uint32_t dividend, uint32_t divisor);
int32_t __aeabi_idiv(int32_t dividend, int32_t divisor);
void *memcpy(void *restrict to, const void *restrict from, size_t count);
void *memmove(void *to, const void *from, size_t count);
void *memset(void *to, int value, size_t count);
void __aeabi_memcpy(void *to, const void *from, size_t count);
void __aeabi_memset(void *to, size_t count, int value);
void __aeabi_memclr(void *to, size_t count);
void __aeabi_memclr4(void *to, size_t count);

/* Eight cycles after both have been written; quotient in the lower half, remainder in the upper, as r0 and r1 are to have them. */
static inline uint64_t divided(void)
{
    while ((DIVIDER_STATE & 1) == 0) {
    }
    uint32_t remainder = REMAINDER;
    return (uint64_t)remainder << 32 | QUOTIENT;
}

/* Interrupts wait, since they may divide too. */
uint64_t __aeabi_uidivmod(uint32_t dividend, uint32_t divisor)
{
    uint32_t before = hold_interrupts();
    DIVIDEND = dividend;
    DIVISOR = divisor;
    uint64_t both = divided();
    restore_interrupts(before);
    return both;
}

uint64_t __aeabi_idivmod(int32_t dividend, int32_t divisor)
{
    uint32_t before = hold_interrupts();
    SIGNED_DIVIDEND = (uint32_t)dividend;
    SIGNED_DIVISOR = (uint32_t)divisor;
    uint64_t both = divided();
    restore_interrupts(before);
    return both;
}

uint32_t __aeabi_uidiv(uint32_t dividend, uint32_t divisor)
{
    return (uint32_t)__aeabi_uidivmod(dividend, divisor);
}

int32_t __aeabi_idiv(int32_t dividend, int32_t divisor)
{
    return (int32_t)(uint32_t)__aeabi_idivmod(dividend, divisor);
}

static int are_words(const void *to, const void *from, size_t count)
{
    return (((uintptr_t)to | (uintptr_t)from | count) & 3) == 0;
}

/* This file is compiled without the habit of turning such loops into calls of themselves (Makefile). */
void *memcpy(void *restrict to, const void *restrict from, size_t count)
{
    if (are_words(to, from, count)) {
        for (size_t i = 0; i < count / 4; i++) {
            ((uint32_t *)to)[i] = ((const uint32_t *)from)[i];
        }
        return to;
    }
    for (size_t i = 0; i < count; i++) {
        ((uint8_t *)to)[i] = ((const uint8_t *)from)[i];
    }
    return to;
}

void *memmove(void *to, const void *from, size_t count)
{
    if ((uintptr_t)to <= (uintptr_t)from) {
        return memcpy(to, from, count);
    }
    while (count > 0) {
        count--;
        ((uint8_t *)to)[count] = ((const uint8_t *)from)[count];
    }
    return to;
}

void *memset(void *to, int value, size_t count)
{
    uint32_t word = (uint8_t)value * UINT32_C(0x01010101);
    if (are_words(to, to, count)) {
        for (size_t i = 0; i < count / 4; i++) {
            ((uint32_t *)to)[i] = word;
        }
        return to;
    }
    for (size_t i = 0; i < count; i++) {
        ((uint8_t *)to)[i] = (uint8_t)value;
    }
    return to;
}

void __aeabi_memcpy(void *to, const void *from, size_t count)
{
    memcpy(to, from, count);
}

void __aeabi_memset(void *to, size_t count, int value)
{
    memset(to, value, count);
}

void __aeabi_memclr(void *to, size_t count)
{
    memset(to, 0, count);
}

void __aeabi_memclr4(void *to, size_t count)
{
    memset(to, 0, count);
}
