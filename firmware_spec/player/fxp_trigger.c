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
    uint8_t index, mode, input;
    uint8_t flags; /* of the state, as they become */
    uint8_t choices;
    bool random, open, rises, fresh;
    fxp_table record;
    struct fxp *player;
    struct fxp_shooter *state;
    uint32_t term[FXP_TERM_KINDS]; /* by kind */
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
    uint8_t needs = (uint8_t)trigger->term[FXP_NEEDS];
    if (needs >= player->count[FXP_COUNTERS] || player->counters[needs] != 0) {
        return true;
    }
    fxp_note(player, FXP_EMPTY, trigger->index, needs);
    fxp_effect_start(player, (uint8_t)trigger->term[FXP_EMPTY_EFFECT], trigger->index, false);
    return false;
}

/* 5.4 R1. Both factors of the products are below 2^16. */
static uint8_t choose(struct trigger *trigger)
{
    uint8_t n = trigger->choices;
    uint8_t last = trigger->state->last;
    if (!trigger->random) {
        last++; /* none, 255, becomes the first */
        return last < n ? last : 0;
    }
    if (n == 1) {
        return 0;
    }
    if (last == FXP_NONE) {
        return (uint8_t)((uint32_t)fxp_draw(trigger->player) * n >> 16);
    }
    uint8_t choice = (uint8_t)((uint32_t)fxp_draw(trigger->player) * (uint32_t)(n - 1) >> 16);
    return (uint8_t)(choice + (choice >= last));
}

static uint8_t chosen(const struct trigger *trigger, uint8_t choice)
{
    uint16_t first = FXP_TABLE_HALF(trigger->record, FXP_T_CHOICE);
    if (choice >= trigger->choices) {
        return FXP_NONE;
    }
    return FXP_TABLE_BYTE(fxp_record(trigger->player, FXP_CHOICES, (uint16_t)(first + choice)), 0);
}

static bool fire(struct trigger *trigger)
{
    if (!has_needs(trigger)) {
        return false;
    }
    struct fxp_shooter *state = trigger->state;
    state->last = choose(trigger);
    fxp_note(trigger->player, FXP_SHOT, trigger->index, state->shots);
    if (state->shots < 65535) {
        state->shots++;
    }
    fxp_effect_start(trigger->player, chosen(trigger, state->last), trigger->index, false);
    return true;
}

/* 5.4 R5. The product is below 2^23 * 2^8. */
static uint32_t wait_after(const uint32_t *term, uint16_t shots)
{
    uint32_t period = term[FXP_PERIOD];
    uint32_t ramp_shots = term[FXP_RAMP_SHOTS];
    uint32_t ramped = shots < ramp_shots ? shots : ramp_shots;
    if (shots == 0 && term[FXP_FIRST] != 0) {
        return term[FXP_FIRST];
    }
    if (ramp_shots == 0) {
        return period;
    }
    if (term[FXP_RAMP_PERIOD] >= period) {
        return period + fxp_divide((term[FXP_RAMP_PERIOD] - period) * ramped, ramp_shots);
    }
    return period - fxp_divide((period - term[FXP_RAMP_PERIOD]) * ramped, ramp_shots);
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
    uint32_t wait = wait_after(trigger->term, state->shots);
    if (!fire(trigger) || state->shots == trigger->term[FXP_LIMIT]) { /* after a shot the count is not 0, as no limit is */
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
    if ((trigger->flags & ON) != 0 && !trigger->open && trigger->state->shots >= trigger->term[FXP_BURST]) {
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

enum { BEGIN, DURING, END }; /* choices of the modes that stay on */

/* Starts an effect that is held, if there is one, and lets what comes next be due after its length. */
static uint16_t hold(struct trigger *trigger, uint8_t choice)
{
    uint16_t length = fxp_effect_start(trigger->player, chosen(trigger, choice), trigger->index, true);
    trigger->state->due = now(trigger->player) + ((uint32_t)length << 8);
    return length;
}

/* 5.4 R10 */
static void go_on(struct trigger *trigger)
{
    trigger->flags &= (uint8_t)~GOES_ON;
    if (hold(trigger, DURING) != 0) {
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
    if (hold(trigger, BEGIN) == 0) {
        go_on(trigger);
    }
}

/* 5.4 R11 */
static void end(struct trigger *trigger)
{
    stop(trigger);
    fxp_effect_forget(trigger->player, trigger->index);
    fxp_sound_let_go(trigger->player, trigger->index);
    fxp_effect_start(trigger->player, chosen(trigger, END), trigger->index, false);
}

/* 5.4 R8 */
static void run_held(struct trigger *trigger)
{
    bool on_off = trigger->mode == FXP_ON_OFF;
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

/* 5.3 R2: by every condition at present. Conditions come first (3.9 R1). */
static bool allowed(const struct fxp *player, uint16_t term)
{
    for (uint_fast8_t most = FXP_MOST_TERMS; term != FXP_NO_TERM && most > 0; most--) {
        fxp_table at = fxp_record(player, FXP_TERMS, term);
        uint8_t head = FXP_TABLE_BYTE(at, 0);
        if ((head & FXP_KIND) != FXP_CONDITION) {
            return true;
        }
        uint8_t selector = FXP_TABLE_BYTE(at, FXP_E_WHAT);
        if (selector >= player->count[FXP_SELECTORS] || (FXP_TABLE_HALF(at, FXP_E_VALUE) >> player->positions[selector] & 1) == 0) {
            return false;
        }
        if ((head & FXP_LAST) != 0) {
            return true;
        }
        term++;
    }
    return true;
}

static void read_terms(struct trigger *trigger)
{
    const struct fxp *player = trigger->player;
    uint16_t term = FXP_TABLE_HALF(trigger->record, FXP_T_TERM);
    uint8_t head = term == FXP_NO_TERM ? FXP_LAST : 0;
    for (uint_fast8_t kind = 0; kind < FXP_TERM_KINDS; kind++) {
        trigger->term[kind] = 0;
    }
    trigger->term[FXP_NEEDS] = trigger->term[FXP_EMPTY_EFFECT] = FXP_NONE;
    trigger->term[FXP_PERIOD] = 256;
    trigger->term[FXP_BURST] = 1;
    for (uint_fast8_t most = FXP_MOST_TERMS; (head & FXP_LAST) == 0 && most > 0; most--) {
        fxp_table at = fxp_record(player, FXP_TERMS, term);
        head = FXP_TABLE_BYTE(at, 0);
        uint8_t kind = head & FXP_KIND;
        uint32_t what = FXP_TABLE_BYTE(at, FXP_E_WHAT);
        if (kind == FXP_NEEDS || kind == FXP_EMPTY_EFFECT) {
            trigger->term[kind] = what;
        } else if (kind < FXP_TERM_KINDS) {
            trigger->term[kind] = what << 16 | FXP_TABLE_HALF(at, FXP_E_VALUE);
        }
        term++;
    }
    trigger->choices = FXP_TABLE_BYTE(trigger->record, FXP_T_CHOICES);
}

static void read_head(struct trigger *trigger)
{
    uint8_t head = FXP_TABLE_BYTE(trigger->record, FXP_T_HEAD);
    trigger->mode = head & 7;
    trigger->input = head >> 3;
    trigger->random = trigger->mode >= FXP_ONCE_RANDOM;
    if (trigger->random) {
        trigger->mode = trigger->mode == FXP_ONCE_RANDOM ? FXP_ONCE : FXP_REPEAT;
    }
}

/* 5.3 R1 to R3 */
static void read_gate(struct trigger *trigger)
{
    struct fxp *player = trigger->player;
    read_head(trigger);
    bool always = trigger->mode == FXP_ALWAYS;
    bool held = always || (trigger->input < player->count[FXP_INPUTS] && (player->down >> trigger->input & 1) != 0);
    bool before = (trigger->flags & HELD) != 0;
    uint32_t opens = FXP_TABLE_HALF(trigger->record, FXP_T_HOLD);
    if (held && !always) {
        opens += player->went_down[trigger->input];
    }
    bool reached = held && (before || fxp_reached(player->frame, opens));
    trigger->open = reached && allowed(player, FXP_TABLE_HALF(trigger->record, FXP_T_TERM));
    trigger->rises = trigger->open && (trigger->flags & OPEN) == 0;
    trigger->fresh = reached && !before;
    trigger->flags = (uint8_t)((trigger->flags & ~(OPEN | HELD)) | (trigger->open ? OPEN : 0) | (reached ? HELD : 0));
    if (held && !reached) {
        wake_in(player, opens - player->frame);
    }
}

static void run(struct trigger *trigger)
{
    if (trigger->mode == FXP_ONCE) {
        run_once(trigger);
        return;
    }
    if (trigger->mode == FXP_REPEAT) {
        run_repeat(trigger);
    } else {
        run_held(trigger);
    }
    if ((trigger->flags & (ON | GOES_ON)) == (trigger->mode == FXP_REPEAT ? ON : ON | GOES_ON)) {
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
    struct trigger trigger;
    trigger.player = player;
    for (uint8_t index = 0; index < player->count[FXP_TRIGGERS]; index++) {
        trigger.record = fxp_record(player, FXP_TRIGGERS, index);
        read_head(&trigger);
        if (trigger.mode != FXP_ALWAYS && trigger.input == input && FXP_TABLE_HALF(trigger.record, FXP_T_HOLD) < frames) {
            player->shooters[index].flags |= HELD;
        }
    }
}

void fxp_trigger_frame(struct fxp *player)
{
    struct trigger trigger;
    player->wake = player->frame + LONGEST_SLEEP;
    keep_free(player);
    trigger.player = player;
    for (uint8_t index = 0; index < player->count[FXP_TRIGGERS]; index++) {
        trigger.record = fxp_record(player, FXP_TRIGGERS, index);
        trigger.state = &player->shooters[index];
        trigger.index = index;
        trigger.flags = trigger.state->flags;
        read_gate(&trigger);
        if (trigger.rises || (trigger.flags & ON) != 0) { /* else it has nothing to do in any mode */
            read_terms(&trigger);
            run(&trigger);
        }
        trigger.state->flags = trigger.flags;
    }
}
