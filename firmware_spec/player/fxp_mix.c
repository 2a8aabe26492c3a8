/* Samples of the board: SPEC 6.1 R4, R5, R8, R10. Voice by voice into a block of sums, so that a voice's state stays in registers. */
#include "fxp_parts.h"

/* The tail's next samples. It has come to its end where quotient and remainder are 0, and stays there. */
static void begin_with_tail(struct fxp *player, int32_t *sums, uint_fast8_t count)
{
    while ((player->tail | player->tail_part) != 0 && count > 0) {
        player->tail -= player->tail_fall;
        if (player->tail_part < player->tail_rest) {
            player->tail_part = (uint16_t)(player->tail_part + player->cut_ramp);
            player->tail--;
        }
        player->tail_part = (uint16_t)(player->tail_part - player->tail_rest);
        *sums++ = player->tail_negative ? -(int32_t)player->tail : (int32_t)player->tail;
        count--;
    }
    for (; count > 0; count--) {
        *sums++ = 0;
    }
}

/* Behind a run (3.7 R3) comes that of the loop, once or for ever. False: nothing. */
static bool next_run(struct fxp_voice *voice)
{
    if ((voice->flags & FXP_VOICE_LEAD) == 0) {
        if ((voice->flags & FXP_VOICE_LOOPED) == 0) {
            voice->flags |= FXP_VOICE_LAST;
            return false;
        }
    }
    voice->next = voice->loop;
    voice->index = 0;
    voice->flags &= (uint8_t)~FXP_VOICE_LEAD;
    voice->left = voice->turn;
    return true;
}

static void begin_block(struct fxp_voice *voice)
{
    uint16_t full = FXP_RICE_BLOCK; /* of the codings without blocks: as good as any */
    if (voice->coding == FXP_IMA) {
        full = FXP_IMA_BLOCK;
    } else if (voice->coding == FXP_QOA) {
        full = FXP_QOA_BLOCK;
    }
    voice->block = voice->left < full ? (uint16_t)voice->left : full;
    voice->flags |= FXP_VOICE_FRESH;
    voice->done = 0;
}

/* The next `count` samples of a voice's clip, round its loop; the last of them may be the 0 behind a clip that is not looped. */
static void read_clip(fxp_table table, struct fxp_voice *voice, int16_t *samples, uint_fast8_t count)
{
    while (count > 0) {
        if (voice->block == 0) {
            if (voice->left == 0 && !next_run(voice)) {
                *samples = 0;
                return;
            }
            begin_block(voice);
        }
        uint_fast8_t now = count;
        if (voice->block < count) {
            now = (uint_fast8_t)voice->block;
        }
        voice->block = (uint16_t)(voice->block - now);
        voice->left -= now;
        fxp_decode(table, voice, samples, samples + now);
        samples += now;
        count = (uint_fast8_t)(count - now);
    }
}

/* R5: the factor of the next sample; false where it is 0. 32768 is fall * release + more, so that nothing is divided here. */
static bool fall_on(struct fxp_voice *voice, uint32_t release, uint16_t more)
{
    voice->factor = (uint16_t)(voice->factor - voice->fall);
    voice->rest += more; /* below 2 R */
    if (voice->rest >= release) {
        voice->rest -= release;
        voice->factor--;
    }
    return voice->factor != 0;
}

/* R5, for a voice that has been let go: the values before the gain, then the factor. */
static void add_fading(const struct fxp *player, struct fxp_voice *voice, struct fxp_block *block, uint_fast8_t count)
{
    int32_t *sums = block->sums;
    uint32_t release = fxp_release(player, voice);
    uint16_t more = (uint16_t)(32768 - voice->fall * release);
    for (uint_fast8_t i = 0; i < count; i++) {
        block->values[i] = 0;
    }
    fxp_clip_add(voice, block->samples + FXP_IN_FRONT, 4096, block->values, count);
    for (const int32_t *from = block->values; count > 0; count--) {
        int32_t value = fxp_scale(*from++ * (int32_t)voice->factor, 15); /* at most 2^15 * 2^15 */
        voice->added = fxp_scale(value * (int32_t)voice->gain, 12);
        *sums++ += voice->added;
        if (!fall_on(voice, release, more)) {
            voice->flags = 0; /* free for the play steps of the next frame (R7) */
            return;
        }
    }
}

static void add_voice(const struct fxp *player, struct fxp_voice *voice, struct fxp_block *block, uint_fast8_t count)
{
    uint32_t left = UINT32_MAX; /* samples of the clip from a on; the voice sounds, so sample a of the first one is among them */
    uint32_t ahead;             /* sample a of the last one, counted from that one */
    int16_t *samples = block->samples + FXP_IN_FRONT;
    if ((voice->flags & FXP_VOICE_LOOPED) == 0) {
        left = (voice->flags & FXP_VOICE_LEAD) != 0 ? voice->left + voice->turn + 2 : voice->left + 2;
        if ((voice->flags & FXP_VOICE_LAST) != 0) {
            left = 1;
        }
    }
    while ((ahead = (voice->part + voice->step * (count - 1U)) >> 16) >= left) {
        count--;
    }
    samples[0] = voice->a;
    samples[1] = voice->b;
    read_clip(player->table, voice, samples + 2, (uint_fast8_t)ahead);
    if ((voice->flags & FXP_VOICE_LET_GO) != 0) {
        add_fading(player, voice, block, count);
    } else {
        voice->added = fxp_clip_add(voice, samples, voice->gain, block->sums, count);
    }
    voice->a = samples[ahead];
    voice->b = samples[ahead + 1];
    if (voice->part >> 16 >= left) {
        voice->flags = 0;
    }
    voice->part -= ahead << 16;
}

void fxp_mix(struct fxp *player, struct fxp_block *block, int16_t *samples, uint_fast8_t count)
{
    begin_with_tail(player, block->sums, count);
    struct fxp_voice *voice = player->voice;
    for (uint_fast8_t left = player->voices; left > 0; left--) {
        if (voice->flags != 0) {
            add_voice(player, voice, block, count);
        }
        voice++;
    }
    player->saturated += fxp_clip_hold(block->sums, samples, player->volume, count);
}
