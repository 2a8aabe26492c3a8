/* The codings of clips: SPEC 3.7 R3 and R5, 6.1 R11 to R13. */
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

void fxp_begin_run(const struct fxp *player, struct fxp_voice *voice)
{
    voice->block = 0;
    voice->index = 0;
#if !FXP_RICE
    (void)player;
#else
    if (voice->coding != FXP_RICE_CODING) {
        return;
    }
    if (voice->next < player->clip_end && player->clip_end - voice->next >= 3) { /* R5 */
        uint32_t bytes = FXP_TABLE_BYTE(player->table, voice->next) | (uint32_t)FXP_TABLE_BYTE(player->table, voice->next + 1) << 8 |
                         (uint32_t)FXP_TABLE_BYTE(player->table, voice->next + 2) << 16;
        voice->next += 3;
        voice->end = bytes < player->clip_end - voice->next ? voice->next + bytes : player->clip_end;
    } else { /* not there; from just behind the data no place goes round to its begin */
        voice->next = voice->end = player->clip_end;
    }
#endif
}

bool fxp_begin_block(const struct fxp *player, struct fxp_voice *voice)
{
    uint16_t full = FXP_RICE_BLOCK; /* of the codings without blocks: as good as any */
    if (voice->coding == FXP_IMA_ADPCM) {
        full = FXP_IMA_BLOCK;
    } else if (voice->coding == FXP_QOA_CODING) {
        full = FXP_QOA_BLOCK;
    }
    voice->block = voice->left < full ? (uint16_t)voice->left : full;
    voice->flags |= FXP_VOICE_FRESH;
    voice->done = 0;
#if FXP_RICE
    if (voice->coding == FXP_RICE_CODING) { /* behind its bytes come bits 0 (6.1 R13) */
        return true;
    }
#endif
    return voice->next <= player->clip_end && block_bytes(voice->coding, voice->block) <= player->clip_end - voice->next;
}

/* 16 bits as two's complement: the first byte is the lower one. */
static int16_t word(uint_fast8_t low, uint_fast8_t high)
{
    return (int16_t)((uint16_t)((uint16_t)high << 8) | low);
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
    voice->next = (uint32_t)(from - table);
    voice->index = (uint8_t)state.index;
    voice->done = (uint8_t)half;
}

#if FXP_QOA || FXP_RICE
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
#endif

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
}
#endif

#if FXP_RICE
/* Bits of a run, from the top of `bits`, `have` of them; behind the run come zeros. */
struct bits { fxp_table table; uint32_t at, end, bits; uint_fast8_t have; };

/* 25 or more are there. */
static inline void fill(struct bits *in)
{
    while (in->have <= 24) {
        if (in->at < in->end) {
            in->bits |= (uint32_t)FXP_TABLE_BYTE(in->table, in->at) << (24 - in->have);
        }
        in->at++;
        in->have = (uint_fast8_t)(in->have + 8);
    }
}

static inline void drop(struct bits *in, uint_fast8_t count)
{
    in->bits <<= count;
    in->have = (uint_fast8_t)(in->have - count);
}

/* A number of 0 to 16 bits. */
static inline uint32_t take(struct bits *in, uint_fast8_t count)
{
    if (in->have < count) {
        fill(in);
    }
    uint32_t value = in->bits >> 1 >> (31 - count);
    drop(in, count);
    return value;
}

/* R13: u, by k of m. */
static inline uint32_t rice_number(struct bits *in, uint32_t mean)
{
    uint_fast8_t order = 0;
    uint_fast8_t zeros = 0;
    for (uint32_t scaled = mean * 11 >> 7; scaled != 0 && order < 11; scaled >>= 1) {
        order++;
    }
    if (in->have <= 20) {
        fill(in);
    }
    while (in->bits < UINT32_C(0x80000000) && zeros < 20) {
        in->bits <<= 1;
        zeros++;
    }
    in->have = (uint_fast8_t)(in->have - zeros);
    if (zeros == 20) {
        return take(in, 16);
    }
    drop(in, 1);
    return (uint32_t)zeros << order | take(in, order);
}

static void rice_begin(struct bits *in, struct fxp_voice *voice)
{
    drop(in, in->have & 7); /* a block begins with a byte */
    voice->mean = UINT32_C(8) << take(in, 4);
    voice->quantum = 1;
    for (uint_fast8_t i = 0; i < 4; i++) {
        voice->history[i] = 0;
        voice->weights[i] = 0;
    }
}

static void rice_part(struct bits *in, struct fxp_voice *voice)
{
    static const uint8_t quarters[] FXP_ROM = {16, 19, 23, 27};
    if (take(in, 1) != 0) {
        uint_fast8_t s = (uint_fast8_t)take(in, 6);
        voice->quantum = (uint16_t)((((uint32_t)FXP_ROM_BYTE(&quarters[s & 3]) << (s >> 2)) + 8) >> 4);
    }
    if (take(in, 1) != 0) {
        uint_fast8_t last = (uint_fast8_t)take(in, 2);
        for (uint_fast8_t i = 0; i < 4; i++) {
            voice->weights[i] = i <= last ? (int16_t)((int32_t)(take(in, 12) ^ 2048) - 2048) : 0;
        }
    }
}

/* Samples of one part, behind the four before them. |q| is at most 32768, the quantum at most 55296, the sum below 2^29. */
static void rice_samples(struct bits *from, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    struct bits in = *from; /* a copy may stay in registers */
    int32_t c0 = voice->weights[0], c1 = voice->weights[1], c2 = voice->weights[2], c3 = voice->weights[3];
    int32_t quantum = voice->quantum;
    uint32_t mean = voice->mean;
    while (samples != end) {
        uint32_t u = rice_number(&in, mean);
        int32_t q = (int32_t)((u + 1) >> 1);
        int32_t value = (c0 * samples[-1] + c1 * samples[-2] + c2 * samples[-3] + c3 * samples[-4] + 128) >> 8;
        value += (u & 1) != 0 ? q * quantum : -(q * quantum);
        *samples++ = (int16_t)held(value);
        mean += (uint32_t)q - ((mean + 8) >> 4);
    }
    *from = in;
    voice->mean = mean;
}

/* R13 */
static void rice(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end)
{
    int16_t *const first = samples;
    struct bits in = {table, voice->next, voice->end, 0, 0};
    take(&in, voice->index);
    if ((voice->flags & FXP_VOICE_FRESH) != 0) {
        rice_begin(&in, voice);
    }
    lend_history(voice, first);
    while (samples < end) {
        const int16_t *until = samples + (FXP_RICE_PART - voice->done);
        if (until > end) {
            until = end;
        }
        if (voice->done == 0) {
            rice_part(&in, voice);
        }
        rice_samples(&in, voice, samples, until);
        voice->done = (uint8_t)((voice->done + (until - samples)) % FXP_RICE_PART);
        samples += until - samples;
    }
    keep_history(voice, first, end);
    voice->next = in.at - ((in.have + 7U) >> 3);
    voice->index = (uint8_t)(-in.have & 7);
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
#if FXP_RICE
    } else if (voice->coding == FXP_RICE_CODING) {
        rice(table, voice, samples, end);
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
