/* The CRC-32: SPEC 3, LINK 2. */
#include "fxp_crc.h"
#include "fxp.h"

#ifdef FXP_SMALL
uint32_t fxp_crc(uint32_t crc, uint8_t byte)
{
    crc ^= byte;
    for (uint_fast8_t bit = 0; bit < 8; bit++) {
        crc = (crc & 1) != 0 ? crc >> 1 ^ UINT32_C(0xEDB88320) : crc >> 1; /* 04C11DB7 reflected */
    }
    return crc;
}
#else
uint32_t fxp_crc(uint32_t crc, uint8_t byte)
{
    static const uint32_t nibbles[16] = { /* what four bits make of a CRC of 0 */
        UINT32_C(0x00000000), UINT32_C(0x1DB71064), UINT32_C(0x3B6E20C8), UINT32_C(0x26D930AC),
        UINT32_C(0x76DC4190), UINT32_C(0x6B6B51F4), UINT32_C(0x4DB26158), UINT32_C(0x5005713C),
        UINT32_C(0xEDB88320), UINT32_C(0xF00F9344), UINT32_C(0xD6D6A3E8), UINT32_C(0xCB61B38C),
        UINT32_C(0x9B64C2B0), UINT32_C(0x86D3D2D4), UINT32_C(0xA00AE278), UINT32_C(0xBDBDF21C),
    };
    crc ^= byte;
    crc = crc >> 4 ^ nibbles[crc & 15];
    return crc >> 4 ^ nibbles[crc & 15];
}
#endif

uint32_t fxp_table_crc(uint32_t crc, fxp_table table, uint32_t from, uint32_t until)
{
    for (; from < until; from++) {
        crc = fxp_crc(crc, FXP_TABLE_BYTE(table, from));
    }
    return crc;
}
