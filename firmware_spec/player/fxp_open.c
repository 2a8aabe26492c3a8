/* Checking a table and powering up: SPEC 3 and 4. */
#include "fxp_parts.h"

static const uint8_t most[FXP_SECTIONS] FXP_ROM = {32, FXP_MOST_SELECTORS, FXP_MOST_COUNTERS, 64, 255, 255, 255, 64}; /* 3 R2 */

static uint32_t word_at(fxp_table table, uint32_t offset)
{
    uint32_t value = 0;
    for (uint_fast8_t shift = 0; shift < 32; shift = (uint_fast8_t)(shift + 8)) {
        value |= (uint32_t)FXP_TABLE_BYTE(table, offset) << shift;
        offset++;
    }
    return value;
}

/* 3 R1.1 to 6 */
static enum fxp_status check_header(struct fxp *player, uint32_t length, uint32_t crc, uint32_t *offset)
{
    fxp_table table = player->table;
    if (length < 17) {
        *offset = length;
        return FXP_BAD_LENGTH;
    }
    uint32_t end = length - 4;
    uint32_t data = word_at(table, 9);
    enum fxp_status fault = FXP_OK;
    *offset = 0;
    if (word_at(table, 0) != UINT32_C(0x71737866)) { /* "fxsq" */
        fault = FXP_BAD_MAGIC;
    } else if (FXP_TABLE_BYTE(table, 4) != 1) {
        *offset = 4;
        fault = FXP_BAD_VERSION;
    } else if (word_at(table, 5) != length) {
        *offset = 5;
        fault = FXP_BAD_LENGTH;
    } else if ((crc ^ FXP_CRC_START) != word_at(table, end)) {
        *offset = end;
        fault = FXP_BAD_CRC;
    } else if (data < 13 || data > end || data > 65535) {
        *offset = 9;
        fault = FXP_BAD_LENGTH;
    }
    player->clip_data = data;
    return fault;
}

/* 3.1 */
static void check_board(struct fxp *player, struct fxp_reader *reader)
{
    uint32_t fields[FXP_BOARD_FIELDS];
    fxp_read_board(reader, fields);
    player->sample_rate_hz = (uint16_t)fields[FXP_RATE];
    player->samples_per_frame = (uint16_t)fields[FXP_FRAME];
    player->channels = (uint8_t)fields[FXP_CHANNELS];
    player->pwm_bits = (uint8_t)fields[FXP_BITS];
    player->voices = (uint8_t)fields[FXP_VOICES];
    player->voice_rule = (uint8_t)fields[FXP_RULE];
    player->cut_ramp = (uint16_t)fields[FXP_RAMP];
    uint16_t at = reader->at;
    for (uint_fast8_t shift = 0; shift < 32; shift = (uint_fast8_t)(shift + 8)) {
        player->seed |= (uint32_t)fxp_byte(reader, 0, 255) << shift;
    }
    if (player->seed == 0) {
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
}

static void check_fade(struct fxp_reader *reader)
{
    struct fxp_segment segment;
    uint16_t lengths = 0;
    uint16_t at = reader->at;
    fxp_read_curve(reader);
    do {
        fxp_read_segment(reader, &segment);
        lengths |= segment.length;
    } while (reader->at < reader->end);
    if ((reader->flags & 1) != 0 && lengths == 0) { /* 3.6 R3 */
        fxp_refuse(reader, FXP_BAD_VALUE, at);
    }
}

static void check_effect(struct fxp_reader *reader)
{
    uint32_t fields[FXP_EFFECT_FIELDS];
    struct fxp_step step;
    uint16_t at = 0;
    fxp_read_effect(reader, fields);
    bool ambient = (reader->flags & 1) != 0;
    while (reader->at < reader->end) {
        fxp_read_step(reader, ambient, at, &step);
        at = (uint16_t)(at + step.wait); /* at most 65535, or refused (3.8 R1) */
    }
}

static void check_trigger(struct fxp_reader *reader)
{
    struct fxp_gate gate;
    uint32_t fields[FXP_ACTION_FIELDS];
    fxp_read_gate(reader, &gate);
    fxp_read_action(reader, &gate, fields);
    if (gate.mode < FXP_WHILE_HELD) {
        do {
            fxp_index(reader, FXP_EFFECTS);
        } while (reader->at < reader->end);
    }
}

/* 3.2 to 3.9. free: the end of the group before. */
static void check_body(struct fxp *player, struct fxp_reader *reader, uint8_t section, uint8_t record, uint8_t *free)
{
    uint32_t fields[FXP_CLIP_FIELDS];
    struct fxp_group group;
    if (section == FXP_INPUTS) {
        fxp_read_input(reader, fields);
    } else if (section == FXP_SELECTORS) {
        uint8_t positions = fxp_byte(reader, 2, 16);
        player->positions[record] = fxp_byte(reader, 0, (uint8_t)(positions - 1));
    } else if (section == FXP_COUNTERS) {
        uint32_t maximum = fxp_number(reader, 1, 65535);
        player->counters[record] = (uint16_t)fxp_number(reader, 0, maximum);
    } else if (section == FXP_GROUPS) {
        fxp_read_group(reader, *free, &group);
        *free = (uint8_t)(group.first + group.channels); /* at most 255, or refused (3.5 R1) */
    } else if (section == FXP_FADES) {
        check_fade(reader);
    } else if (section == FXP_CLIPS) {
        fxp_read_clip(reader, word_at(player->table, 5) - 4 - player->clip_data, fields);
    } else if (section == FXP_EFFECTS) {
        check_effect(reader);
    } else {
        check_trigger(reader);
    }
}

static void check_section(struct fxp *player, struct fxp_reader *reader, uint8_t section)
{
    uint8_t records = (uint8_t)fxp_number(reader, 0, FXP_ROM_BYTE(&most[section]));
    uint8_t free = 0;
    uint16_t outer = reader->end;
    player->first[section] = reader->at;
    player->count[section] = records;
    for (uint8_t record = 0; record < records && reader->fault == FXP_OK; record++) {
        uint16_t at = reader->at;
        uint32_t size = fxp_number(reader, 0, UINT32_C(0xFFFFFFFF));
        if (size > (uint16_t)(outer - reader->at)) { /* 3 R3; after a fault nothing is read any more */
            fxp_refuse(reader, FXP_BAD_RECORD, at);
            return;
        }
        reader->end = (uint16_t)(reader->at + size);
        check_body(player, reader, section, record, &free);
        if (reader->at < reader->end) {
            fxp_refuse(reader, FXP_BAD_RECORD, reader->at);
        }
        if (reader->fault == FXP_OK) {
            reader->end = outer;
        }
    }
}

#if defined FXP_WITHOUT_QOA || defined FXP_WITHOUT_RICE
static bool is_left_out(uint8_t coding)
{
#ifdef FXP_WITHOUT_QOA
    if (coding == FXP_QOA) {
        return true;
    }
#endif
#ifdef FXP_WITHOUT_RICE
    if (coding == FXP_RICE) {
        return true;
    }
#endif
    return false;
}
#endif

/* FXP_TOO_MANY, if a sound table has more of something than this build can hold: of several the first. */
static void check_limits(const struct fxp *player, struct fxp_reader *reader)
{
    uint16_t at = 0;
    uint32_t channels = player->channels; /* the widest build holds all that a byte can say */
    if (player->count[FXP_TRIGGERS] > FXP_MAX_TRIGGERS) {
        at = player->first[FXP_TRIGGERS];
    }
#if defined FXP_WITHOUT_QOA || defined FXP_WITHOUT_RICE
    for (uint8_t clip = 0; clip < player->count[FXP_CLIPS] && reader->fault == FXP_OK; clip++) {
        if (is_left_out(fxp_leads(player, FXP_CLIPS, clip) & 15)) {
            at = player->first[FXP_CLIPS];
        }
    }
#endif
    if (player->count[FXP_INPUTS] > FXP_MAX_INPUTS) {
        at = player->first[FXP_INPUTS];
    }
    if (channels > FXP_MAX_CHANNELS || player->voices > FXP_MAX_VOICES) {
        at = 13;
    }
    if (at != 0) {
        fxp_refuse(reader, FXP_TOO_MANY, at);
    }
}

/* 3 R1.7 */
void fxp_check(struct fxp *player, struct fxp_reader *reader)
{
    check_board(player, reader);
    for (uint8_t section = 0; section < FXP_SECTIONS; section++) {
        check_section(player, reader, section);
    }
    if (reader->at < reader->end) { /* 3 R3: bytes behind the last section */
        fxp_refuse(reader, FXP_BAD_RECORD, reader->at);
    }
    check_limits(player, reader);
}

static void clear(struct fxp *player)
{
    uint8_t *bytes = (uint8_t *)player;
    for (uint16_t at = 0; at < sizeof *player; at++) {
        bytes[at] = 0;
    }
}

static void power_up(struct fxp *player)
{
    player->dice = player->seed;
    player->volume = player->wanted = 256;
    for (uint8_t trigger = 0; trigger < player->count[FXP_TRIGGERS]; trigger++) {
        player->shooters[trigger].last = 65535;
    }
    fxp_sound_open(player);
    fxp_light_open(player);
}

enum fxp_status fxp_open_summed(struct fxp *player, fxp_table table, uint32_t length, uint32_t crc, uint32_t *offset)
{
    clear(player);
    player->table = table;
    uint32_t at = 0;
    enum fxp_status status = check_header(player, length, crc, &at);
    if (status == FXP_OK) {
        struct fxp_reader reader = {player, 13, (uint16_t)player->clip_data, 0, FXP_OK, 0};
        fxp_check(player, &reader);
        status = (enum fxp_status)reader.fault;
        at = reader.fault_at;
    }
    if (status == FXP_OK) {
        power_up(player);
    } else {
        *offset = at;
    }
    return status;
}

enum fxp_status fxp_open(struct fxp *player, fxp_table table, uint32_t length, uint32_t *offset)
{
    uint32_t crc = length < 4 ? FXP_CRC_START : fxp_table_crc(FXP_CRC_START, table, 0, length - 4);
    return fxp_open_summed(player, table, length, crc, offset);
}
