/* The codings of clips: SPEC 3.7 R3, 6.1 R11 and R12. */
#include "fxp_parts.h"

static const uint16_t ima_steps[] FXP_ROM = {
    7, 8, 9, 10, 11, 12, 13, 14, 16, 17, 19, 21, 23, 25, 28, 31, 34, 37, 41, 45, 50, 55, 60, 66, 73, 80, 88, 97, 107, 118, 130, 143, 157, 173,
    190, 209, 230, 253, 279, 307, 337, 371, 408, 449, 494, 544, 598, 658, 724, 796, 876, 963, 1060, 1166, 1282, 1411, 1552, 1707, 1878, 2066,
    2272, 2499, 2749, 3024, 3327, 3660, 4026, 4428, 4871, 5358, 5894, 6484, 7132, 7845, 8630, 9493, 10442, 11487, 12635, 13899, 15289, 16818,
    18500, 20350, 22385, 24623, 27086, 29794, 32767,
};
static const int8_t ima_moves[] FXP_ROM = {-1, -1, -1, -1, 2, 4, 6, 8};

/* 3.7 R3, of a block of n samples. */
static uint32_t block_bytes(uint8_t coding, uint32_t n)
{
    if (coding == FXP_IMA_ADPCM) {
        return 4 + (n >> 1);
    }
    if (coding == FXP_QOA_CODING) {
        return 16 + 8 * ((n + FXP_QOA_SLICE - 1) * 3277 >> 16); /* n / 20, rounded up, for n up to 5120 */
    }
    return coding == FXP_MULAW ? n : 2 * n;
}

bool fxp_begin_block(const struct fxp *player, struct fxp_voice *voice)
{
    uint16_t full = voice->coding == FXP_IMA_ADPCM ? FXP_IMA_BLOCK : FXP_QOA_BLOCK; /* of the others: as good as any */
    voice->block = voice->left < full ? (uint16_t)voice->left : full;
    voice->flags |= FXP_VOICE_FRESH;
    voice->done = 0;
    return voice->next <= player->clip_end && block_bytes(voice->coding, voice->block) <= player->clip_end - voice->next;
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
        if (state.index > 88) {
            state.index = 88;
        }
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

#if FXP_QOA
static const uint16_t qoa_scales[] FXP_ROM = {1, 7, 21, 45, 84, 138, 211, 304, 421, 562, 731, 928, 1157, 1419, 1715, 2048};
static const uint8_t qoa_parts[] FXP_ROM = {3, 10, 18, 28};

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

/* The history goes in front of the samples to come, and what stood there into its place. */
static void lend_history(struct fxp_voice *voice, int16_t *samples)
{
    samples -= 4;
    for (uint_fast8_t i = 0; i < 4; i++) {
        int16_t before = samples[i];
        samples[i] = voice->history[i];
        voice->history[i] = before;
    }
}

/* ... and back, with the samples up to `end`: of these the first is read before it may be overwritten. */
static void keep_history(struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    samples -= 4;
    end -= 4;
    for (uint_fast8_t i = 0; i < 4; i++) {
        int16_t before = voice->history[i];
        voice->history[i] = end[i];
        samples[i] = before;
    }
}

/* What a weight becomes, modulo 2^16. */
static inline int16_t learned(int32_t weight, int32_t history, int32_t e)
{
    return (int16_t)(history < 0 ? weight - e : weight + e);
}

static uint32_t qoa_long(fxp_table table, uint32_t at)
{
    uint32_t value = 0;
    for (uint_fast8_t i = 0; i < 4; i++) {
        value = value << 8 | FXP_TABLE_BYTE(table, at);
        at++;
    }
    return value;
}

/* The next 32 bits of the slice under way, and in `low`, from the top, those behind them. */
static uint32_t qoa_bits(fxp_table table, const struct fxp_voice *voice, uint32_t *low)
{
    uint32_t high = qoa_long(table, voice->next);
    uint_fast8_t used = (uint_fast8_t)(4 + 3 * voice->done); /* 4..61, never 32 */
    *low = qoa_long(table, voice->next + 4);
    if (used > 32) {
        return *low << (used - 32);
    }
    high = high << used | *low >> (32 - used);
    *low <<= used;
    return high;
}

/* Samples of one slice, behind the four before them. */
static void qoa_slice(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    int32_t w0 = voice->weights[0], w1 = voice->weights[1], w2 = voice->weights[2], w3 = voice->weights[3];
    int32_t scale = FXP_ROM_WORD(&qoa_scales[FXP_TABLE_BYTE(table, voice->next) >> 4]);
    uint32_t low, bits = qoa_bits(table, voice, &low);
    do {
        uint_fast8_t q = (uint_fast8_t)(bits >> 29);
        bits = bits << 3 | low >> 29;
        low <<= 3;
        int32_t h0 = samples[-4], h1 = samples[-3], h2 = samples[-2], h3 = samples[-1];
        uint32_t sum = (uint32_t)(h0 * w0) + (uint32_t)(h1 * w1) + (uint32_t)(h2 * w2) + (uint32_t)(h3 * w3); /* each at most 2^30 */
        int32_t d = (scale * FXP_ROM_BYTE(&qoa_parts[q >> 1]) + 2) >> 2; /* below 2^14 */
        if ((q & 1) != 0) {
            d = -d;
        }
        *samples++ = (int16_t)held(((int32_t)sum >> 13) + d);
        d >>= 4;
        w0 = learned(w0, h0, d);
        w1 = learned(w1, h1, d);
        w2 = learned(w2, h2, d);
        w3 = learned(w3, h3, d);
    } while (samples != end);
    voice->weights[0] = (int16_t)w0;
    voice->weights[1] = (int16_t)w1;
    voice->weights[2] = (int16_t)w2;
    voice->weights[3] = (int16_t)w3;
}

static void qoa(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    int16_t *const first = samples;
    if ((voice->flags & FXP_VOICE_FRESH) != 0) {
        qoa_begin(table, voice);
    }
    lend_history(voice, first);
    while (samples < end) {
        const int16_t *until = samples + (FXP_QOA_SLICE - voice->done);
        if (until > end) {
            until = end;
        }
        qoa_slice(table, voice, samples, until);
        voice->done = (uint8_t)(voice->done + (until - samples));
        samples += until - samples;
        if (voice->done == FXP_QOA_SLICE) {
            voice->done = 0;
            voice->next += 8;
        }
    }
    keep_history(voice, first, end);
    if (voice->block == 0 && voice->done != 0) { /* the rest of the slice stands for nothing */
        voice->next += 8;
    }
}
#endif

void fxp_decode(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    if (voice->coding == FXP_IMA_ADPCM) {
        ima(table, voice, samples, end);
#if FXP_QOA
    } else if (voice->coding == FXP_QOA_CODING) {
        qoa(table, voice, samples, end);
#endif
    } else if (voice->coding == FXP_MULAW) {
        fxp_clip_mulaw(table, voice->next, samples, end);
        voice->next += (uint32_t)(end - samples);
    } else { /* PCM; a coding that there is not is played as it, too */
        fxp_clip_pcm(table, voice->next, samples, end);
        voice->next += 2 * (uint32_t)(end - samples);
    }
    voice->flags &= (uint8_t)~FXP_VOICE_FRESH;
}
