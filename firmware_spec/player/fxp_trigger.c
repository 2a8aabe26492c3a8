/* Triggers: SPEC 5.3 and 5.4. They are gone through only in frames in which an input or a selector has changed, or for which one of them waits:
 * in any other frame each gate is as it was, none is fresh, nothing is due, and so nothing can happen. */
#include "fxp_parts.h"

/* Gate open in the frame before; running (5.4 R3) or on (R8); there is a `next` (R8); held for long enough, so that nobody asks for `opens` any
 * more, from which frames may have wrapped (5.1 R3). */
enum { OPEN = 1, ON = 2, GOES_ON = 4, HELD = 8 };

/* Frames; well below 2^31, so that `wake` stays comparable (5.1 R3). */
#define LONGEST_SLEEP UINT32_C(0x40000000)

/* A trigger in this frame. */
struct trigger {
    uint8_t index;
    uint8_t flags; /* of the state, as they become */
    bool open, rises, fresh;
    struct fxp_gate gate;
    uint16_t effects, choices; /* of once and repeat: offset of the first of them */
    struct fxp *player;
    struct fxp_shooter *state;
    uint32_t action[FXP_ACTION_FIELDS];
};

static void wake_in(struct fxp *player, uint32_t frames)
{
    if (frames < player->wake - player->frame) {
        player->wake = player->frame + frames;
    }
}

/* Now, in 1/256 frame modulo 2^32. What is due is at most 2^31 - 1 away from it (5.4 R5), so differences tell. */
static uint32_t now(const struct fxp *player)
{
    return player->frame << 8;
}

/* 5.3 R4 */
static bool has_needs(struct trigger *trigger)
{
    struct fxp *player = trigger->player;
    uint8_t needs = (uint8_t)trigger->action[FXP_NEEDS];
    uint8_t empty = (uint8_t)trigger->action[FXP_EMPTY_EFFECT];
    if (needs == FXP_NONE || player->counters[needs] != 0) {
        return true;
    }
    fxp_note(player, FXP_EMPTY, trigger->index, needs);
    if (empty != FXP_NONE) {
        fxp_effect_start(player, empty, trigger->index, false);
    }
    return false;
}

/* 5.4 R1. Both factors of the products are below 2^16. */
static uint16_t choose(struct trigger *trigger)
{
    uint16_t n = trigger->choices;
    uint16_t last = trigger->state->last;
    if ((trigger->gate.head & 128) == 0) {
        last = (uint16_t)(last + 1); /* none, 65535, becomes the first */
        return last < n ? last : 0;
    }
    if (n == 1) {
        return 0;
    }
    if (last == 65535) {
        return (uint16_t)((uint32_t)fxp_draw(trigger->player) * n >> 16);
    }
    uint16_t choice = (uint16_t)((uint32_t)fxp_draw(trigger->player) * (uint32_t)(n - 1) >> 16);
    return (uint16_t)(choice + (choice >= last));
}

static bool fire(struct trigger *trigger)
{
    if (!has_needs(trigger)) {
        return false;
    }
    struct fxp *player = trigger->player;
    struct fxp_shooter *state = trigger->state;
    state->last = choose(trigger);
    fxp_note(player, FXP_SHOT, trigger->index, state->shots);
    if (state->shots < 65535) {
        state->shots++;
    }
    uint8_t effect = FXP_TABLE_BYTE(player->table, (uint32_t)trigger->effects + state->last);
    fxp_effect_start(player, effect, trigger->index, false);
    return true;
}

/* 5.4 R5. The product is below 2^23 * 2^8. */
static uint32_t wait_after(const uint32_t *action, uint16_t shots)
{
    uint32_t period = action[FXP_PERIOD];
    uint32_t ramp_shots = action[FXP_RAMP_SHOTS];
    uint32_t ramped = shots < ramp_shots ? shots : ramp_shots;
    if (shots == 0 && action[FXP_FIRST] != 0) {
        return action[FXP_FIRST];
    }
    if (ramp_shots == 0) {
        return period;
    }
    if (action[FXP_RAMP_PERIOD] >= period) {
        return period + fxp_divide((action[FXP_RAMP_PERIOD] - period) * ramped, ramp_shots);
    }
    return period - fxp_divide((period - action[FXP_RAMP_PERIOD]) * ramped, ramp_shots);
}

static void stop(struct trigger *trigger)
{
    trigger->flags &= (uint8_t)~(ON | GOES_ON);
    fxp_note(trigger->player, FXP_STOP, trigger->index, 0);
}

/* 5.4 R4 */
static void shoot(struct trigger *trigger)
{
    struct fxp_shooter *state = trigger->state;
    uint32_t wait = wait_after(trigger->action, state->shots);
    if (!fire(trigger) || state->shots == trigger->action[FXP_LIMIT]) { /* after a shot the count is not 0, as no limit is */
        stop(trigger);
        return;
    }
    state->due += wait;
}

static bool is_due(const struct trigger *trigger)
{
    return fxp_reached(now(trigger->player), trigger->state->due);
}

/* 5.4 R3 */
static void run_repeat(struct trigger *trigger)
{
    if ((trigger->flags & ON) != 0 && is_due(trigger)) {
        shoot(trigger);
    }
    if ((trigger->flags & ON) == 0 && trigger->rises) {
        trigger->flags |= ON;
        fxp_note(trigger->player, FXP_START, trigger->index, 0);
        trigger->state->shots = 0;
        trigger->state->due = now(trigger->player);
        shoot(trigger);
    }
    if ((trigger->flags & ON) != 0 && !trigger->open && trigger->state->shots >= trigger->action[FXP_BURST]) {
        stop(trigger);
    }
}

static void run_once(struct trigger *trigger)
{
    if (trigger->rises && trigger->fresh) { /* 5.4 R2 */
        trigger->state->shots = 0;
        fire(trigger);
    }
}

/* Starts an effect that is held, if there is one, and lets what comes next be due after its length. */
static uint16_t hold(struct trigger *trigger, uint8_t which)
{
    uint8_t effect = (uint8_t)trigger->action[which];
    uint16_t length = effect == FXP_NONE ? 0 : fxp_effect_start(trigger->player, effect, trigger->index, true);
    trigger->state->due = now(trigger->player) + ((uint32_t)length << 8);
    return length;
}

/* 5.4 R10 */
static void go_on(struct trigger *trigger)
{
    trigger->flags &= (uint8_t)~GOES_ON;
    if (hold(trigger, FXP_DURING) != 0) {
        trigger->flags |= GOES_ON;
    }
}

/* 5.4 R9 */
static void begin(struct trigger *trigger)
{
    if (!has_needs(trigger)) {
        return;
    }
    trigger->flags |= ON | GOES_ON;
    fxp_note(trigger->player, FXP_START, trigger->index, 0);
    if (hold(trigger, FXP_BEGIN) == 0) {
        go_on(trigger);
    }
}

/* 5.4 R11 */
static void end(struct trigger *trigger)
{
    stop(trigger);
    fxp_effect_forget(trigger->player, trigger->index);
    fxp_sound_let_go(trigger->player, trigger->index);
    uint8_t effect = (uint8_t)trigger->action[FXP_END];
    if (effect != FXP_NONE) {
        fxp_effect_start(trigger->player, effect, trigger->index, false);
    }
}

/* 5.4 R8 */
static void run_held(struct trigger *trigger)
{
    bool on_off = trigger->gate.mode == FXP_ON_OFF;
    if ((trigger->flags & (ON | GOES_ON)) == (ON | GOES_ON) && is_due(trigger)) {
        go_on(trigger);
    }
    if ((trigger->flags & ON) != 0) {
        if (on_off ? trigger->fresh : !trigger->open) {
            end(trigger);
        }
    } else if (trigger->rises && (trigger->fresh || !on_off)) {
        begin(trigger);
    }
}

/* 5.3 R1 to R3 */
static void read_gate(struct trigger *trigger, struct fxp_reader *body)
{
    struct fxp *player = trigger->player;
    const struct fxp_gate *gate = &trigger->gate;
    fxp_read_gate(body, &trigger->gate);
    bool always = gate->mode == FXP_ALWAYS;
    uint32_t opens = gate->hold + (always ? 0 : player->went_down[gate->input]);
    bool held = always || (player->down >> gate->input & 1) != 0;
    bool before = (trigger->flags & HELD) != 0;
    bool reached = held && (before || fxp_reached(player->frame, opens));
    trigger->open = reached && gate->allowed;
    trigger->rises = trigger->open && (trigger->flags & OPEN) == 0;
    trigger->fresh = reached && !before;
    trigger->flags = (uint8_t)((trigger->flags & ~(OPEN | HELD)) | (trigger->open ? OPEN : 0) | (reached ? HELD : 0));
    if (held && !reached) {
        wake_in(player, opens - player->frame);
    }
}

static void run(struct trigger *trigger)
{
    if (trigger->gate.mode == FXP_ONCE) {
        run_once(trigger);
        return;
    }
    if (trigger->gate.mode == FXP_REPEAT) {
        run_repeat(trigger);
    } else {
        run_held(trigger);
    }
    if ((trigger->flags & (ON | GOES_ON)) == (trigger->gate.mode == FXP_REPEAT ? ON : ON | GOES_ON)) {
        wake_in(trigger->player, (trigger->state->due - now(trigger->player) + 255) >> 8); /* 5.4 R6: rounded up */
    }
}

/* Inputs whose lock-out is over stay so, though frames wrap (5.1 R3). */
static void keep_free(struct fxp *player)
{
    for (uint8_t input = 0; input < player->count[FXP_INPUTS]; input++) {
        if (fxp_reached(player->frame, player->free_from[input])) {
            player->free_from[input] = player->frame;
        }
    }
}

void fxp_trigger_held(struct fxp *player, uint8_t input, uint16_t frames)
{
    struct fxp_reader body;
    struct fxp_gate gate;
    uint16_t at = player->first[FXP_TRIGGERS];
    for (uint8_t index = 0; index < player->count[FXP_TRIGGERS]; index++) {
        fxp_body(&body, player, at);
        at = body.end;
        fxp_read_gate(&body, &gate);
        if (gate.mode != FXP_ALWAYS && gate.input == input && gate.hold < frames) {
            player->trigger_flags[index] |= HELD;
        }
    }
}

void fxp_trigger_frame(struct fxp *player)
{
    struct fxp_reader body;
    struct trigger trigger;
    player->wake = player->frame + LONGEST_SLEEP;
    keep_free(player);
    trigger.player = player;
    uint16_t at = player->first[FXP_TRIGGERS];
    for (uint8_t index = 0; index < player->count[FXP_TRIGGERS]; index++) {
        fxp_body(&body, player, at);
        at = body.end;
        trigger.state = &player->shooters[index];
        trigger.index = index;
        trigger.flags = player->trigger_flags[index];
        read_gate(&trigger, &body);
        if (trigger.rises || (trigger.flags & ON) != 0) { /* else it has nothing to do in any mode */
            fxp_read_action(&body, &trigger.gate, trigger.action);
            trigger.effects = body.at;
            trigger.choices = (uint16_t)(body.end - body.at);
            run(&trigger);
        }
        player->trigger_flags[index] = trigger.flags;
    }
}
