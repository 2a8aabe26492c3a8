/* What is joined to the pins of this board (SPEC 3.10), once it has been found possible. */
#ifndef JOINTS_H
#define JOINTS_H

#include "fxp.h"

enum joint_use {
    JOINT_LIGHTS, JOINT_SHIFT, JOINT_DRIVERS, JOINT_CONTACT, JOINT_CELLS, JOINT_POSITION, JOINT_CODED, JOINT_VOLUME, JOINT_I2S, JOINT_PWM,
    JOINT_AMPLIFIER, JOINT_COUNTS /* takes none */, JOINT_USES
};
enum { JOINT_BYTES = 4, JOINTS_MOST = 26 /* each takes a pin */, JOINT_CHAINS_MOST = 2, FIRST_ANALOGUE_PIN = 26, ANALOGUE_PINS = 4 };

/* Who has which of the chip's twelve DMA channels, and how many. Channel 9 and above are for the rest of the firmware. */
enum { LIGHT_DMA = 0 /* 6 */, SOUND_DMA = 6 /* 2 */, CONTACTS_DMA = 8 };

struct joint {
    uint8_t use;   /* enum joint_use */
    uint8_t what;  /* first channel, input or selector */
    uint8_t pin;   /* the first one */
    uint8_t value; /* by use */
};

struct joints {
    uint8_t count;
    struct joint joint[JOINTS_MOST];
    bool counts; /* the board is to count (LINK 8) */
};

/* Takes over the joints of a table that may be played. False where this board cannot do them, with the offset of the first one in *fault; then *joints
 * has none. Any bytes may stand there. */
bool joints_read(struct joints *joints, fxp_table table, uint32_t *fault);

/* The first joint of a use at or behind a number; 0: there is none. */
const struct joint *joints_next(const struct joints *joints, enum joint_use use, uint8_t *number);
const struct joint *joints_only(const struct joints *joints, enum joint_use use);

void pin_free(uint8_t pin);                     /* as after reset: an input, pulled down */
void pin_pull_up(uint8_t pin);                  /* an input, pulled up */
void pin_measure(uint8_t pin);                  /* an analogue input */
void pin_put_out(uint8_t pin, bool high);       /* an output of the processor */
void pin_give(uint8_t pin, uint32_t function);  /* an output of a block of the chip */

#endif
