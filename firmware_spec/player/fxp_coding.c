/* The codings of clips: SPEC 3.7 R3, 6.1 R11 and R12. */
#include "fxp_parts.h"

static const uint16_t ima_steps[] FXP_ROM = {
    7, 8, 9, 10, 11, 12, 13, 14, 16, 17, 19, 21, 23, 25, 28, 31, 34, 37, 41, 45, 50, 55, 60, 66, 73, 80, 88, 97, 107, 118, 130, 143, 157, 173,
    190, 209, 230, 253, 279, 307, 337, 371, 408, 449, 494, 544, 598, 658, 724, 796, 876, 963, 1060, 1166, 1282, 1411, 1552, 1707, 1878, 2066,
    2272, 2499, 2749, 3024, 3327, 3660, 4026, 4428, 4871, 5358, 5894, 6484, 7132, 7845, 8630, 9493, 10442, 11487, 12635, 13899, 15289, 16818,
    18500, 20350, 22385, 24623, 27086, 29794, 32767,
};
static const int8_t ima_moves[] FXP_ROM = {-1, -1, -1, -1, 2, 4, 6, 8};

uint32_t fxp_run_bytes(uint8_t coding, uint32_t samples)
{
    if (coding == FXP_PCM) {
        return 2 * samples;
    }
    if (coding == FXP_IMA) {
        uint32_t blocks = fxp_divide(samples, FXP_IMA_BLOCK);
        uint32_t rest = samples - blocks * FXP_IMA_BLOCK;
        return 256 * blocks + (rest == 0 ? 0 : 4 + (rest >> 1));
    }
    if (coding == FXP_QOA) {
        return 16 * fxp_divide(samples + FXP_QOA_BLOCK - 1, FXP_QOA_BLOCK) + 8 * fxp_divide(samples + FXP_QOA_SLICE - 1, FXP_QOA_SLICE);
    }
    return samples;
}

/* 16 bits as two's complement: the first byte is the lower one. */
static int16_t word(uint_fast8_t low, uint_fast8_t high)
{
    return (int16_t)((uint16_t)(high << 8) | low);
}

static inline int32_t held(int32_t value)
{
    if (value != (int16_t)value) {
        value = value < 0 ? -32768 : 32767;
    }
    return value;
}

/* R11 */
struct ima { int32_t p; int_fast16_t index; };

static inline int16_t ima_next(struct ima *ima, uint_fast8_t code)
{
    int32_t step = FXP_ROM_WORD(&ima_steps[ima->index]);
    int32_t d = step >> 3;
    if ((code & 4) != 0) {
        d += step;
    }
    if ((code & 2) != 0) {
        d += step >> 1;
    }
    if ((code & 1) != 0) {
        d += step >> 2;
    }
    ima->p = held((code & 8) != 0 ? ima->p - d : ima->p + d);
    ima->index = (int_fast16_t)(ima->index + (int8_t)FXP_ROM_BYTE(&ima_moves[code & 7]));
    if ((uint_fast16_t)ima->index > 88) {
        ima->index = ima->index < 0 ? 0 : 88;
    }
    return (int16_t)ima->p;
}

static void ima(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    fxp_table from = (fxp_table)(table + voice->next);
    struct ima state = {samples[-1], voice->index};
    uint_fast8_t half = voice->done;
    if ((voice->flags & FXP_VOICE_FRESH) != 0) {
        state.p = word(FXP_TABLE_BYTE(from, 0), FXP_TABLE_BYTE(from, 1));
        state.index = FXP_TABLE_BYTE(from, 2);
        *samples++ = (int16_t)state.p;
        from += 4;
    }
    while (samples != end) {
        uint_fast8_t code = FXP_TABLE_BYTE(from, 0);
        if (half != 0) {
            code >>= 4;
            from++;
        }
        half ^= 1;
        *samples++ = ima_next(&state, code);
    }
    if (voice->block == 0) { /* the upper half may stand for nothing */
        from += half;
    }
    voice->next = (uint32_t)(from - table);
    voice->index = (uint8_t)state.index;
    voice->done = (uint8_t)half;
}

#ifndef FXP_WITHOUT_QOA
/* R12: d of the even codes, by scale. */
static const uint16_t qoa_sizes[16][4] FXP_ROM = {
    {1, 3, 5, 7},         {5, 18, 32, 49},      {16, 53, 95, 147},     {34, 113, 203, 315},     {63, 210, 378, 588},     {104, 345, 621, 966},
    {158, 528, 950, 1477}, {228, 760, 1368, 2128}, {316, 1053, 1895, 2947}, {422, 1405, 2529, 3934}, {548, 1828, 3290, 5117},
    {696, 2320, 4176, 6496}, {868, 2893, 5207, 8099}, {1064, 3548, 6386, 9933}, {1286, 4288, 7718, 12005}, {1536, 5120, 9216, 14336},
};

static int16_t qoa_word(fxp_table table, uint32_t at)
{
    return word(FXP_TABLE_BYTE(table, at + 1), FXP_TABLE_BYTE(table, at));
}

static void qoa_begin(fxp_table table, struct fxp_voice *voice)
{
    for (uint_fast8_t i = 0; i < 4; i++) {
        voice->history[i] = qoa_word(table, voice->next);
        voice->weights[i] = qoa_word(table, voice->next + 8);
        voice->next += 2;
    }
    voice->next += 8;
}

/* What a weight becomes, modulo 2^16. */
static inline int16_t learned(int32_t weight, int32_t history, int32_t e)
{
    return (int16_t)(history < 0 ? weight - e : weight + e);
}

/* The next `count` samples of one slice. The four before them are kept in front of them, so that no history is moved. */
static void qoa_slice(fxp_table table, struct fxp_voice *voice, int16_t *samples, uint_fast8_t count)
{
    int16_t values[4 + FXP_QOA_SLICE];
    int16_t *h = values;
    const int16_t *end = values + count;
    int32_t w0 = voice->weights[0], w1 = voice->weights[1], w2 = voice->weights[2], w3 = voice->weights[3];
    const uint16_t *sizes = qoa_sizes[FXP_TABLE_BYTE(table, voice->next) >> 4];
    uint_fast8_t bit = (uint_fast8_t)(4 + 3 * voice->done);
    uint_fast8_t left = 8 - (bit & 7); /* bits of `bits` that have not been read */
    fxp_table from = (fxp_table)(table + voice->next + (bit >> 3));
    uint_fast16_t bits = FXP_TABLE_BYTE(from, 0);
    for (uint_fast8_t i = 0; i < 4; i++) {
        values[i] = voice->history[i];
    }
    do {
        if (left < 3) {
            from++;
            bits = (uint_fast16_t)((bits & 3) << 8 | FXP_TABLE_BYTE(from, 0));
            left += 8;
        }
        left -= 3;
        uint_fast8_t q = bits >> left & 7;
        uint32_t sum = (uint32_t)(h[0] * w0) + (uint32_t)(h[1] * w1) + (uint32_t)(h[2] * w2) + (uint32_t)(h[3] * w3); /* each at most 2^30 */
        int32_t d = FXP_ROM_WORD(&sizes[q >> 1]); /* below 2^14 */
        if ((q & 1) != 0) {
            d = -d;
        }
        int16_t value = (int16_t)held(((int32_t)sum >> 13) + d);
        int32_t e = d >> 4;
        w0 = learned(w0, h[0], e);
        w1 = learned(w1, h[1], e);
        w2 = learned(w2, h[2], e);
        w3 = learned(w3, h[3], e);
        *samples++ = value;
        h[4] = value;
        h++;
    } while (h != end);
    for (uint_fast8_t i = 0; i < 4; i++) {
        voice->history[i] = h[i];
    }
    voice->weights[0] = (int16_t)w0;
    voice->weights[1] = (int16_t)w1;
    voice->weights[2] = (int16_t)w2;
    voice->weights[3] = (int16_t)w3;
}

static void qoa(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    if ((voice->flags & FXP_VOICE_FRESH) != 0) {
        qoa_begin(table, voice);
    }
    while (samples < end) {
        uint_fast8_t count = (uint_fast8_t)(FXP_QOA_SLICE - voice->done);
        if (end - samples < (int_fast16_t)count) {
            count = (uint_fast8_t)(end - samples);
        }
        qoa_slice(table, voice, samples, count);
        samples += count;
        voice->done = (uint8_t)(voice->done + count);
        if (voice->done == FXP_QOA_SLICE) {
            voice->done = 0;
            voice->next += 8;
        }
    }
    if (voice->block == 0 && voice->done != 0) { /* the rest of the slice stands for nothing */
        voice->next += 8;
    }
}
#endif

void fxp_decode(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    uint_fast8_t coding = voice->flags >> FXP_VOICE_CODING;
    if (coding == FXP_IMA) {
        ima(table, voice, samples, end);
#ifndef FXP_WITHOUT_QOA
    } else if (coding == FXP_QOA) {
        qoa(table, voice, samples, end);
#endif
    } else if (coding == FXP_MULAW) {
        fxp_clip_mulaw(table, voice->next, samples, end);
        voice->next += (uint32_t)(end - samples);
    } else {
        fxp_clip_pcm(table, voice->next, samples, end);
        voice->next += 2 * (uint32_t)(end - samples);
    }
    voice->flags &= (uint8_t)~FXP_VOICE_FRESH;
}
