/* Effects, counters and draws: SPEC 5.5 and 5.6. */
#include "fxp_parts.h"

enum { TAKEN = 1, FADE = 2, BACKWARD = 4, AMBIENT = 8 }; /* a fade with channels to come, from the last down; AMBIENT: its layer */

uint16_t fxp_draw(struct fxp *player)
{
    uint32_t x = player->dice;
    x ^= x << 13;
    x ^= x >> 17;
    x ^= x << 5;
    player->dice = x;
    return (uint16_t)(x >> 16);
}

/* base + amount * (r - 32768) / 2^shift, toward zero, for 5.5 R2; no draw where amount is 0. The product is at most 255 * 2^15. */
static uint16_t spread(struct fxp *player, uint16_t base, uint8_t amount, uint8_t shift)
{
    if (amount == 0) {
        return base;
    }
    uint16_t r = fxp_draw(player);
    if (r < 32768) {
        return (uint16_t)(base - (amount * (32768 - (uint32_t)r) >> shift)); /* at least 4096 - 1020 or 256 - 255 */
    }
    return (uint16_t)(base + (amount * ((uint32_t)r - 32768) >> shift));
}

/* Field by field: as a whole, some compilers ask for memcpy. */
static void copy(struct fxp_place *to, const struct fxp_place *from)
{
    to->due = from->due;
    to->flags = from->flags;
    to->effect = from->effect;
    to->owner = from->owner;
    to->channel = from->channel;
    to->next = from->next;
    to->pitch = from->pitch;
    to->gain = from->gain;
}

/* 5.5 R3 */
static void keep(struct fxp *player, const struct fxp_place *work)
{
    for (struct fxp_place *place = player->places; place < player->places + FXP_PLACES; place++) {
        if (place->flags == 0) {
            copy(place, work);
            return;
        }
    }
    fxp_note(player, FXP_REFUSED, work->effect, 0);
}

static uint8_t layer_of(uint8_t flags)
{
    return (flags & AMBIENT) != 0 ? FXP_AMBIENT_LAYER : FXP_EFFECT_LAYER;
}

/* 5.5 R7: the next channel of a fade that goes along its group; whether others are to come. */
static bool go_along(struct fxp *player, struct fxp_place *work)
{
    fxp_light_start(player, work->next, layer_of(work->flags), work->channel, 1);
    work->channel = (uint8_t)((work->flags & BACKWARD) != 0 ? work->channel - 1 : work->channel + 1);
    work->gain--;
    work->due = (uint16_t)(work->due + work->pitch); /* 1..32768 frames from now */
    return work->gain > 0;
}

static void start_fade(struct fxp *player, const struct fxp_place *effect, fxp_table step, uint16_t stagger, uint8_t flags)
{
    uint8_t index = FXP_TABLE_BYTE(step, FXP_E_WHAT);
    uint16_t segment = FXP_TABLE_HALF(step, FXP_E_VALUE);
    fxp_table group = fxp_record(player, FXP_GROUPS, index);
    uint8_t first = FXP_TABLE_BYTE(group, FXP_G_FIRST);
    uint8_t channels = FXP_TABLE_BYTE(group, FXP_G_CHANNELS);
    fxp_note(player, FXP_FADE, index, segment);
    if (stagger == 0) {
        fxp_light_start(player, segment, layer_of(flags), first, channels);
        return;
    }
    struct fxp_place work;
    work.due = (uint16_t)player->frame;
    work.flags = flags | TAKEN | FADE;
    work.effect = effect->effect;
    work.owner = effect->owner;
    work.channel = first;
    work.next = segment;
    work.pitch = stagger;
    work.gain = channels;
    if (stagger > 32767) {
        work.pitch = (uint16_t)-stagger;
        work.flags |= BACKWARD;
        work.channel = (uint8_t)(first + channels - 1);
    }
    if (go_along(player, &work)) {
        keep(player, &work);
    }
}

/* 5.5 R6 */
static void count(struct fxp *player, fxp_table step, bool up)
{
    uint8_t counter = FXP_TABLE_BYTE(step, FXP_E_WHAT);
    uint32_t change = FXP_TABLE_HALF(step, FXP_E_VALUE);
    if (counter >= player->count[FXP_COUNTERS]) {
        return;
    }
    uint32_t value = player->counters[counter];
    if (up) {
        uint32_t maximum = FXP_TABLE_HALF(fxp_record(player, FXP_COUNTERS, counter), 0);
        value = value + change < maximum ? value + change : maximum;
    } else {
        value = value > change ? value - change : 0;
    }
    player->counters[counter] = (uint16_t)value;
    fxp_note(player, FXP_COUNT, counter, (uint16_t)value);
    fxp_light_gauges(player, counter);
}

/* with: the value of the step before it, if that was of this kind; else 0. */
static void carry_out(struct fxp *player, struct fxp_place *work, fxp_table step, uint8_t kind, uint16_t with)
{
    if (kind == FXP_SPREAD_STEP) {
        work->pitch = spread(player, 4096, FXP_TABLE_BYTE(step, FXP_E_WHAT), 13);
        work->gain = spread(player, 256, FXP_TABLE_BYTE(step, FXP_E_VALUE), 15);
    } else if (kind == FXP_PLAY_STEP) {
        fxp_sound_start(player, step, 0, work);
    } else if (kind == FXP_PLAY_LOOPED_STEP) {
        fxp_sound_start(player, step, with != 0 ? with : 1, work);
    } else if (kind == FXP_FADE_STEP || kind == FXP_FADE_AMBIENT_STEP) {
        start_fade(player, work, step, with, kind == FXP_FADE_STEP ? 0 : AMBIENT);
    } else if (kind >= FXP_ADD_STEP) {
        count(player, step, kind == FXP_ADD_STEP);
    }
}

/* 5.5 R1: the steps up to the next wait; whether others are to come. */
static bool carry_out_steps(struct fxp *player, struct fxp_place *work)
{
    uint16_t with = 0;
    for (uint_fast8_t most = FXP_MOST_STEPS; most > 0; most--) {
        fxp_table step = fxp_record(player, FXP_STEPS, work->next);
        uint8_t head = FXP_TABLE_BYTE(step, 0);
        uint8_t kind = head & FXP_KIND;
        uint16_t value = FXP_TABLE_HALF(step, FXP_E_VALUE);
        work->next++;
        if (kind == FXP_WAIT_STEP) {
            work->due = (uint16_t)(player->frame + value);
            return true;
        }
        carry_out(player, work, step, kind, with);
        if ((head & FXP_LAST) != 0) {
            return false;
        }
        with = kind == FXP_WITH_STEP ? value : 0;
    }
    return false;
}

uint16_t fxp_effect_start(struct fxp *player, uint8_t effect, uint8_t trigger, bool held)
{
    if (effect >= player->count[FXP_EFFECTS]) {
        return 0;
    }
    struct fxp_place work;
    work.due = 0;
    work.flags = TAKEN;
    work.effect = effect;
    work.owner = held ? trigger : FXP_NONE;
    work.channel = 0;
    work.next = FXP_TABLE_HALF(fxp_record(player, FXP_EFFECTS, effect), 0);
    work.pitch = 4096;
    work.gain = 256;
    fxp_table first = fxp_record(player, FXP_STEPS, work.next);
    fxp_note(player, FXP_EFFECT, effect, trigger);
    if (carry_out_steps(player, &work)) {
        keep(player, &work);
    }
    if ((FXP_TABLE_BYTE(first, 0) & FXP_KIND) != FXP_LENGTH_STEP) {
        return 0;
    }
    return FXP_TABLE_HALF(first, FXP_E_VALUE);
}

void fxp_effect_forget(struct fxp *player, uint8_t owner)
{
    for (struct fxp_place *place = player->places; place < player->places + FXP_PLACES; place++) {
        if (place->owner == owner) { /* of a free place it may be so too */
            place->flags = 0;
        }
    }
}

/* 5.5 R4. A place is looked at in every frame and waits for 1 to 65535 of them, so that 16 bits of `due` are enough. */
void fxp_effect_frame(struct fxp *player)
{
    for (struct fxp_place *work = player->places; work < player->places + FXP_PLACES; work++) {
        if (work->flags == 0 || work->due != (uint16_t)player->frame) {
            continue;
        }
        bool more = (work->flags & FADE) != 0 ? go_along(player, work) : carry_out_steps(player, work);
        if (!more) {
            work->flags = 0;
        }
    }
}

uint32_t fxp_effect_rests(const struct fxp *player)
{
    uint32_t frames = UINT32_MAX;
    for (const struct fxp_place *place = player->places; place < player->places + FXP_PLACES; place++) {
        uint16_t left = (uint16_t)(place->due - (uint16_t)player->frame);
        if (place->flags != 0 && left < frames) {
            frames = left;
        }
    }
    return frames;
}
