/* The codings of clips: SPEC 3.7 R3, 6.1 R11 and R12. */
#include "fxp_parts.h"

static const uint16_t ima_steps[] FXP_ROM = {
    7, 8, 9, 10, 11, 12, 13, 14, 16, 17, 19, 21, 23, 25, 28, 31, 34, 37, 41, 45, 50, 55, 60, 66, 73, 80, 88, 97, 107, 118, 130, 143, 157, 173,
    190, 209, 230, 253, 279, 307, 337, 371, 408, 449, 494, 544, 598, 658, 724, 796, 876, 963, 1060, 1166, 1282, 1411, 1552, 1707, 1878, 2066,
    2272, 2499, 2749, 3024, 3327, 3660, 4026, 4428, 4871, 5358, 5894, 6484, 7132, 7845, 8630, 9493, 10442, 11487, 12635, 13899, 15289, 16818,
    18500, 20350, 22385, 24623, 27086, 29794, 32767,
};

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

/* 16 bits as two's complement. */
static int32_t signed_word(uint32_t word)
{
    return (int32_t)(word ^ 0x8000) - 0x8000;
}

static int16_t held(int32_t value)
{
    if (value > 32767) {
        return 32767;
    }
    return (int16_t)(value < -32768 ? -32768 : value);
}

/* R11 */
static void ima(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    uint32_t at = voice->next;
    uint_fast8_t index = voice->index;
    uint_fast8_t half = voice->done;
    if ((voice->flags & FXP_VOICE_FRESH) != 0) {
        *samples++ = (int16_t)signed_word(FXP_TABLE_BYTE(table, at) | (uint32_t)FXP_TABLE_BYTE(table, at + 1) << 8);
        index = FXP_TABLE_BYTE(table, at + 2);
        at += 4;
    }
    int32_t p = samples[-1];
    while (samples < end) {
        uint_fast8_t code = FXP_TABLE_BYTE(table, at);
        if (half != 0) {
            code >>= 4;
            at++;
        }
        half ^= 1;
        int32_t step = FXP_ROM_WORD(&ima_steps[index]);
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
        p = held((code & 8) != 0 ? p - d : p + d);
        *samples++ = (int16_t)p;
        if ((code & 4) != 0) {
            index = (uint_fast8_t)(index + 2 * (code & 3) + 2);
            index = index > 88 ? 88 : index;
        } else if (index > 0) {
            index--;
        }
    }
    if (voice->block == 0) { /* the upper half may stand for nothing */
        at += half;
    }
    voice->next = at;
    voice->index = (uint8_t)index;
    voice->done = (uint8_t)half;
}

#ifndef FXP_WITHOUT_QOA
static const uint16_t qoa_scales[] FXP_ROM = {1, 7, 21, 45, 84, 138, 211, 304, 421, 562, 731, 928, 1157, 1419, 1715, 2048};
static const uint8_t qoa_parts[] FXP_ROM = {3, 10, 18, 28};

static void qoa_begin(fxp_table table, struct fxp_voice *voice)
{
    for (uint_fast8_t i = 0; i < 4; i++) {
        uint32_t at = voice->next + 2U * i;
        voice->history[i] = (int16_t)signed_word((uint32_t)FXP_TABLE_BYTE(table, at) << 8 | FXP_TABLE_BYTE(table, at + 1));
        voice->weights[i] = (int16_t)signed_word((uint32_t)FXP_TABLE_BYTE(table, at + 8) << 8 | FXP_TABLE_BYTE(table, at + 9));
    }
    voice->next += 16;
}

/* The sum modulo 2^32, >> 13 rounding down. */
static int32_t qoa_prediction(const struct fxp_voice *voice)
{
    uint32_t sum = UINT32_C(0x80000000); /* so that what is shifted is not negative */
    for (uint_fast8_t i = 0; i < 4; i++) {
        sum += (uint32_t)(voice->history[i] * (int32_t)voice->weights[i]); /* at most 2^30 */
    }
    return (int32_t)(sum >> 13) - 0x40000;
}

/* d of the code at `bit` of a slice. Three bits at place 6 or 7 of a byte end in the next one. */
static int32_t qoa_residual(fxp_table table, uint32_t slice, uint_fast8_t bit)
{
    uint32_t at = slice + (bit >> 3);
    uint32_t bits = (uint32_t)FXP_TABLE_BYTE(table, at) << 8;
    bit &= 7;
    if (bit > 5) {
        bits |= FXP_TABLE_BYTE(table, at + 1);
    }
    uint_fast8_t q = bits >> (13 - bit) & 7;
    uint32_t scale = FXP_ROM_WORD(&qoa_scales[FXP_TABLE_BYTE(table, slice) >> 4]);
    int32_t d = (int32_t)((scale * FXP_ROM_BYTE(&qoa_parts[q >> 1]) + 2) >> 2); /* below 2^14 */
    return (q & 1) != 0 ? -d : d;
}

/* R12 */
static void qoa(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    if ((voice->flags & FXP_VOICE_FRESH) != 0) {
        qoa_begin(table, voice);
    }
    while (samples < end) {
        int32_t d = qoa_residual(table, voice->next, (uint_fast8_t)(4 + 3 * voice->done));
        int16_t sample = held(qoa_prediction(voice) + d);
        int32_t e = ((d + 0x4000) >> 4) - 0x400; /* rounding down: d is above -2^14 */
        for (uint_fast8_t i = 0; i < 4; i++) {
            int32_t weight = voice->weights[i];
            weight = voice->history[i] < 0 ? weight - e : weight + e;
            voice->weights[i] = (int16_t)signed_word((uint32_t)weight & 0xFFFF);
            voice->history[i] = i < 3 ? voice->history[i + 1] : sample;
        }
        *samples++ = sample;
        if (++voice->done == FXP_QOA_SLICE) {
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
