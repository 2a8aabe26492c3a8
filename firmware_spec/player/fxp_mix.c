/* Samples of the board: SPEC 6.1 R4, R5, R8, R10. Voice by voice into a block of sums, so that a voice's state stays in registers. */
#include "fxp_parts.h"

/* R8: the tail's next samples. */
static void begin_with_tail(struct fxp *player, int32_t *sums, uint_fast8_t count)
{
    int32_t tail = player->tail;
    for (; count > 0; count--) {
        if (tail != 0) {
            tail -= (tail >> 5) + (tail > 0);
        }
        *sums++ = tail;
    }
    player->tail = tail;
}

/* Behind a run (3.7 R3) comes that of the loop, once or for ever. False: nothing. */
static bool next_run(const struct fxp *player, struct fxp_voice *voice)
{
    struct fxp_clip clip;
    if ((voice->flags & (FXP_VOICE_LEAD | FXP_VOICE_LOOPED)) == 0 || !fxp_read_clip(player, voice->clip, &clip)) {
        voice->flags |= FXP_VOICE_LAST;
        return false;
    }
    voice->next = clip.loop;
    fxp_begin_run(player, voice);
    voice->flags &= (uint8_t)~FXP_VOICE_LEAD;
    voice->left = clip.turn;
    return true;
}

static void add_silence(int16_t *samples, uint_fast8_t count)
{
    for (; count > 0; count--) {
        *samples++ = 0;
    }
}

/* The next `count` samples of a voice's clip, round its loop; the last of them may be the 0 behind a clip that is not looped. A clip whose bytes are
 * not there ends. */
static void read_clip(const struct fxp *player, struct fxp_voice *voice, int16_t *samples, uint_fast8_t count)
{
    while (count > 0) {
        if (voice->block == 0) {
            if (voice->left == 0 && !next_run(player, voice)) {
                add_silence(samples, count);
                return;
            }
            if (!fxp_begin_block(player, voice)) {
                voice->flags = FXP_VOICE_SOUNDS;
                voice->block = 0;
                voice->left = 0;
                add_silence(samples, count);
                return;
            }
        }
        uint_fast8_t now = count;
        if (voice->block < count) {
            now = (uint_fast8_t)voice->block;
        }
        voice->block = (uint16_t)(voice->block - now);
        voice->left -= now;
        fxp_decode(player->table, voice, samples, samples + now);
        samples += now;
        count = (uint_fast8_t)(count - now);
    }
}

/* R5, for a voice that has been let go: four samples at a time have the same factor. Whether it goes on. */
static bool add_fading(struct fxp_voice *voice, const int16_t *samples, int32_t *sums, uint_fast8_t count)
{
    while (count > 0) {
        uint_fast8_t now = count < 4 ? count : 4;
        uint32_t lost = voice->loss * now; /* at most 2^31 */
        uint16_t gain = (uint16_t)(voice->gain * (voice->factor >> 16) >> 15);
        voice->added = fxp_clip_add(voice, samples, gain, sums, now);
        if (voice->factor <= lost) {
            return false; /* free for the play steps of the next frame (R7) */
        }
        voice->factor -= lost;
        sums += now;
        count = (uint_fast8_t)(count - now);
    }
    return true;
}

/* Samples of the clip from a on; the voice sounds, so sample a of the first one is among them. */
static uint32_t left_from(const struct fxp *player, const struct fxp_voice *voice)
{
    struct fxp_clip clip;
    if ((voice->flags & FXP_VOICE_LOOPED) != 0) {
        return UINT32_MAX;
    }
    if ((voice->flags & FXP_VOICE_LAST) != 0) {
        return 1;
    }
    if ((voice->flags & FXP_VOICE_LEAD) != 0 && fxp_read_clip(player, voice->clip, &clip)) {
        return voice->left + clip.turn + 2;
    }
    return voice->left + 2;
}

static void add_voice(const struct fxp *player, struct fxp_voice *voice, struct fxp_block *block, uint_fast8_t count)
{
    uint32_t left = left_from(player, voice);
    uint32_t ahead; /* sample a of the last one, counted from that one */
    int16_t *samples = block->samples + FXP_IN_FRONT;
    while ((ahead = (voice->part + voice->step * (count - 1U)) >> 16) >= left && count > 1) {
        count--;
    }
    samples[0] = voice->a;
    samples[1] = voice->b;
    read_clip(player, voice, samples + 2, (uint_fast8_t)ahead);
    bool goes_on = true;
    if ((voice->flags & FXP_VOICE_LET_GO) != 0) {
        goes_on = add_fading(voice, samples, block->sums, count);
    } else {
        voice->added = fxp_clip_add(voice, samples, voice->gain, block->sums, count);
    }
    voice->a = samples[ahead];
    voice->b = samples[ahead + 1];
    if (!goes_on || voice->part >> 16 >= left) {
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
