/* An ATmega328P at 16 MHz on the usual small 5 V board, as a board for fxp and fxl. README.md has its pins. */
#ifndef BOARD_H
#define BOARD_H

#include <avr/io.h>
#include <stdbool.h>
#include <stdint.h>

#include "fxp.h"

enum {
    MOST_SAMPLES = 16, /* a frame; two frames are kept */
    MOST_RATE_HZ = 16000,
    LIGHT_BITS = 10
};

/* For what writes program memory, which has to be there, and as much else as there is room for. */
#define IN_BOOT_SECTION __attribute__((section(".bootloader"), noinline))

/* joints.c: what a table joins to the pins (SPEC 3.10), once it has been found possible. */
enum joint_use { NOT_JOINED = 0, JOINT_LIGHTS = 0, JOINT_CONTACT = 3, JOINT_POSITION = 5, JOINT_CODED = 6, JOINT_PWM = 9 };
enum { FIRST_CONTACT_PIN = 14, CONTACT_PINS = 6, NO_PIN = 0 };

struct contact { /* of one of the pins A0 to A5 */
    uint8_t use;   /* NOT_JOINED, or what closes there: JOINT_CONTACT, JOINT_POSITION, JOINT_CODED */
    uint8_t what;  /* input or selector */
    uint8_t value; /* position, or the number of its bit */
};

struct joints {
    uint8_t light_pin[FXP_MAX_CHANNELS]; /* of each channel; NO_PIN */
    struct contact contact[CONTACT_PINS];
    bool sound;
};

/* False where this board cannot do them, with the offset of the first one in *fault. Any bytes may stand there. */
bool joints_read(struct joints *joints, fxp_table table, uint32_t *fault);

/* contacts.c: inputs and selectors. */
void contacts_open(const struct joints *joints);
void contacts_read(uint32_t *closed, uint32_t *struck, uint32_t now_ms); /* struck: since the last call */
bool contacts_turned(uint8_t *selector, uint8_t *position);              /* a selector that has, since it was last told; false: none */

/* pulse.c: the clock of the samples, and what it puts out: sound and light. */
void pulse_open(void);
void pulse_start(const struct fxp *player, const struct joints *joints); /* dark, and silent until pulse_samples has room */
int16_t *pulse_samples(void);                                            /* room for those of the next frame; 0 if it is not yet time */
void pulse_play(void);                                                   /* they are there */
void pulse_show(const uint16_t *duties, const struct fxp *player);       /* at the next begin of a light period, all at once */
uint8_t pulse_struck(void);                                              /* pins of port C that any sample's reading since the last call found low */

/* Port D with all lights off: the pull-up of the serial line's input stays. */
#define DARK_D (1 << PD0)
static inline void go_dark(void)
{
    PORTB = 0;
    PORTD = DARK_D;
}

/* line.c: the serial line, and milliseconds. */
void line_open(void);
bool line_millisecond(void);          /* true once a millisecond */
bool line_byte_in(uint8_t *byte);     /* looks at the next byte, if there is one */
void line_byte_taken(void);           /* ... and forgets it */
bool line_can_send(void);             /* whether there is room for a byte */
void line_send(uint8_t byte);

/* store.c: two pages of marks in EEPROM, two slots in program memory, by the offsets of fxl.h. SLOTS and SLOT_BYTES are the Makefile's. */
enum { STORE_PAGE_BYTES = 128 };

static inline uint16_t store_address(uint32_t offset) /* in program memory, of a place in a slot */
{
    return (uint16_t)(SLOTS + (uint16_t)offset - 2 * STORE_PAGE_BYTES);
}

bool store_erase(void *context, uint32_t offset);
bool store_write(void *context, uint32_t offset, const uint8_t *bytes, uint16_t count);
bool store_read(void *context, uint32_t offset, uint8_t *bytes, uint16_t count);

#endif
