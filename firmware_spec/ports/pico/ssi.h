/* The SSI, between the chip and its flash memory, in its two states. Whatever changes it, or runs between the two, is not in flash memory. */
#ifndef SSI_H
#define SSI_H

#include "rp2040.h"

enum { SSI_CLOCKS_PER_BIT = 4 }; /* 31 MHz, below what chips take for command 03 (W25Q16JV: 50 MHz, from memory) */

/* Flash memory is read in place, by command 03, which every chip has: 8 bits of command, 24 of address, 32 of data, one at a time. */
static inline void ssi_read_in_place(void)
{
    SSI_ENABLE = 0;
    SSI_DIVIDER = SSI_CLOCKS_PER_BIT;
    SSI_CTRLR0 = SSI_FRAME_BITS(32) | SSI_READS_AFTER_COMMAND;
    SSI_SPI_CTRLR0 = UINT32_C(0x03) << 24 | 2u << 8 /* 8 bits of command */ | 6u << 2 /* 24 of address */;
    SSI_CTRLR1 = 0;
    SSI_SLAVES = 1;
    SSI_ENABLE = 1;
}

/* Bytes go both ways; the chip select is set by hand. */
static inline void ssi_send_commands(void)
{
    SSI_ENABLE = 0;
    SSI_DIVIDER = SSI_CLOCKS_PER_BIT;
    SSI_CTRLR0 = SSI_FRAME_BITS(8);
    SSI_SLAVES = 1;
    SSI_ENABLE = 1;
}

#endif
