/* Which tables may be played: SPEC 3 R1. Power-up. */
#include "fxp_parts.h"

static const uint16_t most[FXP_SECTIONS] FXP_ROM = {
    32, 16, 16, 64, 4095, 255, 255, 255, 255, 4095, 64, 4095, 4095, 255
};

/* Fields of the header but its counts: a half or a byte, and its range. */
struct range { uint8_t at, is_half; uint16_t low, high; };
static const struct range ranges[] FXP_ROM = {
    {FXP_H_RATE, 1, 4000, 48000}, {FXP_H_FRAME, 1, 4, 256}, {FXP_H_CHANNELS, 0, 1, 255}, {FXP_H_BITS, 0, 8, 16}, {FXP_H_VOICES, 0, 1, 16},
    {FXP_H_RULE, 0, 0, FXP_SAME_CLIP}, {FXP_H_MASK, 0, 0, 7}
};

/* What this build is too small for. */
struct limit { uint8_t at, most; };
static const struct limit limits[] FXP_ROM = {
    {FXP_H_CHANNELS, FXP_MAX_CHANNELS}, {FXP_H_VOICES, FXP_MAX_VOICES}, {FXP_H_COUNTS + 2 * FXP_INPUTS, FXP_MAX_INPUTS},
    {FXP_H_COUNTS + 2 * FXP_SELECTORS, FXP_MAX_SELECTORS}, {FXP_H_COUNTS + 2 * FXP_COUNTERS, FXP_MAX_COUNTERS},
    {FXP_H_COUNTS + 2 * FXP_TRIGGERS, FXP_MAX_TRIGGERS}
};

/* The header as it was checked: what is read but once cannot change in between. */
struct header { uint8_t bytes[FXP_HEADER_BYTES]; };

static void read_bytes(struct header *header, fxp_table table)
{
    for (uint8_t at = 0; at < FXP_HEADER_BYTES; at++) {
        header->bytes[at] = FXP_TABLE_BYTE(table, at);
    }
}

static uint16_t half(const struct header *header, uint8_t at)
{
    return (uint16_t)(header->bytes[at] | (uint16_t)(header->bytes[at + 1] << 8));
}

static uint32_t word(const struct header *header, uint8_t at)
{
    return half(header, at) | (uint32_t)half(header, (uint8_t)(at + 2)) << 16;
}

static uint16_t count_of(const struct header *header, uint8_t section)
{
    return half(header, (uint8_t)(FXP_H_COUNTS + 2 * section));
}

/* 3 R1.6: offset of the first field that is out of its range, 0 if there is none. */
static uint8_t bad_field(const struct header *header)
{
    if (word(header, FXP_H_SEED) == 0) {
        return FXP_H_SEED;
    }
    for (uint_fast8_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
        uint8_t at = FXP_ROM_BYTE(&ranges[i].at);
        uint16_t value = FXP_ROM_BYTE(&ranges[i].is_half) != 0 ? half(header, at) : header->bytes[at];
        if (value < FXP_ROM_WORD(&ranges[i].low) || value > FXP_ROM_WORD(&ranges[i].high)) {
            return at;
        }
    }
    if ((header->bytes[FXP_H_MASK] & (header->bytes[FXP_H_MASK] + 1)) != 0) { /* all bits set up to the highest */
        return FXP_H_MASK;
    }
    for (uint8_t section = 0; section < FXP_SECTIONS; section++) {
        if (count_of(header, section) > FXP_ROM_WORD(&most[section])) {
            return (uint8_t)(FXP_H_COUNTS + 2 * section);
        }
    }
    return 0;
}

/* Where a section begins; behind the last one, where it ends. */
static uint32_t begin_of(const struct header *header, uint8_t section)
{
    uint32_t at = FXP_HEADER_BYTES;
    for (uint8_t before = 0; before < section; before++) {
        at += (uint32_t)count_of(header, before) << FXP_ROM_BYTE(&fxp_record_size[before]);
    }
    return at;
}

static uint32_t clip_data_of(const struct header *header)
{
    return (begin_of(header, FXP_SECTIONS) + 1) & ~UINT32_C(1);
}

static bool is_left_out(uint8_t coding)
{
    return (coding == FXP_QOA_CODING && !FXP_QOA) || (coding == FXP_RICE_CODING && !FXP_RICE);
}

/* FXP_TOO_MANY: its offset, 0 if this build can play all. */
static uint32_t too_much(const struct header *header, fxp_table table)
{
    for (uint_fast8_t i = 0; i < sizeof limits / sizeof *limits; i++) {
        uint8_t at = FXP_ROM_BYTE(&limits[i].at);
        if (header->bytes[at] > FXP_ROM_BYTE(&limits[i].most)) { /* of counts, all up to 64, the upper byte is 0 */
            return at;
        }
    }
    uint32_t at = begin_of(header, FXP_FORMS);
    for (uint16_t left = count_of(header, FXP_FORMS); left > 0; left--) {
        if (is_left_out(FXP_TABLE_BYTE(table, at + 3))) {
            return at;
        }
        at += 4;
    }
    return 0;
}

/* 3 R1, in its order. */
static enum fxp_status check(struct header *header, fxp_table table, uint32_t length, uint32_t crc, uint32_t *offset)
{
    *offset = length;
    if (length < FXP_HEADER_BYTES + 4) {
        return FXP_BAD_LENGTH;
    }
    read_bytes(header, table);
    *offset = 0;
    if (word(header, 0) != UINT32_C(0x71737866)) { /* "fxsq" */
        return FXP_BAD_MAGIC;
    }
    *offset = FXP_H_VERSION;
    if (header->bytes[FXP_H_VERSION] != FXP_TABLE_VERSION) {
        return FXP_BAD_VERSION;
    }
    *offset = FXP_H_LENGTH;
    if (word(header, FXP_H_LENGTH) != length || (length & 1) != 0) {
        return FXP_BAD_LENGTH;
    }
    *offset = length - 4;
    if ((crc ^ FXP_CRC_START) != (FXP_TABLE_HALF(table, length - 4) | (uint32_t)FXP_TABLE_HALF(table, length - 2) << 16)) {
        return FXP_BAD_CRC;
    }
    *offset = bad_field(header);
    if (*offset != 0) {
        return FXP_BAD_VALUE;
    }
    *offset = FXP_H_COUNTS;
    uint32_t data = clip_data_of(header);
    if (data > 65535 || data > length - 4) {
        return FXP_BAD_LENGTH;
    }
    *offset = too_much(header, table);
    return *offset != 0 ? FXP_TOO_MANY : FXP_OK;
}

enum fxp_status fxp_check(fxp_table table, uint32_t length, uint32_t crc, uint32_t *offset)
{
    struct header header;
    return check(&header, table, length, crc, offset);
}

uint32_t fxp_joints(fxp_table table, uint8_t *count)
{
    struct header header;
    read_bytes(&header, table);
    *count = (uint8_t)count_of(&header, FXP_JOINTS);
    return begin_of(&header, FXP_JOINTS);
}

static void read_header(struct fxp *player, const struct header *header)
{
    player->seed = player->dice = word(header, FXP_H_SEED);
    player->sample_rate_hz = half(header, FXP_H_RATE);
    player->samples_per_frame = half(header, FXP_H_FRAME);
    player->channels = header->bytes[FXP_H_CHANNELS];
    player->pwm_bits = header->bytes[FXP_H_BITS];
    player->voices = header->bytes[FXP_H_VOICES];
    player->voice_rule = header->bytes[FXP_H_RULE];
    player->light_mask = header->bytes[FXP_H_MASK];
    player->clip_data = clip_data_of(header);
    player->clip_end = word(header, FXP_H_LENGTH) - 4;
    for (uint8_t section = 0; section < FXP_PLAYED; section++) {
        player->count[section] = count_of(header, section);
        player->first[section] = (uint16_t)begin_of(header, section);
    }
}

static void power_up(struct fxp *player)
{
    player->volume = player->wanted = 256;
    for (uint8_t selector = 0; selector < player->count[FXP_SELECTORS]; selector++) {
        player->positions[selector] = FXP_TABLE_BYTE(fxp_record(player, FXP_SELECTORS, selector), 1) & 15;
    }
    for (uint8_t counter = 0; counter < player->count[FXP_COUNTERS]; counter++) {
        player->counters[counter] = FXP_TABLE_HALF(fxp_record(player, FXP_COUNTERS, counter), 2);
    }
    for (uint8_t trigger = 0; trigger < player->count[FXP_TRIGGERS]; trigger++) {
        player->shooters[trigger].last = FXP_NONE;
    }
    fxp_sound_open(player);
    fxp_light_open(player);
}

enum fxp_status fxp_open_summed(struct fxp *player, fxp_table table, uint32_t length, uint32_t crc, uint32_t *offset)
{
    struct header header;
    enum fxp_status status = check(&header, table, length, crc, offset);
    if (status == FXP_OK) {
        uint8_t *bytes = (uint8_t *)player;
        for (uint16_t at = 0; at < sizeof *player; at++) {
            bytes[at] = 0;
        }
        player->table = table;
        read_header(player, &header);
        power_up(player);
    }
    return status;
}

enum fxp_status fxp_open(struct fxp *player, fxp_table table, uint32_t length, uint32_t *offset)
{
    uint32_t crc = length < 4 ? FXP_CRC_START : fxp_table_crc(FXP_CRC_START, table, 0, length - 4);
    return fxp_open_summed(player, table, length, crc, offset);
}
