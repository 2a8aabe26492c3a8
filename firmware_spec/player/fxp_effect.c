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

/* base + amount * (r - 32768) / 2^shift, toward zero, for 5.5 R1; no draw where amount is 0. The product is at most 255 * 2^15. */
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

/* 5.5 R3 */
static void keep(struct fxp *player, const struct fxp_place *work)
{
    for (uint8_t place = 0; place < FXP_PLACES; place++) {
        if (player->places[place].flags == 0) {
            player->places[place] = *work;
            return;
        }
    }
    fxp_note(player, FXP_REFUSED, work->effect, 0);
}

static struct fxp_curve curve_at(const struct fxp *player, uint16_t record)
{
    struct fxp_reader body = fxp_body(player, record);
    struct fxp_curve curve;
    fxp_read_curve(&body, &curve);
    curve.record = record;
    return curve;
}

static void start_curve(struct fxp *player, uint8_t flags, uint16_t record, uint8_t channel, uint8_t channels)
{
    struct fxp_curve curve = curve_at(player, record);
    struct fxp_looks looks;
    looks.of[0].segment = looks.of[1].segment = 0;
    for (; channels > 0; channels--) {
        fxp_light_start(player, &looks, channel, (flags & AMBIENT) != 0 ? FXP_AMBIENT_LAYER : FXP_EFFECT_LAYER, &curve);
        channel++;
    }
}

/* 5.5 R7: the next channel of a fade that goes along its group; whether others are to come. */
static bool go_along(struct fxp *player, struct fxp_place *work)
{
    start_curve(player, work->flags, work->of.fade.curve, work->channel, 1);
    work->channel = (uint8_t)((work->flags & BACKWARD) != 0 ? work->channel - 1 : work->channel + 1);
    work->of.fade.left--;
    work->due = (uint16_t)(work->due + work->of.fade.every); /* 1..32768 frames from now */
    return work->of.fade.left > 0;
}

static void start_fade(struct fxp *player, const struct fxp_place *effect, const struct fxp_step *step)
{
    const struct fxp_group *group = &step->group;
    uint16_t record = fxp_find(player, FXP_FADES, step->what);
    fxp_note(player, FXP_FADE, step->group_index, step->what);
    if (step->amount == 0) {
        start_curve(player, effect->flags, record, group->first, group->channels);
        return;
    }
    struct fxp_place work = *effect;
    work.due = (uint16_t)player->frame;
    work.flags |= FADE;
    work.channel = group->first;
    if (step->negative) {
        work.flags |= BACKWARD;
        work.channel = (uint8_t)(group->first + group->channels - 1);
    }
    work.of.fade.curve = record;
    work.of.fade.every = step->amount;
    work.of.fade.left = group->channels;
    if (go_along(player, &work)) {
        keep(player, &work);
    }
}

/* 5.5 R6 */
static void count(struct fxp *player, const struct fxp_step *step)
{
    uint16_t value = player->counters[step->what];
    if (step->negative) {
        value = (uint16_t)(value > step->amount ? value - step->amount : 0);
    } else {
        struct fxp_reader body = fxp_body(player, fxp_find(player, FXP_COUNTERS, step->what));
        uint16_t maximum = (uint16_t)fxp_number(&body, 1, 65535);
        value = (uint16_t)(step->amount < maximum - value ? value + step->amount : maximum);
    }
    player->counters[step->what] = value;
    fxp_note(player, FXP_COUNT, step->what, value);
    fxp_light_gauges(player, step->what);
}

static void carry_out(struct fxp *player, const struct fxp_place *work, const struct fxp_step *step)
{
    if (step->kind == FXP_PLAY_STEP) {
        fxp_sound_start(player, step, work->of.steps.pitch, work->of.steps.gain, work->owner);
    } else if (step->kind == FXP_FADE_STEP) {
        start_fade(player, work, step);
    } else {
        count(player, step);
    }
}

/* 5.5 R2: the steps that are due; whether others are to come. waited: the wait of the first is over. */
static bool carry_out_steps(struct fxp *player, struct fxp_place *work, bool waited)
{
    struct fxp_reader body = {player, work->of.steps.at, work->of.steps.end, 0, FXP_OK};
    while (body.at < body.end) {
        struct fxp_step step;
        fxp_read_step(&body, (work->flags & AMBIENT) != 0, 0, &step); /* what 3.8 R1 asks has been checked */
        if (step.wait != 0 && !waited) {
            work->due = (uint16_t)(player->frame + step.wait);
            return true;
        }
        waited = false;
        work->of.steps.at = body.at;
        carry_out(player, work, &step);
    }
    return false;
}

uint16_t fxp_effect_start(struct fxp *player, uint8_t effect, uint8_t trigger, bool held)
{
    struct fxp_reader body = fxp_body(player, fxp_find(player, FXP_EFFECTS, effect));
    struct fxp_effect record;
    fxp_read_effect(&body, &record);
    fxp_note(player, FXP_EFFECT, effect, trigger);
    struct fxp_place work;
    work.flags = record.ambient ? TAKEN | AMBIENT : TAKEN;
    work.effect = effect;
    work.owner = held ? trigger : FXP_NONE;
    work.channel = 0;
    work.of.steps.at = body.at;
    work.of.steps.end = body.end;
    work.of.steps.pitch = spread(player, 4096, record.pitch_spread, 13);
    work.of.steps.gain = spread(player, 256, record.gain_spread, 15);
    if (carry_out_steps(player, &work, false)) {
        keep(player, &work);
    }
    return record.length;
}

void fxp_effect_forget(struct fxp *player, uint8_t owner)
{
    for (uint8_t place = 0; place < FXP_PLACES; place++) {
        if (player->places[place].owner == owner) { /* of a free place it may be so too */
            player->places[place].flags = 0;
        }
    }
}

/* 5.5 R4. A place is looked at in every frame and waits for 1 to 65535 of them, so that 16 bits of `due` are enough. */
void fxp_effect_frame(struct fxp *player)
{
    for (uint8_t place = 0; place < FXP_PLACES; place++) {
        struct fxp_place *work = &player->places[place];
        if (work->flags == 0 || work->due != (uint16_t)player->frame) {
            continue;
        }
        bool more = (work->flags & FADE) != 0 ? go_along(player, work) : carry_out_steps(player, work, true);
        if (!more) {
            work->flags = 0;
        }
    }
}
