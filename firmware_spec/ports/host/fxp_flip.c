/* Plays a table under presses while its bits flip, one every few frames: README.md beside this file. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../player/fxp.h"

enum { FRAMES_A_FLIP = 10, FLIPS_A_ROUND = 30 };

static uint32_t chance = 1;

static uint32_t draw(uint32_t below)
{
    chance ^= chance << 13;
    chance ^= chance >> 17;
    chance ^= chance << 5;
    return chance % below;
}

static void count_event(void *context, uint32_t frame, uint8_t kind, uint8_t index, uint16_t value)
{
    (void)frame, (void)kind, (void)index, (void)value;
    ++*(uint32_t *)context;
}

/* One power-up with the table as it was; gives how much was traced. */
static uint32_t play_round(const uint8_t *whole, uint32_t length, uint32_t flips)
{
    static struct fxp player;
    static int16_t samples[256];
    static uint16_t duties[FXP_MAX_CHANNELS];
    uint32_t events = 0;
    uint32_t at;
    uint32_t closed = 0;
    uint8_t *table = malloc(length); /* of just that size: a tool that watches memory sees any read beyond it */
    memcpy(table, whole, length);
    if (fxp_open(&player, table, length, &at) != FXP_OK) {
        fprintf(stderr, "fxp_flip: the table is refused at %u\n", (unsigned)at);
        exit(2);
    }
    player.trace = count_event;
    player.trace_context = &events;
    for (uint32_t frame = 0; frame < flips * FRAMES_A_FLIP; frame++) {
        if (frame % 4 == 0) {
            closed ^= UINT32_C(1) << draw(32);
        }
        fxp_select(&player, (uint8_t)draw(4), (uint8_t)draw(4));
        fxp_frame(&player, closed, closed, samples, duties);
        if (frame % FRAMES_A_FLIP == 0) {
            uint32_t within = draw(4) != 0 ? player.clip_data : length; /* mostly in the records, which are few */
            table[draw(within)] ^= (uint8_t)(1U << draw(8));
        }
    }
    free(table);
    return events;
}

int main(int argc, char **argv)
{
    static uint8_t whole[1 << 22];
    FILE *file = argc == 3 ? fopen(argv[1], "rb") : NULL;
    if (file == NULL) {
        fprintf(stderr, "usage: fxp_flip TABLE FLIPS\n");
        return 2;
    }
    uint32_t length = (uint32_t)fread(whole, 1, sizeof whole, file);
    uint32_t left = (uint32_t)strtoul(argv[2], NULL, 10);
    uint32_t events = 0;
    fclose(file);
    while (left > 0) {
        uint32_t flips = left < FLIPS_A_ROUND ? left : FLIPS_A_ROUND;
        events += play_round(whole, length, flips);
        left -= flips;
    }
    printf("%u events\n", (unsigned)events);
    return 0;
}
