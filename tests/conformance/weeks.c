/* Plays a table from standard input for weeks: `weeks FRAME ...` plays frame 0, in which input 1 is closed and stays so, then goes on to each FRAME
 * (modulo 2^32, in ascending order) and taps input 0 in it. Writes the trace. Between, it plays the frames before and at which the player wants to
 * look at its triggers, and leaves out those in which nothing can happen: no effect, curve or sound may be under way. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "fxp.h"

static struct fxp player;
static uint64_t now;

static void tell(void *context, uint32_t frame, uint8_t kind, uint8_t index, uint16_t value)
{
    (void)context;
    printf("%" PRIu32 " %u %u %u\n", frame, kind, index, value);
}

static void play(uint32_t struck)
{
    int16_t samples[256];
    uint16_t duties[FXP_MAX_CHANNELS];
    fxp_frame(&player, 2, struck, samples, duties);
    now++;
}

/* To a frame at which the player looks at its triggers, or to `until`, whichever comes first. */
static void skip(uint64_t until)
{
    uint32_t asleep = player.wake - player.frame;
    if (asleep > UINT32_C(0x7FFFFFFF)) {
        fputs("the player should have looked at its triggers before\n", stderr);
        exit(1);
    }
    uint64_t to = now + asleep < until ? now + asleep : until;
    player.frame += (uint32_t)(to - now);
    now = to;
}

int main(int argc, char **argv)
{
    static uint8_t table[4096];
    uint32_t length = (uint32_t)fread(table, 1, sizeof table, stdin), at;
    if (fxp_open(&player, table, length, &at) != FXP_OK) {
        return 1;
    }
    player.trace = tell;
    for (int i = 0; i < 9; i++) {
        play(0);
    }
    for (int i = 1; i < argc; i++) {
        uint64_t until = strtoull(argv[i], NULL, 10);
        while (now < until) {
            skip(until);
            play(now == until ? 1 : 0);
        }
        for (int j = 0; j < 9; j++) {
            play(0);
        }
    }
    return 0;
}
