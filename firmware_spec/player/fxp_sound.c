/* Sounds begin, are cut and let go: SPEC 6.1. */
#include "fxp_parts.h"

enum { SOUNDS = FXP_VOICE_SOUNDS, LOOPED = FXP_VOICE_LOOPED, LET_GO = FXP_VOICE_LET_GO };

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
    player->tail_fall = fxp_divide(player->tail, player->cut_ramp);
    player->tail_rest = (uint16_t)(player->tail - player->tail_fall * player->cut_ramp);
}

static uint8_t index_of(const struct fxp *player, const struct fxp_voice *voice)
{
    return (uint8_t)(voice - player->voice);
}

/* R1: the lowest voice that is free, or one that is cut. */
static struct fxp_voice *find_voice(struct fxp *player, uint8_t clip)
{
    struct fxp_voice *found = player->voice;
    uint32_t lowest = UINT32_C(0xFFFFFFFF);
    for (struct fxp_voice *voice = player->voice; voice < player->voice + player->voices; voice++) {
        if ((voice->flags & SOUNDS) == 0) {
            return voice;
        }
        uint32_t its = rank(player, voice, clip);
        if (its < lowest) {
            lowest = its;
            found = voice;
        }
    }
    fxp_note(player, FXP_CUT, index_of(player, found), found->clip);
    cut(player, found);
    return found;
}

/* The voice becomes the youngest. */
static void renew(struct fxp *player, struct fxp_voice *taken)
{
    uint_fast8_t age = taken->age;
    for (struct fxp_voice *voice = player->voice; voice < player->voice + player->voices; voice++) {
        if (voice->age > age) {
            voice->age--;
        }
    }
    taken->age = (uint8_t)(player->voices - 1);
}

/* The voice in front of a clip's first sample. */
static void begin_clip(struct fxp_voice *voice, const struct fxp *player, const uint32_t *clip, uint8_t coding)
{
    uint32_t lead = clip[FXP_CLIP_LOOP];
    voice->coding = coding;
    voice->block = 0;
    voice->index = 0;
    voice->turn = clip[FXP_CLIP_SAMPLES] - lead;
    voice->next = voice->loop = player->clip_data + clip[FXP_CLIP_PLACE];
    voice->left = voice->turn;
    voice->flags = SOUNDS;
    if (lead != 0) {
        voice->loop += fxp_run_bytes(player->table, voice->next, coding, lead);
        voice->left = lead;
        voice->flags = SOUNDS | FXP_VOICE_LEAD;
    }
#ifndef FXP_WITHOUT_RICE
    if (coding == FXP_RICE) { /* behind the lengths of both runs */
        voice->end = voice->loop + fxp_run_bytes(player->table, voice->loop, coding, voice->turn);
        voice->next += 3;
        voice->loop += 3;
    }
#endif
}

void fxp_sound_start(struct fxp *player, const struct fxp_step *step, const struct fxp_place *effect)
{
    struct fxp_reader body;
    uint32_t clip[FXP_CLIP_FIELDS];
    uint8_t which = (uint8_t)step->field[FXP_PLAY_CLIP];
    fxp_record(&body, player, FXP_CLIPS, which);
    fxp_read_clip(&body, FXP_CHECKED, clip);
    struct fxp_voice *voice = find_voice(player, which);
    fxp_note(player, FXP_SOUND, index_of(player, voice), which);
    renew(player, voice);
    uint32_t gain = step->field[FXP_PLAY_GAIN] * effect->of.steps.gain >> 8; /* below 2^15 * 2^9 */
    voice->gain = (uint16_t)(gain < 32767 ? gain : 32767);
    voice->step = clip[FXP_CLIP_STEP] * effect->of.steps.pitch >> 12; /* below 2^18 * 5117 */
    begin_clip(voice, player, clip, body.flags & 15);
    voice->part = UINT32_C(2) << 16;
    voice->added = 0;
    voice->release = (uint16_t)step->field[FXP_PLAY_RELEASE];
    voice->factor = 32768;
    voice->rest = 0;
    voice->clip = which;
    voice->owner = effect->owner;
    if ((step->head & 16) != 0 && (body.flags & 16) != 0 && effect->owner != FXP_NONE) { /* R2 */
        voice->flags |= LOOPED;
    }
}

/* R5 */
void fxp_sound_let_go(struct fxp *player, uint8_t owner)
{
    for (struct fxp_voice *voice = player->voice; voice < player->voice + player->voices; voice++) {
        if ((voice->flags & (SOUNDS | LOOPED | LET_GO)) == (SOUNDS | LOOPED) && voice->owner == owner) {
            voice->fall = (uint16_t)fxp_divide(32768, fxp_release(player, voice));
            voice->flags |= LET_GO;
            fxp_note(player, FXP_RELEASED, index_of(player, voice), voice->clip);
        }
    }
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

void fxp_sound_frame(struct fxp *player, int16_t *samples)
{
    struct fxp_block block;
    move_volume(player);
    uint_fast16_t left = player->samples_per_frame;
    while (left > 0) {
        uint_fast8_t count = (uint_fast8_t)(left < FXP_BLOCK ? left : FXP_BLOCK);
        fxp_mix(player, &block, samples, count);
        samples += count;
        left -= count;
    }
}
