/* For libFuzzer: any bytes as a table, its header and CRC put right, then 64 frames with presses, and bits that flip, drawn from the same bytes. */
#include <stdlib.h>
#include <string.h>

#include "fxp_bulk.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void put_word(uint8_t *to, uint32_t value)
{
    for (int i = 0; i < 4; i++) {
        to[i] = (uint8_t)(value >> 8 * i);
    }
}

enum { SMALLEST = 54, RECORDS = 50 };

/* What nearly every mutation breaks and no player would get beyond. */
static void repair(uint8_t *table, uint32_t size)
{
    uint32_t crc = FXP_CRC_START;
    memcpy(table, "fxsq", 4);
    put_word(table + 4, size);
    table[16] = 2;
    for (uint32_t i = 0; i < size - 4; i++) {
        crc = fxp_crc(crc, table[i]);
    }
    put_word(table + size - 4, crc ^ FXP_CRC_START);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct fxp player;
    static int16_t samples[256];
    static uint16_t duties[FXP_MAX_CHANNELS];
    uint32_t offset = 0;
    uint8_t *table = malloc(size > 0 ? size : 1); /* of just that size */
    memcpy(table, data, size);
    if (size >= SMALLEST && size % 2 == 0 && (data[size - 1] & 15) != 0) {
        repair(table, (uint32_t)size);
    }
    if (fxp_open(&player, table, (uint32_t)size, &offset) == FXP_OK) {
        uint32_t chance = (uint32_t)data[size - 1] | (uint32_t)data[size - 2] << 8 | 1U << 16;
        for (int frame = 0; frame < 64; frame++) {
            chance = chance * 1664525U + 1013904223U;
            fxp_select(&player, (uint8_t)(chance >> 30), (uint8_t)(chance >> 28 & 3));
            fxp_volume(&player, (uint16_t)(chance >> 20 & 255));
            fxp_frame(&player, chance >> 29, chance >> 26, samples, duties);
            if (frame % 8 == 7) {
                table[RECORDS + (chance >> 4) % (size - RECORDS)] ^= (uint8_t)(1U << (chance >> 1 & 7));
            }
        }
    } else if (offset > size) {
        abort();
    }
    free(table);
    return 0;
}
