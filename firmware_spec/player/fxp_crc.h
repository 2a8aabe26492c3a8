/* The CRC-32 of tables (SPEC 3) and of the link (LINK 2): the one of ISO-HDLC, zlib and PNG. */
#ifndef FXP_CRC_H
#define FXP_CRC_H

#include <stdint.h>

/* One byte more: begin with FXP_CRC_START, and XOR the last result with FXP_CRC_START. By a table of 16 words; with FXP_SMALL bit by bit, which is
 * smaller and takes three times as long. */
#define FXP_CRC_START UINT32_C(0xFFFFFFFF)
uint32_t fxp_crc(uint32_t crc, uint8_t byte);

#endif
