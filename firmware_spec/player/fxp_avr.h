/* Tables in the program memory of an AVR (avr-gcc: -include fxp_avr.h): an fxp_table is an address there. Constants stay there too. */
#ifndef FXP_AVR_H
#define FXP_AVR_H

#include <avr/pgmspace.h>
#include <stdint.h>

#ifdef RAMPZ
typedef uint32_t fxp_table;
#define FXP_TABLE_BYTE(table, offset) pgm_read_byte_far((table) + (offset))
#define FXP_TABLE_HALF(table, offset) pgm_read_word_far((table) + (offset))
#else /* at most 64 KB of program memory: 16 bits reach all of it */
typedef uint16_t fxp_table;
#define FXP_TABLE_BYTE(table, offset) pgm_read_byte((uint16_t)((table) + (uint16_t)(offset)))
#define FXP_TABLE_HALF(table, offset) pgm_read_word((uint16_t)((table) + (uint16_t)(offset)))
#endif

#define FXP_BLOCK 8 /* RAM is short */
#define FXP_SMALL   /* so is program memory */

/* fxp_value (fxp_parts.h) from products of 8 bits, the only ones that the chip has; in C it takes four times as long. */
#define FXP_OWN_VALUE

/* a + (b - a) * q / 256, rounded down: b * q and a * q have 24 bits, of whose difference the upper 16 are added to a. */
static inline int16_t fxp_avr_between(int16_t a, int16_t b, uint8_t q)
{
    uint8_t first, second, third;
    __asm__("mul %A[b], %[q]" "\n\t"
            "mov %[first], r0" "\n\t"
            "mov %[second], r1" "\n\t"
            "mulsu %B[b], %[q]" "\n\t"
            "mov %[third], r1" "\n\t"
            "add %[second], r0" "\n\t"
            "clr r0" "\n\t"
            "adc %[third], r0" "\n\t"
            "mul %A[a], %[q]" "\n\t"
            "sub %[first], r0" "\n\t"
            "sbc %[second], r1" "\n\t"
            "sbci %[third], 0" "\n\t"
            "mulsu %B[a], %[q]" "\n\t"
            "sub %[second], r0" "\n\t"
            "sbc %[third], r1" "\n\t"
            "add %A[a], %[second]" "\n\t"
            "adc %B[a], %[third]" "\n\t"
            "clr r1"
            : [first] "=&d"(first), [second] "=&d"(second), [third] "=&d"(third), [a] "+a"(a)
            : [b] "a"(b), [q] "a"(q)
            : "r0");
    return a;
}

/* value * gain / 4096, rounded down, for a gain of 0..32767: the product's lowest byte is not needed, and its others are moved by 4 bits. */
static inline int32_t fxp_avr_gained(int16_t value, int16_t gain)
{
    int32_t product;
    __asm__("mul %A[value], %A[gain]" "\n\t"
            "mov %A[product], r1" "\n\t"
            "mulsu %B[value], %B[gain]" "\n\t"
            "mov %B[product], r0" "\n\t"
            "mov %C[product], r1" "\n\t"
            "clr %D[product]" "\n\t"
            "mulsu %B[value], %A[gain]" "\n\t"
            "sbc %C[product], %D[product]" "\n\t" /* the carry is its sign */
            "add %A[product], r0" "\n\t"
            "adc %B[product], r1" "\n\t"
            "adc %C[product], %D[product]" "\n\t"
            "mul %A[value], %B[gain]" "\n\t"
            "add %A[product], r0" "\n\t"
            "adc %B[product], r1" "\n\t"
            "adc %C[product], %D[product]" "\n\t"
            "clr r1" "\n\t"
            "ldi %D[product], 4" "\n"
            "1:\t"
            "asr %C[product]" "\n\t"
            "ror %B[product]" "\n\t"
            "ror %A[product]" "\n\t"
            "dec %D[product]" "\n\t"
            "brne 1b" "\n\t"
            "sbrc %C[product], 7" "\n\t"
            "com %D[product]"
            : [product] "=&d"(product)
            : [value] "a"(value), [gain] "a"(gain)
            : "r0");
    return product;
}

static inline int32_t fxp_value(int16_t a, int16_t b, uint32_t part, int16_t gain)
{
    return fxp_avr_gained(fxp_avr_between(a, b, (uint8_t)(part >> 8)), gain);
}

#define FXP_ROM PROGMEM
#define FXP_ROM_BYTE(address) pgm_read_byte(address)
#define FXP_ROM_WORD(address) pgm_read_word(address)

#endif
