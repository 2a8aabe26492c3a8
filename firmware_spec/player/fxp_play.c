/* One frame after the other: SPEC 5.1 and 5.2. */
#include "fxp_parts.h"

void fxp_note(const struct fxp *player, enum fxp_kind kind, uint8_t index, uint16_t value)
{
    if (player->trace != 0) {
        player->trace(player->trace_context, player->frame, (uint8_t)kind, index, value);
    }
}

const uint8_t fxp_record_size[FXP_SECTIONS] FXP_ROM = {1, 1, 2, 2, 3, 2, 3, 3, 1, 2, 3, 2, 0, 2};

fxp_table fxp_record(const struct fxp *player, uint8_t section, uint16_t index)
{
    if (index >= player->count[section]) {
        return player->table;
    }
    return (fxp_table)(player->table + (uint16_t)(player->first[section] + (index << FXP_ROM_BYTE(&fxp_record_size[section]))));
}

/* Rounded down; by is 1..2^31. One bit of the quotient after the other: `rest` is below `by`. */
uint32_t fxp_divide(uint32_t dividend, uint32_t by)
{
    uint32_t rest = 0;
    for (uint_fast8_t bit = 0; bit < 32; bit++) {
        rest = rest << 1 | dividend >> 31;
        dividend <<= 1;
        if (rest >= by) {
            rest -= by;
            dividend |= 1;
        }
    }
    return dividend;
}

bool fxp_has(const struct fxp *player, uint8_t selector, uint16_t position)
{
    return selector < player->count[FXP_SELECTORS] && position < FXP_TABLE_BYTE(fxp_record(player, FXP_SELECTORS, selector), 0) && position < 16;
}

enum fxp_status fxp_select(struct fxp *player, uint8_t selector, uint8_t position)
{
    if (!fxp_has(player, selector, position)) {
        return FXP_NO_SUCH;
    }
    if (player->positions[selector] != position) {
        player->positions[selector] = position;
        player->changed = true;
        fxp_note(player, FXP_SELECT, selector, position);
    }
    return FXP_OK;
}

enum fxp_status fxp_volume(struct fxp *player, uint16_t wanted)
{
    if (wanted > 256) {
        return FXP_NO_SUCH;
    }
    player->wanted = wanted;
    fxp_note(player, FXP_VOLUME, 0, wanted);
    return FXP_OK;
}

static uint16_t lockout(const struct fxp *player, uint8_t input)
{
    return FXP_TABLE_HALF(fxp_record(player, FXP_INPUTS, input), 0) & 0x7FFF;
}

static void change_input(struct fxp *player, uint8_t input, uint32_t bit)
{
    player->free_from[input] = player->frame + lockout(player, input);
    player->down ^= bit;
    player->changed = true;
    bool is_down = (player->down & bit) != 0;
    if (is_down) {
        player->went_down[input] = player->frame;
    }
    fxp_note(player, is_down ? FXP_PRESS : FXP_RELEASE, input, 0);
}

/* 5.2 R2 and R3. Mostly no input has anything to do. */
static void read_inputs(struct fxp *player, uint32_t closed, uint32_t struck)
{
    uint32_t pending = (player->down & ~closed) | (~player->down & (closed | struck));
    uint32_t bit = 1;
    for (uint8_t input = 0; pending != 0 && input < player->count[FXP_INPUTS]; input++) {
        if ((pending & bit) != 0 && fxp_reached(player->frame, player->free_from[input])) {
            change_input(player, input, bit);
        }
        pending &= ~bit;
        bit <<= 1;
    }
}

/* Not by change_input: what boards never call must not cost them the call. */
enum fxp_status fxp_held(struct fxp *player, uint8_t input, uint16_t frames)
{
    if (input >= player->count[FXP_INPUTS] || frames == 0 || (player->down >> input & 1) != 0) {
        return FXP_NO_SUCH;
    }
    player->went_down[input] = player->frame - frames;
    player->free_from[input] = player->went_down[input] + lockout(player, input);
    player->down |= UINT32_C(1) << input;
    player->changed = true;
    fxp_note(player, FXP_PRESS, input, 0);
    fxp_trigger_held(player, input, frames);
    return FXP_OK;
}

void fxp_play_triggers(struct fxp *player, uint32_t closed, uint32_t struck)
{
    read_inputs(player, closed, struck);
    if (player->changed || fxp_reached(player->frame, player->wake)) {
        player->changed = false;
        fxp_trigger_frame(player);
    }
    fxp_effect_frame(player);
}

void fxp_frame(struct fxp *player, uint32_t closed, uint32_t struck, int16_t *samples, uint16_t *duties)
{
    fxp_play_triggers(player, closed, struck);
    fxp_play_light(player, duties);
    fxp_play_sound(player, samples);
}

/* An input whose contact has moved changes as soon as its lock-out is over. */
static uint32_t until_free(const struct fxp *player, uint32_t closed, uint32_t frames)
{
    for (uint8_t input = 0; input < player->count[FXP_INPUTS]; input++) {
        uint32_t left = player->free_from[input] - player->frame;
        if (((player->down ^ closed) >> input & 1) != 0) {
            if (fxp_reached(player->frame, player->free_from[input])) {
                return 0;
            }
            frames = left < frames ? left : frames;
        }
    }
    return frames;
}

uint32_t fxp_still(const struct fxp *player, uint32_t closed)
{
    uint32_t frames = fxp_effect_rests(player);
    uint32_t sleep = player->wake - player->frame;
    if (player->changed || fxp_reached(player->frame, player->wake) || fxp_sounds(player) || fxp_light_moves(player)) {
        return 0;
    }
    return until_free(player, closed, sleep < frames ? sleep : frames);
}

void fxp_pass(struct fxp *player, uint32_t frames)
{
    player->frame += frames;
}
