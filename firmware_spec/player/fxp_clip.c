/* The samples of a clip as a voice goes through it: SPEC 6.1 R3 and R4. A file of its own, so that its one loop has the registers for itself. */
#include "fxp_parts.h"

/* R3 */
static int32_t mulaw(uint32_t byte)
{
    uint32_t m = ~byte;
    int32_t size = (int32_t)((((m & 15) << 3) + 132) << (m >> 4 & 7)) - 132; /* below 2^15 */
    return byte < 128 ? -size : size;
}

/* Two's complement, least significant byte first. */
static int32_t pcm(uint32_t low, uint32_t high)
{
    return (int32_t)((low | high << 8) ^ 0x8000) - 0x8000;
}

/* Goes through the clip sample by sample, round the loop where there is one: steps are below 5 samples and loops 32 or longer, so that is the same
 * as to go by the remainder. */
uint_fast8_t fxp_clip_read(fxp_table table, struct fxp_voice *voice, int16_t *values, uint_fast8_t count)
{
    uint_fast8_t wide = (voice->flags & FXP_VOICE_WIDE) != 0 ? 2 : 1;
    uint32_t part = voice->part;
    uint32_t next = voice->next;
    int32_t a = voice->a;
    int32_t b = voice->b;
    int16_t *to = values;
    for (const int16_t *end = values + count; to < end; to++) {
        for (; part >> 16 != 0; part -= 65536) {
            a = b;
            if (next == voice->end) {
                voice->flags = 0;
                return (uint_fast8_t)(to - values);
            }
            next += wide;
            if (next == voice->end) {
                next = voice->loop;
                if (next == voice->end) {
                    b = 0;
                    continue;
                }
            }
            b = FXP_TABLE_BYTE(table, next);
            b = wide == 1 ? mulaw((uint32_t)b) : pcm((uint32_t)b, FXP_TABLE_BYTE(table, next + 1));
        }
        *to = (int16_t)(a + fxp_scale((b - a) * (int32_t)(part >> 1), 15)); /* below 2^16 * 2^15 */
        part += voice->step;
    }
    voice->part = part;
    voice->next = next;
    voice->a = (int16_t)a;
    voice->b = (int16_t)b;
    if (voice->loop == voice->end && (part >> 16) * wide > voice->end - next) {
        voice->flags = 0; /* the next sample is at or beyond the end */
    }
    return count;
}
