/* An ATmega328P at 16 MHz as a board for fxp and fxl. README.md has its pins. */
#ifndef BOARD_H
#define BOARD_H

#include <stdbool.h>
#include <stdint.h>

#include "fxp.h"

enum {
    BOARD_MOST_SAMPLES = 16, /* a frame; two frames are kept */
    BOARD_MOST_RATE_HZ = 16000,
    BOARD_POSITIONS = 4, /* of selector 0 */
    BOARD_NO_POSITION = 255
};

/* hardware.c: pins, timers, serial line. */
void board_open(void);
bool board_millisecond(void);                                  /* true once a millisecond */
bool board_byte_in(uint8_t *byte);                             /* looks at the next byte from the line, if there is one */
void board_byte_taken(void);                                   /* ... and forgets it */
bool board_can_send(void);                                     /* whether there is room for a byte */
void board_send(uint8_t byte);
void board_contacts(uint32_t *closed, uint32_t *struck);       /* struck: since the last call */
uint8_t board_position(void);                                  /* of selector 0; none between two of them */
void board_start_clock(uint16_t rate_hz, uint8_t samples);     /* forgets samples that have not been heard */
int16_t *board_samples(void);                                  /* room for those of the next frame; 0 if it is not yet time */
void board_play(void);                                         /* they are there */
void board_show(const uint16_t *duties, uint8_t count, uint8_t bits);

/* store.c: two pages of marks in EEPROM, two slots in program memory, by the offsets of fxl.h. */
enum { STORE_PAGE_BYTES = 128, STORE_SLOT_BYTES = 4096, STORE_SLOTS = 0x5E00 };

static inline uint16_t store_address(uint32_t offset) /* in program memory, of a place in a slot */
{
    return (uint16_t)(STORE_SLOTS + (uint16_t)offset - 2 * STORE_PAGE_BYTES);
}

bool store_erase(void *context, uint32_t offset);
bool store_write(void *context, uint32_t offset, const uint8_t *bytes, uint16_t count);
bool store_read(void *context, uint32_t offset, uint8_t *bytes, uint16_t count);

#endif
