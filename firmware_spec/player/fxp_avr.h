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

#define FXP_ROM PROGMEM
#define FXP_ROM_BYTE(address) pgm_read_byte(address)
#define FXP_ROM_WORD(address) pgm_read_word(address)

#endif
