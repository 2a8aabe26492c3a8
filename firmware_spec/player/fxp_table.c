/* Reading records: SPEC 2 and 3. Every read is within its window, whatever the bytes are. */
#include "fxp_parts.h"

void fxp_refuse(struct fxp_reader *reader, enum fxp_status fault, uint16_t at)
{
    if (reader->fault == FXP_OK) {
        reader->fault = fault;
        reader->fault_at = at;
    }
    reader->at = reader->end = 0;
}

uint8_t fxp_byte(struct fxp_reader *reader, uint8_t low, uint8_t high)
{
    uint16_t at = reader->at;
    if (at >= reader->end) { /* 3 R3 */
        fxp_refuse(reader, FXP_BAD_RECORD, at);
        return low;
    }
    uint8_t value = FXP_TABLE_BYTE(reader->player->table, (uint32_t)at);
    reader->at = (uint16_t)(at + 1);
    if (value < low || value > high) { /* 3 R4 */
        fxp_refuse(reader, FXP_BAD_VALUE, at);
        return low;
    }
    return value;
}

/* 2.2. After a fault in fxp_byte its 0 ends the loop, and the first fault is the one that is kept. */
uint32_t fxp_number(struct fxp_reader *reader, uint32_t low, uint32_t high)
{
    uint16_t at = reader->at;
    uint32_t value = 0;
    uint8_t shift = 0;
    uint8_t byte;
    do {
        byte = fxp_byte(reader, 0, 255);
        if (shift != 0 && (byte == 0 || (shift == 28 && byte > 15))) {
            fxp_refuse(reader, FXP_BAD_NUMBER, at);
            return low;
        }
        value |= (uint32_t)(byte & 0x7F) << shift; /* at 28, byte is below 16 */
        shift = (uint8_t)(shift + 7);
    } while (byte > 0x7F);
    if (value < low || value > high) {
        fxp_refuse(reader, FXP_BAD_VALUE, at);
        return low;
    }
    return value;
}

/* 2.3, as magnitude and sign. most: the largest n, so that the magnitude fits 16 bits. */
static uint16_t signed_number(struct fxp_reader *reader, uint32_t most, bool *negative)
{
    uint32_t n = fxp_number(reader, 0, most);
    *negative = (n & 1) != 0;
    return (uint16_t)((n >> 1) + (n & 1));
}

uint8_t fxp_index(struct fxp_reader *reader, enum fxp_section section)
{
    uint16_t at = reader->at;
    uint8_t value = fxp_byte(reader, 0, 255);
    if (value >= reader->player->count[section]) {
        fxp_refuse(reader, FXP_BAD_INDEX, at);
        return 0;
    }
    return value;
}

static uint8_t index_if(struct fxp_reader *reader, uint8_t flag, enum fxp_section section)
{
    return flag != 0 ? fxp_index(reader, section) : FXP_NONE;
}

static struct fxp_reader window(const struct fxp *player, uint16_t at)
{
    struct fxp_reader reader = {player, at, 0xFFFF, 0, FXP_OK};
    return reader;
}

uint16_t fxp_find(const struct fxp *player, enum fxp_section section, uint8_t index)
{
    struct fxp_reader reader = window(player, player->first[section]);
    while (index-- > 0) {
        uint16_t size = (uint16_t)fxp_number(&reader, 0, 0xFFFF);
        reader.at = (uint16_t)(reader.at + size);
    }
    return reader.at;
}

struct fxp_reader fxp_body(const struct fxp *player, uint16_t record)
{
    struct fxp_reader reader = window(player, record);
    uint16_t size = (uint16_t)fxp_number(&reader, 0, 0xFFFF);
    reader.end = (uint16_t)(reader.at + size);
    return reader;
}

static uint16_t level(uint8_t byte)
{
    return (uint16_t)(byte * 257U); /* 3.6 */
}

void fxp_read_group(struct fxp_reader *reader, uint8_t free, struct fxp_group *group)
{
    uint8_t channels = reader->player->channels;
    group->first = fxp_byte(reader, free, (uint8_t)(channels - 1));
    group->channels = fxp_byte(reader, 1, (uint8_t)(channels - group->first));
    uint8_t flags = fxp_byte(reader, 0, 3);
    group->latest = flags & 1;
    group->gauge = index_if(reader, flags & 2, FXP_COUNTERS);
}

void fxp_read_curve(struct fxp_reader *reader, struct fxp_curve *curve)
{
    uint8_t flags = fxp_byte(reader, 0, 3);
    curve->loops = (flags & 1) != 0;
    curve->starts = (flags & 2) != 0;
    curve->start = curve->starts ? level(fxp_byte(reader, 0, 255)) : 0;
    curve->segment = reader->at;
}

void fxp_read_segment(struct fxp_reader *reader, struct fxp_segment *segment)
{
    uint16_t at = reader->at;
    uint8_t head = fxp_byte(reader, 0, 8 | FXP_DECAY);
    segment->shape = head & 7;
    segment->to_ambient = (head & 8) != 0;
    if (segment->shape > FXP_FLICKER) { /* 3.6; flicker to ambient is beyond the range above (3.6 R1) */
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
    segment->length = (uint16_t)fxp_number(reader, segment->shape == FXP_FLICKER, 65535);
    segment->target = segment->low = segment->every = 0;
    if (!segment->to_ambient) {
        uint8_t target = fxp_byte(reader, 0, 255);
        segment->target = level(target);
        if (segment->shape == FXP_FLICKER) { /* 3.6 R2 */
            segment->low = level(fxp_byte(reader, 0, target));
            segment->every = (uint16_t)fxp_number(reader, 1, 32767);
        }
    }
}

void fxp_read_clip(struct fxp_reader *reader, struct fxp_clip *clip)
{
    const struct fxp *player = reader->player;
    uint16_t at = reader->at;
    uint8_t head = fxp_byte(reader, 0, 16 | FXP_MULAW);
    clip->coding = head & 15;
    clip->loops = (head & 16) != 0;
    if (clip->coding > FXP_MULAW) {
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
    clip->step = fxp_number(reader, 2, 262143);
    clip->samples = fxp_number(reader, 1, UINT32_C(0xFFFFFF));
    at = reader->at;
    uint32_t place = fxp_number(reader, 0, UINT32_C(0xFFFFFFFF));
    uint32_t bytes = clip->coding == FXP_PCM ? 2 * clip->samples : clip->samples; /* below 2^25 */
    if (bytes > player->clip_bytes || place > player->clip_bytes - bytes) { /* 3.7 R1 */
        fxp_refuse(reader, FXP_BAD_DATA, at);
    }
    clip->place = player->clip_data + place; /* 3.7 R1: within the table; after a fault it is not used */
    bool long_enough = clip->samples >= 32;  /* 3.7 R2; if not, no value is in the range */
    clip->loop_start = clip->loops ? fxp_number(reader, !long_enough, long_enough ? clip->samples - 32 : 0) : 0;
}

void fxp_read_effect(struct fxp_reader *reader, struct fxp_effect *effect)
{
    uint8_t flags = fxp_byte(reader, 0, 15);
    effect->ambient = (flags & 1) != 0;
    effect->length = (flags & 2) != 0 ? (uint16_t)fxp_number(reader, 1, 65535) : 0;
    effect->pitch_spread = (flags & 4) != 0 ? fxp_byte(reader, 1, 255) : 0;
    effect->gain_spread = (flags & 8) != 0 ? fxp_byte(reader, 1, 255) : 0;
}

static void read_play(struct fxp_reader *reader, uint8_t head, struct fxp_step *step)
{
    step->what = fxp_index(reader, FXP_CLIPS);
    step->amount = (head & 8) != 0 ? (uint16_t)fxp_number(reader, 0, 32767) : 4096;
    step->loops = (head & 16) != 0;
    step->release = step->loops ? (uint16_t)fxp_number(reader, 0, 65535) : 0;
}

static void read_fade(struct fxp_reader *reader, uint8_t head, bool ambient, struct fxp_step *step)
{
    uint16_t at = reader->at;
    step->group_index = fxp_index(reader, FXP_GROUPS);
    if (reader->fault != FXP_OK) { /* there may be no group at all */
        return;
    }
    struct fxp_reader body = fxp_body(reader->player, fxp_find(reader->player, FXP_GROUPS, step->group_index));
    fxp_read_group(&body, 0, &step->group);
    if (ambient && step->group.gauge != FXP_NONE) { /* 3.8 R2 */
        fxp_refuse(reader, FXP_BAD_INDEX, at);
    }
    step->what = fxp_index(reader, FXP_FADES);
    step->amount = (head & 8) != 0 ? signed_number(reader, 65535, &step->negative) : 0; /* -32768..32767 */
}

void fxp_read_step(struct fxp_reader *reader, bool ambient, uint16_t before, struct fxp_step *step)
{
    uint16_t at = reader->at;
    uint8_t head = fxp_byte(reader, 0, 31);
    step->kind = head & 3;
    if (step->kind > FXP_COUNT_STEP || (step->kind == FXP_FADE_STEP && head > 15) || (step->kind == FXP_COUNT_STEP && head > 7)) {
        fxp_refuse(reader, FXP_BAD_VALUE, at); /* 3 R5 */
    }
    step->wait = (head & 4) != 0 ? (uint16_t)fxp_number(reader, 1, 65535) : 0;
    if (step->wait > 65535U - before) { /* 3.8 R1 */
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
    if (step->kind == FXP_PLAY_STEP) {
        read_play(reader, head, step);
    } else if (step->kind == FXP_FADE_STEP) {
        read_fade(reader, head, ambient, step);
    } else {
        step->what = fxp_index(reader, FXP_COUNTERS);
        step->amount = signed_number(reader, UINT32_C(131070), &step->negative); /* -65535..65535 */
    }
}

static bool read_condition(struct fxp_reader *reader)
{
    const struct fxp *player = reader->player;
    uint8_t selector = fxp_index(reader, FXP_SELECTORS);
    if (reader->fault != FXP_OK) { /* there may be no selector at all */
        return false;
    }
    struct fxp_reader body = fxp_body(player, fxp_find(player, FXP_SELECTORS, selector));
    uint8_t positions = fxp_byte(&body, 2, 16);
    uint32_t mask = fxp_number(reader, 1, (UINT32_C(1) << positions) - 1);
    return (mask >> player->positions[selector] & 1) != 0;
}

void fxp_read_gate(struct fxp_reader *reader, struct fxp_gate *gate)
{
    uint16_t at = reader->at;
    uint8_t head = fxp_byte(reader, 0, 255);
    gate->mode = head & 7;
    gate->flags = head;
    if (gate->mode > FXP_ALWAYS || (gate->mode >= FXP_SUSTAIN && (head & 128) != 0) || (head & (64 | 32)) == 64) { /* 3.9 R1 */
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
    gate->input = index_if(reader, gate->mode != FXP_ALWAYS, FXP_INPUTS);
    gate->hold = (head & 8) != 0 ? (uint16_t)fxp_number(reader, 1, 65535) : 0;
    gate->allowed = true;
    for (uint8_t left = (head & 16) != 0 ? fxp_byte(reader, 1, 16) : 0; left > 0; left--) {
        if (!read_condition(reader)) {
            gate->allowed = false;
        }
    }
}

static void read_repeat(struct fxp_reader *reader, struct fxp_action *action)
{
    uint8_t flags = fxp_byte(reader, 0, 15);
    action->period = fxp_number(reader, 256, UINT32_C(0x7FFFFF));
    action->first = (flags & 1) != 0 ? fxp_number(reader, 1, UINT32_C(0x7FFFFFFF)) : 0;
    action->burst = (flags & 2) != 0 ? (uint8_t)fxp_number(reader, 2, 255) : 1;
    action->limit = (flags & 4) != 0 ? (uint16_t)fxp_number(reader, action->burst, 65535) : 0;
    action->ramp_shots = (flags & 8) != 0 ? fxp_byte(reader, 1, 255) : 0;
    action->ramp_period = (flags & 8) != 0 ? fxp_number(reader, 256, UINT32_C(0x7FFFFF)) : 0;
}

void fxp_read_action(struct fxp_reader *reader, const struct fxp_gate *gate, struct fxp_action *action)
{
    action->needs = index_if(reader, gate->flags & 32, FXP_COUNTERS);
    action->empty = index_if(reader, gate->flags & 64, FXP_EFFECTS);
    if (gate->mode >= FXP_SUSTAIN) {
        uint8_t flags = fxp_byte(reader, 1, 7);
        action->begin = index_if(reader, flags & 1, FXP_EFFECTS);
        action->during = index_if(reader, flags & 2, FXP_EFFECTS);
        action->end = index_if(reader, flags & 4, FXP_EFFECTS);
        return;
    }
    action->random = (gate->flags & 128) != 0;
    if (gate->mode == FXP_REPEAT) {
        read_repeat(reader, action);
    }
    action->effects = reader->at;
    action->choices = (uint16_t)(reader->end - reader->at);
}
