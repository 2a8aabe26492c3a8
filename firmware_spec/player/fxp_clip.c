/* The loops over samples: SPEC 6.1 R3, R4, R10. A file of their own, so that each has the registers for itself. */
#include "fxp_parts.h"

/* R3. Sizes are below 2^15. */
void fxp_clip_mulaw(fxp_table table, uint32_t at, int16_t *samples, const int16_t *end)
{
    while (samples < end) {
        uint_fast8_t byte = FXP_TABLE_BYTE(table, at);
        uint_fast8_t m = (uint_fast8_t)~byte;
        int_fast16_t size = (int_fast16_t)((((m & 15U) << 3) + 132U) << (m >> 4 & 7)) - 132;
        *samples++ = (int16_t)(byte < 128 ? -size : size);
        at++;
    }
}

/* Two's complement, least significant byte first. */
void fxp_clip_pcm(fxp_table table, uint32_t at, int16_t *samples, const int16_t *end)
{
    while (samples < end) {
        *samples++ = (int16_t)((uint16_t)(FXP_TABLE_BYTE(table, at + 1) << 8) | FXP_TABLE_BYTE(table, at));
        at += 2;
    }
}

/* R4 */
int32_t fxp_clip_add(struct fxp_voice *voice, const int16_t *samples, uint16_t gain, int32_t *sums, uint_fast8_t count)
{
    const int32_t *end = sums + count;
    int32_t value;
#ifdef FXP_SMALL /* 16 bits go on by themselves, and carry over to the place */
    const int16_t *a = samples + (uint16_t)(voice->part >> 16);
    uint16_t part = (uint16_t)voice->part;
    uint16_t step = (uint16_t)voice->step;
    uint8_t whole = (uint8_t)(voice->step >> 16);
    voice->part += voice->step * count;
    do {
        value = fxp_value(a[0], a[1], part, (int16_t)gain);
        a += whole;
        part = (uint16_t)(part + step);
        if (part < step) {
            a++;
        }
        *sums++ += value;
    } while (sums != end);
#else
    uint32_t part = voice->part;
    uint32_t step = voice->step;
    do {
        const int16_t *a = samples + (part >> 16);
        value = fxp_value(a[0], a[1], part, (int16_t)gain);
        part += step;
        *sums++ += value;
    } while (sums != end);
    voice->part = part;
#endif
    return value;
}

/* R10. The sum is below 2^23, the volume at most 2^8. */
uint_fast8_t fxp_clip_hold(const int32_t *sums, int16_t *samples, uint16_t volume, uint_fast8_t count)
{
    const int32_t *end = sums + count;
    uint_fast8_t held = 0;
    do {
        int32_t value = *sums++ * (int32_t)volume >> 8;
        if (value != (int16_t)value) {
            value = value < 0 ? -32768 : 32767;
            held++;
        }
        *samples++ = (int16_t)value;
    } while (sums != end);
    return held;
}
