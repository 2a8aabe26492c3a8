/* Light: pins, and chains of registers or drivers, dimmed by PIO and DMA without the processor. README.md has periods and steps. */
#ifndef LIGHT_H
#define LIGHT_H

#include <stdint.h>

#include "joints.h"

/* Ends what is shown and gets ready for these joints; all is dark until the first light_show. */
void light_open(const struct joints *joints);

/* The duties of a frame, 0..2^bits - 1 of 8 to 16 bits: all are taken over together when the light period under way ends. */
void light_show(const uint16_t *duties, uint8_t bits);

/* Dark, and the pins free. */
void light_off(void);

#endif
