/* Sound: SPEC 6.1. Voice by voice into a block of sums, so that a voice's state stays in registers. */
#include "fxp_parts.h"

enum { SOUNDS = 1, LOOPED = 2, LET_GO = 4, MULAW = 8 }; /* of a voice */
enum { BLOCK = 32 }; /* samples */

void fxp_sound_open(struct fxp *player)
{
    for (uint8_t voice = 0; voice < player->voices; voice++) {
        player->voice[voice].age = voice;
    }
}

/* R6, the voice to be cut: lowest in rank. Three bits stand above the age for what counts more, and the gain between them. */
static uint32_t rank(const struct fxp *player, const struct fxp_voice *voice, uint8_t clip)
{
    uint32_t rank = voice->age;
    if ((voice->flags & (LOOPED | LET_GO)) == LOOPED) {
        rank |= UINT32_C(1) << 31;
    }
    if (player->voice_rule == FXP_QUIETEST) {
        rank |= (uint32_t)voice->gain << 8;
    } else if (player->voice_rule == FXP_SAME_CLIP && voice->clip != clip) {
        rank |= UINT32_C(1) << 30;
    }
    return rank;
}

/* R8. The tail is |T| * (cut_ramp - 1 - k) / cut_ramp, by one division a cut instead of one a sample: as k goes up by one, the dividend
 * goes down by |T|, so the quotient by |T| / cut_ramp and, every so often, one more. At k = -1 it is |T|; `left` is where it stands. */
static void cut(struct fxp *player, const struct fxp_voice *voice)
{
    int32_t left = (int32_t)player->tail; /* at most 2^20 */
    int32_t value = (player->tail_negative ? -left : left) + voice->added;
    uint32_t size = value < 0 ? (uint32_t)-value : (uint32_t)value;
    if (player->cut_ramp == 0) {
        return;
    }
    player->tail_negative = value < 0;
    player->tail = size < 1048575 ? size : 1048575;
    player->tail_part = 0;
    player->tail_fall = player->tail / player->cut_ramp;
    player->tail_rest = (uint16_t)(player->tail % player->cut_ramp);
}

/* The tail's next sample. It has come to its end where quotient and remainder are 0, and stays there. */
static int32_t tail_sample(struct fxp *player)
{
    if (player->tail == 0 && player->tail_part == 0) {
        return 0;
    }
    player->tail -= player->tail_fall;
    if (player->tail_part < player->tail_rest) {
        player->tail_part = (uint16_t)(player->tail_part + player->cut_ramp);
        player->tail--;
    }
    player->tail_part = (uint16_t)(player->tail_part - player->tail_rest);
    return player->tail_negative ? -(int32_t)player->tail : (int32_t)player->tail;
}

/* R1: the lowest voice that is free, or one that is cut. */
static uint8_t find_voice(struct fxp *player, uint8_t clip)
{
    uint8_t found = 0;
    uint32_t lowest = UINT32_C(0xFFFFFFFF);
    for (uint8_t index = 0; index < player->voices; index++) {
        const struct fxp_voice *voice = &player->voice[index];
        if ((voice->flags & SOUNDS) == 0) {
            return index;
        }
        uint32_t its = rank(player, voice, clip);
        if (its < lowest) {
            lowest = its;
            found = index;
        }
    }
    fxp_note(player, FXP_CUT, found, player->voice[found].clip);
    cut(player, &player->voice[found]);
    return found;
}

/* The voice becomes the youngest. */
static void renew(struct fxp *player, struct fxp_voice *taken)
{
    for (uint8_t index = 0; index < player->voices; index++) {
        if (player->voice[index].age > taken->age) {
            player->voice[index].age--;
        }
    }
    taken->age = (uint8_t)(player->voices - 1);
}

void fxp_sound_start(struct fxp *player, const struct fxp_step *step, uint16_t pitch, uint16_t gain, uint8_t owner)
{
    struct fxp_reader body = fxp_body(player, fxp_find(player, FXP_CLIPS, step->what));
    struct fxp_clip clip;
    fxp_read_clip(&body, &clip);
    uint8_t index = find_voice(player, step->what);
    struct fxp_voice *voice = &player->voice[index];
    fxp_note(player, FXP_SOUND, index, step->what);
    renew(player, voice);
    uint32_t scaled = (uint32_t)step->amount * gain >> 8; /* below 2^15 * 2^9 */
    voice->gain = (uint16_t)(scaled < 32767 ? scaled : 32767);
    voice->step = clip.step * pitch >> 12; /* below 2^18 * 5117 */
    voice->place = clip.place;
    voice->samples = clip.samples;
    voice->loop_start = clip.loop_start;
    voice->whole = 0;
    voice->part = 0;
    voice->added = 0;
    voice->fall = step->release;
    voice->factor = 32768;
    voice->clip = step->what;
    voice->owner = owner;
    bool looped = step->loops && clip.loops && owner != FXP_NONE;
    voice->flags = (uint8_t)(SOUNDS | (looped ? LOOPED : 0) | (clip.coding == FXP_MULAW ? MULAW : 0));
}

/* R5 */
void fxp_sound_let_go(struct fxp *player, uint8_t owner)
{
    for (uint8_t index = 0; index < player->voices; index++) {
        struct fxp_voice *voice = &player->voice[index];
        if ((voice->flags & (SOUNDS | LOOPED | LET_GO)) == (SOUNDS | LOOPED) && voice->owner == owner) {
            uint32_t samples = (uint32_t)voice->fall * player->samples_per_frame; /* at most 2^24 */
            voice->fall = (uint16_t)(samples == 0 ? 32768 : (32767 + samples) / samples);
            voice->flags |= LET_GO;
            fxp_note(player, FXP_RELEASED, index, voice->clip);
        }
    }
}

/* R3 */
static int32_t mulaw(uint8_t byte)
{
    uint8_t m = (uint8_t)~byte;
    int32_t magnitude = (int32_t)((((m & 15U) << 3) + 132U) << (m >> 4 & 7)) - 132; /* below 2^15 */
    return byte < 128 ? -magnitude : magnitude;
}

static int32_t sample_at(fxp_table table, const struct fxp_voice *voice, uint32_t i)
{
    if ((voice->flags & MULAW) != 0) {
        return mulaw(FXP_TABLE_BYTE(table, voice->place + i));
    }
    uint32_t at = voice->place + 2 * i;
    uint32_t bits = FXP_TABLE_BYTE(table, at) | (uint32_t)FXP_TABLE_BYTE(table, at + 1) << 8;
    return (int32_t)(bits ^ 0x8000) - 0x8000; /* two's complement */
}

/* R4: sample b of sample i. */
static int32_t sample_after(fxp_table table, const struct fxp_voice *voice, uint32_t i)
{
    i++;
    if (i < voice->samples) {
        return sample_at(table, voice, i);
    }
    return (voice->flags & LOOPED) != 0 ? sample_at(table, voice, voice->loop_start) : 0;
}

/* R4: at or beyond the clip's samples. Whether the sound goes on. A step is below 2^19 / 65536, a loop 32 samples or longer: once is enough. */
static bool wrap(struct fxp_voice *voice)
{
    if (voice->whole < voice->samples) {
        return true;
    }
    voice->whole -= voice->samples - voice->loop_start;
    return (voice->flags & LOOPED) != 0;
}

/* R5: the factor of the next sample. Whether there is one. */
static bool fade(struct fxp_voice *voice)
{
    if ((voice->flags & LET_GO) == 0) {
        return true;
    }
    if (voice->factor <= voice->fall) {
        return false;
    }
    voice->factor = (uint16_t)(voice->factor - voice->fall);
    return true;
}

/* R4 and R5: adds `count` samples of a voice, or those it still has. */
static void add_voice(fxp_table table, struct fxp_voice *voice, int32_t *sums, uint8_t count)
{
    int32_t a = sample_at(table, voice, voice->whole);
    int32_t b = sample_after(table, voice, voice->whole);
    for (; count > 0; count--) {
        int32_t value = a + (b - a) * (int32_t)(voice->part >> 1) / 32768; /* below 2^16 * 2^15 */
        if ((voice->flags & LET_GO) != 0) {
            value = value * (int32_t)voice->factor / 32768; /* at most 2^15 * 2^15 */
        }
        voice->added = value * (int32_t)voice->gain / 4096; /* below 2^15 * 2^15 */
        *sums++ += voice->added;
        uint32_t position = voice->part + voice->step; /* below 2^20 */
        uint8_t moved = (uint8_t)(position >> 16);
        voice->part = (uint16_t)position;
        voice->whole += moved;
        if (!wrap(voice) || !fade(voice)) {
            voice->flags = 0; /* free for the play steps of the next frame (R7) */
            return;
        }
        if (moved != 0) {
            a = moved == 1 ? b : sample_at(table, voice, voice->whole);
            b = sample_after(table, voice, voice->whole);
        }
    }
}

/* R10. The sum is below 2^23, the volume at most 2^8. */
static int16_t hold(struct fxp *player, int32_t sum)
{
    int32_t value = sum * (int32_t)player->volume / 256;
    if (value >= -32768 && value <= 32767) {
        return (int16_t)value;
    }
    player->saturated++;
    return value < 0 ? -32768 : 32767;
}

/* R9 */
static void move_volume(struct fxp *player)
{
    if (player->volume < player->wanted) {
        player->volume = (uint16_t)(player->wanted - player->volume > 4 ? player->volume + 4 : player->wanted);
    } else {
        player->volume = (uint16_t)(player->volume - player->wanted > 4 ? player->volume - 4 : player->wanted);
    }
}

static void play_block(struct fxp *player, int16_t *samples, uint8_t count)
{
    int32_t sums[BLOCK];
    for (uint8_t i = 0; i < count; i++) {
        sums[i] = tail_sample(player);
    }
    for (uint8_t index = 0; index < player->voices; index++) {
        if ((player->voice[index].flags & SOUNDS) != 0) {
            add_voice(player->table, &player->voice[index], sums, count);
        }
    }
    for (uint8_t i = 0; i < count; i++) {
        samples[i] = hold(player, sums[i]);
    }
}

void fxp_sound_frame(struct fxp *player, int16_t *samples)
{
    move_volume(player);
    uint16_t left = player->samples_per_frame;
    while (left > 0) {
        uint8_t count = (uint8_t)(left < BLOCK ? left : BLOCK);
        play_block(player, samples, count);
        samples += count;
        left = (uint16_t)(left - count);
    }
}
