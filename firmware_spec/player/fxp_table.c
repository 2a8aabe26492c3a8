/* Reading records: SPEC 2 and 3. Every read is within its window, whatever the bytes are. */
#include "fxp_parts.h"

void fxp_refuse(struct fxp_reader *reader, enum fxp_status fault, uint16_t at)
{
    if (reader->fault == FXP_OK) {
        reader->fault = (int8_t)fault;
        reader->fault_at = at;
    }
    reader->at = reader->end = 0;
}

/* 3 R4; the lowest value after a fault. */
static uint32_t within(struct fxp_reader *reader, uint32_t value, uint32_t low, uint32_t high, uint16_t at)
{
    if (value >= low && value <= high) {
        return value;
    }
    fxp_refuse(reader, FXP_BAD_VALUE, at);
    return low;
}

static uint8_t next(struct fxp_reader *reader)
{
    uint16_t at = reader->at;
    if (at >= reader->end) { /* 3 R3 */
        fxp_refuse(reader, FXP_BAD_RECORD, at);
        return 0;
    }
    reader->at = (uint16_t)(at + 1);
    return FXP_TABLE_BYTE(reader->player->table, (uint32_t)at);
}

uint8_t fxp_byte(struct fxp_reader *reader, uint8_t low, uint8_t high)
{
    uint16_t at = reader->at;
    return (uint8_t)within(reader, next(reader), low, high, at);
}

uint8_t fxp_flags(struct fxp_reader *reader, uint8_t high)
{
    return reader->flags = fxp_byte(reader, 0, high);
}

/* 2.2. After a fault in `next` its 0 ends the loop, and the first fault is the one that is kept. */
uint32_t fxp_number(struct fxp_reader *reader, uint32_t low, uint32_t high)
{
    uint16_t at = reader->at;
    uint8_t byte = next(reader);
    uint32_t value = byte & 0x7F;
    for (uint_fast8_t shift = 7; byte > 0x7F; shift = (uint_fast8_t)(shift + 7)) {
        byte = next(reader);
        if (byte == 0 || (shift == 28 && byte > 15)) {
            fxp_refuse(reader, FXP_BAD_NUMBER, at);
            break;
        }
        value |= (uint32_t)(byte & 0x7F) << shift; /* at 28, byte is below 16 */
    }
    return within(reader, value, low, high, at);
}

uint8_t fxp_index(struct fxp_reader *reader, uint8_t section)
{
    uint16_t at = reader->at;
    uint8_t value = next(reader);
    if (value < reader->player->count[section]) {
        return value;
    }
    fxp_refuse(reader, FXP_BAD_INDEX, at);
    return 0;
}

uint16_t fxp_find(const struct fxp *player, uint8_t section, uint8_t index)
{
    uint16_t at = player->first[section];
    while (index-- > 0) {
        struct fxp_reader reader;
        fxp_body(&reader, player, at);
        at = reader.end;
    }
    return at;
}

void fxp_body(struct fxp_reader *reader, const struct fxp *player, uint16_t record)
{
    reader->player = player;
    reader->at = record;
    reader->end = 0xFFFF;
    reader->fault = FXP_OK;
    uint16_t size = (uint16_t)fxp_number(reader, 0, 0xFFFF);
    reader->end = (uint16_t)(reader->at + size);
}

void fxp_record(struct fxp_reader *reader, const struct fxp *player, uint8_t section, uint8_t index)
{
    fxp_body(reader, player, fxp_find(player, section, index));
}

uint16_t fxp_leads(const struct fxp *player, uint8_t section, uint8_t index)
{
    struct fxp_reader body;
    fxp_record(&body, player, section, index);
    return (uint16_t)fxp_number(&body, 0, 65535);
}

void fxp_group_at(const struct fxp *player, uint8_t index, struct fxp_group *group)
{
    struct fxp_reader body;
    fxp_record(&body, player, FXP_GROUPS, index);
    fxp_read_group(&body, 0, group);
}

/* Fields that are read one after the other without a question in between. `kind`: bit of reader->flags that says whether the field follows,
 * or ALWAYS; its form; LAST. `most`: the highest value, 2^most - 1 or one of those below; of an index, the section. */
struct field { uint8_t kind, most; uint16_t low; };

enum { ALWAYS = 8, NUMBER = 0, BYTE = 16, INDEX = 32, LAST = 64 };
enum { MOST_RATE = 33, MOST_FRAME, MOST_BITS, MOST_RULE, MOST_CHANGE };

static const uint16_t special[] FXP_ROM = {48000, 256, 16, FXP_SAME_CLIP, 65535};

static uint32_t highest(uint8_t most)
{
    if (most < MOST_RATE) {
        return UINT32_C(0xFFFFFFFF) >> (32 - most); /* most is 1 or more */
    }
    uint32_t value = FXP_ROM_WORD(&special[most - MOST_RATE]);
    return most == MOST_CHANGE ? 2 * value : value; /* -65535..65535 in the form of 2.3 */
}

static uint32_t read_field(struct fxp_reader *reader, const struct field *field, uint8_t kind)
{
    uint8_t most = FXP_ROM_BYTE(&field->most);
    if ((kind & INDEX) != 0) {
        return fxp_index(reader, most);
    }
    uint16_t at = reader->at;
    uint32_t value = (kind & BYTE) != 0 ? next(reader) : fxp_number(reader, 0, UINT32_C(0xFFFFFFFF));
    return within(reader, value, FXP_ROM_WORD(&field->low), highest(most), at);
}

static void read_fields(struct fxp_reader *reader, const struct field *field, uint32_t *fields)
{
    uint8_t kind;
    do {
        kind = FXP_ROM_BYTE(&field->kind);
        if ((kind & ALWAYS) != 0 || (reader->flags >> (kind & 7) & 1) != 0) {
            *fields = read_field(reader, field, kind);
        } else {
            *fields = (kind & INDEX) != 0 ? FXP_NONE : 0;
        }
        fields++;
        field++;
    } while ((kind & LAST) == 0);
}

void fxp_read_board(struct fxp_reader *reader, uint32_t *fields) /* 3.1 */
{
    static const struct field board[] FXP_ROM = {
        {ALWAYS | NUMBER, MOST_RATE, 4000}, {ALWAYS | NUMBER, MOST_FRAME, 4}, {ALWAYS | BYTE, 8, 1}, {ALWAYS | BYTE, MOST_BITS, 8},
        {ALWAYS | BYTE, MOST_BITS, 1}, {ALWAYS | BYTE, MOST_RULE, 0}, {ALWAYS | NUMBER | LAST, 11, 0}
    };
    read_fields(reader, board, fields);
}

void fxp_read_input(struct fxp_reader *reader, uint32_t *fields) /* 3.2: kind, lockout */
{
    static const struct field input[] FXP_ROM = {{ALWAYS | BYTE, 1, 0}, {ALWAYS | NUMBER | LAST, 16, 0}};
    read_fields(reader, input, fields);
}

void fxp_read_group(struct fxp_reader *reader, uint8_t free, struct fxp_group *group) /* 3.5 */
{
    uint8_t channels = reader->player->channels;
    group->first = fxp_byte(reader, free, (uint8_t)(channels - 1));
    group->channels = fxp_byte(reader, 1, (uint8_t)(channels - group->first));
    uint8_t flags = fxp_flags(reader, 3);
    group->latest = flags & 1;
    group->gauge = (flags & 2) != 0 ? fxp_index(reader, FXP_COUNTERS) : FXP_NONE;
}

uint16_t fxp_read_curve(struct fxp_reader *reader)
{
    return (fxp_flags(reader, 3) & 2) != 0 ? (uint16_t)fxp_number(reader, 0, 65535) : 0;
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
    segment->target = 0;
    if (segment->to_ambient) {
        return;
    }
    segment->target = (uint16_t)fxp_number(reader, 0, 65535);
    if (segment->shape == FXP_FLICKER) { /* 3.6 R2 */
        segment->low = (uint16_t)fxp_number(reader, 0, segment->target);
        segment->every = (uint16_t)fxp_number(reader, 1, 32767);
    }
}

/* 3.7 R4, in every block of both runs. */
static bool ima_heads(const struct fxp *player, const uint32_t *fields)
{
    uint32_t at = player->clip_data + fields[FXP_CLIP_PLACE];
    uint32_t lead = fields[FXP_CLIP_LOOP];
    uint32_t rest = fields[FXP_CLIP_SAMPLES] - lead;
    for (;;) {
        uint32_t run = lead != 0 ? lead : rest;
        for (uint32_t begin = at; run > 0; begin += 256) {
            if (FXP_TABLE_BYTE(player->table, begin + 2) > 88 || FXP_TABLE_BYTE(player->table, begin + 3) != 0) {
                return false;
            }
            run -= run < FXP_IMA_BLOCK ? run : FXP_IMA_BLOCK;
        }
        if (lead == 0) {
            return true;
        }
        at += fxp_run_bytes(player->table, at, FXP_IMA, lead);
        lead = 0;
    }
}

/* 3.7 R1, R5 */
static bool runs_fit(const struct fxp *player, uint8_t coding, const uint32_t *fields, uint32_t clip_bytes)
{
    uint32_t at = fields[FXP_CLIP_PLACE];
    uint32_t run = fields[FXP_CLIP_LOOP];
    uint32_t rest = fields[FXP_CLIP_SAMPLES] - run;
    if (at > clip_bytes) {
        return false;
    }
    for (;;) {
        uint32_t left = clip_bytes - at;
        if (run != 0) {
            if (coding == FXP_RICE && left < 3) {
                return false;
            }
            uint32_t bytes = fxp_run_bytes(player->table, player->clip_data + at, coding, run); /* below 2^25 */
            if (bytes > left) {
                return false;
            }
            at += bytes;
        }
        if (rest == 0) {
            return true;
        }
        run = rest;
        rest = 0;
    }
}

void fxp_read_clip(struct fxp_reader *reader, uint32_t clip_bytes, uint32_t *fields)
{
    static const struct field clip[] FXP_ROM = {{ALWAYS | NUMBER, 18, 2}, {ALWAYS | NUMBER | LAST, 24, 1}};
    uint16_t at = reader->at;
    if ((fxp_flags(reader, 16 | FXP_RICE) & 15) > FXP_RICE) {
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
    read_fields(reader, clip, fields);
    uint32_t samples = fields[FXP_CLIP_SAMPLES];
    uint32_t lead = 0;
    at = reader->at;
    fields[FXP_CLIP_PLACE] = fxp_number(reader, 0, UINT32_C(0xFFFFFFFF));
    if ((reader->flags & 16) != 0) { /* 3.7 R2: of a clip that is too short no value is in the range */
        lead = fxp_number(reader, samples < 32, samples < 32 ? 0 : samples - 32);
    }
    fields[FXP_CLIP_LOOP] = lead;
    uint8_t coding = reader->flags & 15;
    if (clip_bytes == FXP_CHECKED || reader->fault != FXP_OK) {
        return;
    }
    if (!runs_fit(reader->player, coding, fields, clip_bytes) || (coding == FXP_IMA && !ima_heads(reader->player, fields))) {
        fxp_refuse(reader, FXP_BAD_DATA, at);
    }
}

void fxp_read_effect(struct fxp_reader *reader, uint32_t *fields)
{
    static const struct field effect[] FXP_ROM = {{1 | NUMBER, 16, 1}, {2 | BYTE, 8, 1}, {3 | BYTE | LAST, 8, 1}};
    fxp_flags(reader, 15);
    read_fields(reader, effect, fields);
}

/* 3.8 R2 */
static void check_gauge(struct fxp_reader *reader, uint8_t index, uint16_t at)
{
    struct fxp_group group;
    if (reader->fault == FXP_OK) { /* else there may be no group at all */
        fxp_group_at(reader->player, index, &group);
        if (group.gauge != FXP_NONE) {
            fxp_refuse(reader, FXP_BAD_INDEX, at);
        }
    }
}

static void read_fade(struct fxp_reader *reader, bool ambient, uint32_t *fields)
{
    static const struct field fade[] FXP_ROM = {{ALWAYS | INDEX, FXP_FADES, 0}, {3 | NUMBER | LAST, 16, 0}};
    uint16_t at = reader->at;
    uint8_t group = fxp_index(reader, FXP_GROUPS);
    fields[FXP_FADE_GROUP] = group;
    if (ambient) {
        check_gauge(reader, group, at);
    }
    read_fields(reader, fade, fields + 1);
}

void fxp_read_step(struct fxp_reader *reader, bool ambient, uint16_t before, struct fxp_step *step)
{
    static const struct field wait[] FXP_ROM = {{2 | NUMBER | LAST, 16, 1}};
    static const struct field play[] FXP_ROM = {{ALWAYS | INDEX, FXP_CLIPS, 0}, {3 | NUMBER, 15, 0}, {4 | NUMBER | LAST, 16, 0}};
    static const struct field count[] FXP_ROM = {{ALWAYS | INDEX, FXP_COUNTERS, 0}, {ALWAYS | NUMBER | LAST, MOST_CHANGE, 0}};
    uint16_t at = reader->at;
    step->head = fxp_flags(reader, 31);
    step->kind = step->head & 3;
    if (step->kind > FXP_COUNT_STEP || (step->head >> 3 & (uint8_t)~(3U >> step->kind)) != 0) { /* 3 R5: 2, 1, 0 flags in the three kinds */
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
    read_fields(reader, wait, &step->wait);
    if (before + step->wait > 65535) { /* 3.8 R1 */
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
    if (step->kind == FXP_FADE_STEP) {
        read_fade(reader, ambient, step->field);
    } else {
        read_fields(reader, step->kind == FXP_PLAY_STEP ? play : count, step->field);
    }
    if (step->kind == FXP_PLAY_STEP && (step->head & 8) == 0) {
        step->field[FXP_PLAY_GAIN] = 4096;
    }
}

static bool read_condition(struct fxp_reader *reader)
{
    const struct fxp *player = reader->player;
    uint8_t selector = fxp_index(reader, FXP_SELECTORS);
    if (reader->fault != FXP_OK) { /* there may be no selector at all */
        return false;
    }
    uint32_t mask = fxp_number(reader, 1, highest((uint8_t)fxp_leads(player, FXP_SELECTORS, selector)));
    return (mask >> player->positions[selector] & 1) != 0;
}

void fxp_read_gate(struct fxp_reader *reader, struct fxp_gate *gate)
{
    static const struct field hold[] FXP_ROM = {{3 | NUMBER | LAST, 16, 1}};
    uint16_t at = reader->at;
    uint8_t head = fxp_flags(reader, 255);
    gate->head = head;
    gate->mode = head & 7;
    if (gate->mode > FXP_ALWAYS || (gate->mode >= FXP_WHILE_HELD && (head & 128) != 0) || (head & (64 | 32)) == 64) { /* 3.9 R1 */
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
    gate->input = gate->mode != FXP_ALWAYS ? fxp_index(reader, FXP_INPUTS) : 0;
    uint32_t frames;
    read_fields(reader, hold, &frames);
    gate->hold = (uint16_t)frames;
    gate->allowed = true;
    for (uint_fast8_t left = (head & 16) != 0 ? fxp_byte(reader, 1, 16) : 0; left > 0; left--) {
        if (!read_condition(reader)) {
            gate->allowed = false;
        }
    }
}

void fxp_read_action(struct fxp_reader *reader, const struct fxp_gate *gate, uint32_t *fields)
{
    static const struct field either[] FXP_ROM = {{5 | INDEX, FXP_COUNTERS, 0}, {6 | INDEX | LAST, FXP_EFFECTS, 0}};
    static const struct field stay[] FXP_ROM = {{0 | INDEX, FXP_EFFECTS, 0}, {1 | INDEX, FXP_EFFECTS, 0}, {2 | INDEX | LAST, FXP_EFFECTS, 0}};
    static const struct field repeat[] FXP_ROM = {{ALWAYS | NUMBER, 23, 256}, {0 | NUMBER, 31, 1}, {1 | NUMBER | LAST, 8, 2}};
    static const struct field ramp[] FXP_ROM = {{3 | BYTE, 8, 1}, {3 | NUMBER | LAST, 23, 256}};
    read_fields(reader, either, fields);
    if (gate->mode >= FXP_WHILE_HELD) {
        uint16_t at = reader->at;
        if (fxp_flags(reader, 7) == 0) {
            fxp_refuse(reader, FXP_BAD_VALUE, at);
        }
        read_fields(reader, stay, fields + FXP_BEGIN);
    } else if (gate->mode == FXP_REPEAT) {
        fxp_flags(reader, 15);
        read_fields(reader, repeat, fields + FXP_PERIOD);
        fields[FXP_BURST] += fields[FXP_BURST] == 0; /* 1 where it does not follow */
        fields[FXP_LIMIT] = (reader->flags & 4) != 0 ? fxp_number(reader, fields[FXP_BURST], 65535) : 0;
        read_fields(reader, ramp, fields + FXP_RAMP_SHOTS);
    }
}
