#include "fxl_ram.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void ram_must(bool good, const char *rule)
{
    if (!good) {
        fprintf(stderr, "fxl_fuzz: %s\n", rule);
        abort();
    }
}

static bool apart(uint32_t at, uint32_t count, uint32_t from, uint32_t size)
{
    return from == RAM_NONE || at + count <= from || at >= from + size;
}

/* 5 R1, R4 */
static void spare(const struct ram *ram, uint32_t at, uint32_t count)
{
    ram_must(count > 0 && at < RAM_BYTES && count <= RAM_BYTES - at, "LINK 1 R2: outside the memory");
    ram_must(apart(at, count, ram->plays.at, RAM_SLOT), "LINK 5 R1: the slot that plays is touched");
    ram_must(apart(at, count, ram->mark_at, RAM_MARK), "LINK 5 R4: the mark of the table that plays is touched");
    ram_must(ram->plays.at != RAM_NONE || at < RAM_MARKS + RAM_SLOT, "LINK 5: with no table, slot 0 is idle");
}

/* How much of an operation is carried out: nothing where it fails, a part where the power does. */
static uint32_t budget(struct ram *ram, uint32_t count, bool *good)
{
    *good = !ram->off && (!ram->fails || ram->lies);
    if (ram->off || ram->fails) {
        ram->fails = ram->lies = false;
        return 0;
    }
    uint32_t done = count < ram->left ? count : ram->left;
    if (ram->left != RAM_FOR_EVER) {
        ram->left -= done;
        ram->off = ram->left == 0;
        *good = !ram->off;
    }
    return done;
}

static bool erase(void *context, uint32_t at)
{
    struct ram *ram = context;
    bool good;
    spare(ram, at, RAM_PAGE);
    ram_must(at % RAM_PAGE == 0, "fxl.h: an erasure does not begin at a page");
    ram_must(at < RAM_MARKS || ram->plays.at == RAM_NONE || ram->marked_again, "LINK 5 R8: what plays was not marked again");
    ram->lies = false; /* what does not erase and does not say so makes every board write twice */
    uint32_t done = budget(ram, RAM_PAGE, &good);
    memset(ram->bytes + at, 0xFF, done);
    memset(ram->written + at, 0, done);
    return good;
}

static uint32_t word(const uint8_t *bytes)
{
    return (uint32_t)bytes[0] | (uint32_t)bytes[1] << 8 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[3] << 24;
}

static uint32_t crc_of(const uint8_t *bytes, uint32_t count)
{
    uint32_t crc = 0xFFFFFFFF;
    for (uint32_t i = 0; i < count; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) {
            crc = crc >> 1 ^ (crc & 1 ? 0xEDB88320 : 0);
        }
    }
    return ~crc;
}

/* A mark is whole in memory: what it names must be whole in its slot, every byte of it written since the erasure (5 R2). */
static void note_mark(struct ram *ram, uint32_t at)
{
    const uint8_t *mark = ram->bytes + at;
    uint32_t slot = RAM_MARKS + (mark[0] & 1U) * RAM_SLOT, length = word(mark + 4), fault;
    ram_must(crc_of(mark, 12) == word(mark + 12), "LINK 5: the CRC of a mark is wrong");
    ram->mark_at = at;
    if (!ram->marked_again && slot == ram->plays.at) {
        ram_must(length == ram->plays.length, "LINK 5 R8: another table is marked again");
        ram_must(word(mark + 8) == crc_of(ram->plays.bytes, length - 4), "LINK 5 R8: another table is marked again");
        ram->marked_again = true;
        return;
    }
    ram->marked_again = true;
    ram_must(slot != ram->plays.at, "LINK 5 R1: the mark names the slot that plays");
    ram_must(length >= 5 && length <= RAM_SLOT, "LINK 5: the mark names a length that cannot be");
    for (uint32_t i = 0; i < length; i++) {
        ram_must(ram->written[slot + i] == 1, "LINK 5 R2: the mark names a table that has not come whole");
    }
    ram_must(crc_of(ram->bytes + slot, length - 4) == word(mark + 8), "LINK 4.3 R1: the slot holds another table than the mark says");
    ram_must(fxp_open(&ram->other, ram->bytes + slot, length, &fault) == FXP_OK, "LINK 4.3 R2: the mark names a table that is not sound");
    ram->marked.at = slot;
    ram->marked.length = length;
    memcpy(ram->marked.bytes, ram->bytes + slot, length);
}

static bool write(void *context, uint32_t at, const uint8_t *bytes, uint16_t count)
{
    struct ram *ram = context;
    bool good, mark = at < RAM_MARKS;
    spare(ram, at, count);
    ram_must(mark ? count == RAM_MARK && at % RAM_MARK == 0 : count <= FXL_WRITE_BYTES && at % 8 == 0, "fxl.h: no such write");
    ram_must(mark || (at < RAM_MARKS + RAM_SLOT) == (at + count <= RAM_MARKS + RAM_SLOT), "LINK 5 R1: a write goes beyond its slot");
    for (uint32_t i = 0; i < count; i++) {
        ram_must(ram->written[at + i] == 0, "LINK 4.2 R4, 5 R7: written twice, or before it was erased");
    }
    uint32_t done = budget(ram, count, &good);
    memcpy(ram->bytes + at, bytes, done);
    memset(ram->written + at, 1, done);
    if (mark && done == RAM_MARK) {
        note_mark(ram, at);
    }
    return good;
}

static bool read(void *context, uint32_t at, uint8_t *bytes, uint16_t count)
{
    struct ram *ram = context;
    ram_must(count > 0 && count <= FXL_READ_BYTES && at < RAM_BYTES && count <= RAM_BYTES - at, "fxl.h: no such read");
    ram_must(apart(at, count, ram->plays.at, RAM_SLOT) || at + count <= ram->plays.at + ram->plays.length,
        "LINK 3.22, 4.5 R1: bytes beyond the table that plays are read");
    memcpy(bytes, ram->bytes + at, count);
    return !ram->off;
}

static bool check(void *context, uint32_t at, uint32_t length, uint32_t *fault)
{
    struct ram *ram = context;
    ram_must(length >= 5 && length <= RAM_SLOT && (at == RAM_MARKS || at == RAM_MARKS + RAM_SLOT), "fxl.h: no such table");
    *fault = 0;
    return fxp_open(&ram->other, ram->bytes + at, length, fault) == FXP_OK;
}

static void start(void *context, uint32_t at, uint32_t length)
{
    struct ram *ram = context;
    uint32_t fault;
    if (ram->marked.at != RAM_NONE && at == ram->marked.at) {
        ram->plays = ram->marked;
        ram->marked.at = RAM_NONE;
    }
    ram_must(at == ram->plays.at && length == ram->plays.length, "LINK 5 R3: another table than that of the newest mark plays");
    ram_must(memcmp(ram->bytes + at, ram->plays.bytes, length) == 0, "LINK 1 R1: the table that plays has changed");
    ram_must(fxp_open(&ram->player, ram->bytes + at, length, &fault) == FXP_OK, "LINK 1 R1: a table plays that is not sound");
    ram->player.trace = fxl_trace;
    ram->player.trace_context = &ram->link;
}

/* Whether there is such a position is what fxp_select says, so it is asked of a copy. */
static bool has(void *context, uint8_t kind, uint8_t index, uint16_t value)
{
    struct ram *ram = context;
    if (kind != FXL_SELECT) {
        return index < ram->player.count[FXP_INPUTS];
    }
    ram->other = ram->player;
    ram->other.trace = NULL;
    return value <= UINT8_MAX && fxp_select(&ram->other, index, (uint8_t)value) == FXP_OK;
}

static void set(void *context, uint8_t kind, uint8_t index, uint16_t value)
{
    struct ram *ram = context;
    enum fxp_status status = kind == FXL_SELECT ? fxp_select(&ram->player, index, (uint8_t)value) : fxp_volume(&ram->player, value);
    ram_must(status == FXP_OK, "LINK 6 R6: a press was taken that names what the table does not have");
}

void ram_clear(struct ram *ram)
{
    memset(ram->bytes, 0xFF, RAM_BYTES);
    memset(ram->written, 0, RAM_MARKS);
    ram->plays.at = ram->marked.at = ram->mark_at = RAM_NONE;
    ram->left = RAM_FOR_EVER;
    ram->fails = ram->lies = false;
}

void ram_power_up(struct ram *ram, uint32_t now_ms)
{
    static struct fxl_port port = {
        .erase = erase, .write = write, .read = read, .check = check, .start = start, .has = has, .set = set, .page_bytes = RAM_PAGE,
        .slot_bytes = RAM_SLOT, .board_id = 7, .name = "bench", .most_rate_hz = 48000, .codings = 31, .table_version = FXP_TABLE_VERSION,
        .most_channels = FXP_MAX_CHANNELS, .most_pwm_bits = 16, .most_voices = FXP_MAX_VOICES
    };
    port.context = ram;
    memset(&ram->link, 0xA5, sizeof ram->link); /* a chip's memory holds anything at power-up */
    memset(ram->written + RAM_MARKS, 2, RAM_BYTES - RAM_MARKS);
    ram->left = RAM_FOR_EVER;
    ram->off = ram->fails = ram->lies = ram->marked_again = false;
    fxl_power_up(&ram->link, &port, now_ms);
    ram_must(ram->marked.at == RAM_NONE, "LINK 4.4 R1: a mark was written whole, and its table does not play after power-up");
    ram_look(ram);
}

void ram_look(const struct ram *ram)
{
    bool none = ram->link.active > 1;
    ram_must(none == (ram->plays.at == RAM_NONE), "LINK 1 R1: there was a table, and none plays");
    ram_must(none || RAM_MARKS + (uint32_t)ram->link.active * RAM_SLOT == ram->plays.at, "LINK 5 R3: another slot plays");
    ram_must(none || memcmp(ram->bytes + ram->plays.at, ram->plays.bytes, ram->plays.length) == 0, "LINK 1 R1: the table that plays has changed");
}
