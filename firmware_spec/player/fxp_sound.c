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

/* R8 */
static void cut(struct fxp *player, const struct fxp_voice *voice)
{
    int32_t tail = player->tail + voice->added; /* below 2^21 */
    if (tail > FXP_MOST_TAIL) {
        tail = FXP_MOST_TAIL;
    }
    player->tail = tail < -FXP_MOST_TAIL ? -FXP_MOST_TAIL : tail;
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

bool fxp_read_clip(const struct fxp *player, uint8_t index, struct fxp_clip *clip)
{
    fxp_table at = fxp_record(player, FXP_CLIPS, index);
    uint32_t samples = fxp_word(at, FXP_C_SAMPLES);
    uint32_t place = fxp_word(at, FXP_C_PLACE);
    clip->form = fxp_word(fxp_record(player, FXP_FORMS, (uint16_t)(samples >> 24)), 0);
    clip->turn = samples & 0xFFFFFF;
    clip->place = clip->loop = player->clip_data + (place & 0xFFFFFF);
    clip->lead = 0;
    clip->has_loop = place >> 24 < player->count[FXP_LOOPS];
    if (clip->has_loop) {
        at = fxp_record(player, FXP_LOOPS, (uint16_t)(place >> 24));
        uint32_t lead = fxp_word(at, FXP_L_START);
        clip->loop = player->clip_data + fxp_word(at, FXP_L_PLACE);
        if (lead < clip->turn) {
            clip->lead = lead;
            clip->turn -= lead;
        }
    }
    return index < player->count[FXP_CLIPS] && clip->turn != 0;
}

static void begin_clip(struct fxp_voice *voice, const struct fxp_clip *clip)
{
    voice->coding = (uint8_t)(clip->form >> 24);
    voice->next = clip->place;
    voice->left = clip->lead != 0 ? clip->lead : clip->turn;
    voice->flags = clip->lead != 0 ? SOUNDS | FXP_VOICE_LEAD : SOUNDS;
    voice->part = UINT32_C(2) << 16;
    voice->added = 0;
}

void fxp_sound_start(struct fxp *player, fxp_table step, uint16_t release, const struct fxp_place *effect)
{
    struct fxp_clip clip;
    uint8_t which = FXP_TABLE_BYTE(step, FXP_E_WHAT);
    if (!fxp_read_clip(player, which, &clip)) {
        return;
    }
    struct fxp_voice *voice = find_voice(player, which);
    fxp_note(player, FXP_SOUND, index_of(player, voice), which);
    renew(player, voice);
    uint32_t gain = (uint32_t)FXP_TABLE_HALF(step, FXP_E_VALUE) * effect->gain >> 8; /* below 2^16 * 2^9 */
    begin_clip(voice, &clip);
    fxp_begin_run(player, voice);
    voice->gain = (uint16_t)(gain < 32767 ? gain : 32767);
    voice->step = (clip.form & 0x3FFFF) * effect->pitch >> 12; /* below 2^18 * 5117 */
    voice->release = release;
    voice->clip = which;
    voice->owner = effect->owner;
    if (release != 0 && clip.has_loop && effect->owner != FXP_NONE) { /* R2 */
        voice->flags |= LOOPED;
    }
}

/* R5 */
void fxp_sound_let_go(struct fxp *player, uint8_t owner)
{
    for (struct fxp_voice *voice = player->voice; voice < player->voice + player->voices; voice++) {
        if ((voice->flags & (SOUNDS | LOOPED | LET_GO)) == (SOUNDS | LOOPED) && voice->owner == owner) {
            uint32_t samples = (uint32_t)voice->release * player->samples_per_frame; /* 4..2^24 */
            voice->factor = UINT32_C(0x80000000);
            voice->loss = fxp_divide(voice->factor + samples - 1, samples);
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

void fxp_play_sound(struct fxp *player, int16_t *samples)
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
    player->frame++;
}

bool fxp_sounds(const struct fxp *player)
{
    uint8_t flags = 0;
    for (uint8_t voice = 0; voice < player->voices; voice++) {
        flags |= player->voice[voice].flags;
    }
    return flags != 0 || player->tail != 0 || player->volume != player->wanted;
}
