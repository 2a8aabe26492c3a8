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

/* Not by assignment, for which some compilers ask for the whole of memcpy. */
static void copy(uint8_t *to, const uint8_t *from)
{
    for (uint_fast8_t left = sizeof(struct fxp_place); left > 0; left--) {
        *to++ = *from++;
    }
}

/* 5.5 R3 */
static void keep(struct fxp *player, const struct fxp_place *work)
{
    for (struct fxp_place *place = player->places; place < player->places + FXP_PLACES; place++) {
        if (place->flags == 0) {
            copy((uint8_t *)place, (const uint8_t *)work);
            return;
        }
    }
    fxp_note(player, FXP_REFUSED, work->effect, 0);
}

/* On `channels` channels from `channel` on. */
static void start_curve(struct fxp *player, uint8_t flags, uint16_t record, uint8_t channel, uint8_t channels)
{
    struct fxp_curve curve;
    struct fxp_light light;
    fxp_light_curve(player, record, (flags & AMBIENT) != 0 ? FXP_AMBIENT_LAYER : FXP_EFFECT_LAYER, &curve);
    fxp_look_anew(&light, player);
    for (; channels > 0; channels--) {
        fxp_light_start(&light, channel, &curve);
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
    struct fxp_group group;
    uint8_t fade = (uint8_t)step->field[FXP_FADE_FADE];
    uint16_t record = fxp_find(player, FXP_FADES, fade);
    fxp_group_at(player, (uint8_t)step->field[FXP_FADE_GROUP], &group);
    fxp_note(player, FXP_FADE, (uint8_t)step->field[FXP_FADE_GROUP], fade);
    if (step->field[FXP_FADE_STAGGER] == 0) {
        start_curve(player, effect->flags, record, group.first, group.channels);
        return;
    }
    struct fxp_place work;
    work.due = (uint16_t)player->frame;
    work.flags = effect->flags | FADE;
    work.effect = effect->effect;
    work.owner = effect->owner;
    work.channel = group.first;
    if ((step->field[FXP_FADE_STAGGER] & 1) != 0) {
        work.flags |= BACKWARD;
        work.channel = (uint8_t)(group.first + group.channels - 1);
    }
    work.of.fade.curve = record;
    work.of.fade.every = fxp_size(step->field[FXP_FADE_STAGGER]);
    work.of.fade.left = group.channels;
    if (go_along(player, &work)) {
        keep(player, &work);
    }
}

/* 5.5 R6 */
static void count(struct fxp *player, const struct fxp_step *step)
{
    uint8_t counter = (uint8_t)step->field[FXP_COUNT_COUNTER];
    uint32_t change = fxp_size(step->field[FXP_COUNT_CHANGE]);
    uint32_t value = player->counters[counter];
    uint32_t maximum = fxp_leads(player, FXP_COUNTERS, counter);
    if ((step->field[FXP_COUNT_CHANGE] & 1) != 0) {
        value = value > change ? value - change : 0;
    } else {
        value = value + change < maximum ? value + change : maximum;
    }
    player->counters[counter] = (uint16_t)value;
    fxp_note(player, FXP_COUNT, counter, (uint16_t)value);
    fxp_light_gauges(player, counter);
}

static void carry_out(struct fxp *player, const struct fxp_place *work, const struct fxp_step *step)
{
    if (step->kind == FXP_PLAY_STEP) {
        fxp_sound_start(player, step, work);
    } else if (step->kind == FXP_FADE_STEP) {
        start_fade(player, work, step);
    } else {
        count(player, step);
    }
}

/* 5.5 R2: the steps that are due; whether others are to come. waited: the wait of the first is over. */
static bool carry_out_steps(struct fxp *player, struct fxp_place *work, bool waited)
{
    struct fxp_reader body = {player, work->of.steps.at, work->of.steps.end, 0, FXP_OK, 0};
    struct fxp_step step;
    while (body.at < body.end) {
        fxp_read_step(&body, false, 0, &step); /* what 3.8 R1 and R2 ask has been checked */
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
    struct fxp_reader body;
    struct fxp_place work;
    uint32_t fields[FXP_EFFECT_FIELDS];
    fxp_record(&body, player, FXP_EFFECTS, effect);
    fxp_read_effect(&body, fields);
    fxp_note(player, FXP_EFFECT, effect, trigger);
    work.flags = (body.flags & 1) != 0 ? TAKEN | AMBIENT : TAKEN;
    work.effect = effect;
    work.owner = held ? trigger : FXP_NONE;
    work.of.steps.at = body.at;
    work.of.steps.end = body.end;
    work.of.steps.pitch = spread(player, 4096, (uint8_t)fields[FXP_PITCH_SPREAD], 13);
    work.of.steps.gain = spread(player, 256, (uint8_t)fields[FXP_GAIN_SPREAD], 15);
    if (carry_out_steps(player, &work, false)) {
        keep(player, &work);
    }
    return (uint16_t)fields[FXP_LENGTH];
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
        bool more = (work->flags & FADE) != 0 ? go_along(player, work) : carry_out_steps(player, work, true);
        if (!more) {
            work->flags = 0;
        }
    }
}
