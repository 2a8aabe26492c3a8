/* For libFuzzer: what a host, a hand, the power and the flash memory may do to a board, as the bytes say; fxl_ram.c holds the board to LINK.md.
 *
 * Bytes come as they are, or as bodies of messages, which get a CRC that fits and are framed: no mutation would get beyond those. A few
 * tables are known, so that a push of something sound is a few bytes long. */
#include <string.h>

#include "fxl_ram.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { TABLES = 6, MESSAGE_MOST = 300, OUT_MOST = 400, PATIENCE = 2000, BOARD_KIND = 17, CLOCK_KIND = 22, EVENTS_KIND, PART_KIND = 25, SUMMED_KIND, HALVE_KIND = 29, NONE = 255, LAST_TAG = 5 };
enum { SAY, COPY, RAW, WORK, TIME, FRAMES, CUT, CUT_LATER, FAIL, BEGIN, DATA, VERIFY, COMMIT, PUSH, PRESSES, ASK }; /* what a step does */

static struct ram ram;
static struct { uint8_t bytes[RAM_SLOT]; uint32_t length; } tables[TABLES];
static const uint8_t *next, *end; /* of the input */
static uint32_t now_ms;
static uint8_t out[OUT_MOST];
static uint32_t out_count;
static uint8_t last[OUT_MOST]; /* the last answer */
static uint32_t last_count;
static uint8_t push_tag;

static uint8_t take(void)
{
    return (uint8_t)(next < end ? *next++ : 0);
}

static uint32_t crc_of(const uint8_t *bytes, uint32_t count)
{
    uint32_t crc = FXP_CRC_START;
    for (uint32_t i = 0; i < count; i++) {
        crc = fxp_crc(crc, bytes[i]);
    }
    return crc ^ FXP_CRC_START;
}

static void put_word(uint8_t *to, uint32_t value)
{
    for (int i = 0; i < 4; i++) {
        to[i] = (uint8_t)(value >> 8 * i);
    }
}

/* Two inputs, a selector, an effect that does nothing on input 0, so many voices, and `samples` bytes of a clip in mu-law. */
static void make_table(int number, uint8_t seed, uint32_t samples, uint8_t voices)
{
    static const uint8_t head[] = {0x66, 0x78, 0x73, 0x71, 0, 0, 0, 0, 0, 0, 0, 0, 0xA0, 0x0F, 4, 0, 2, 1, 16, 1, 0, 0,
        2, 0, 1, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 1, 0, 1, 0, 1, 0, 1, 0, 0, 0, 1, 0, 0, 0, /* counts */
        0, 0, 0, 0, 3, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0xFF, 0, 0, 0x80, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0xFF, 0xFF, 0, 0};
    uint8_t *table = tables[number].bytes;
    uint32_t length = (uint32_t)sizeof head + samples + 4;
    memcpy(table, head, sizeof head);
    for (uint32_t i = 0; i < samples; i++) {
        table[sizeof head + i] = (uint8_t)(i * i + i + seed); /* so that bytes of another place are not the same */
    }
    put_word(table + 4, length);
    put_word(table + 8, seed);
    put_word(table + 60, samples);
    table[19] = voices;
    put_word(table + length - 4, crc_of(table, length - 4));
    tables[number].length = length;
}

/* The board's side of the line: every frame is whole, and of a form that LINK 3 knows. */

static uint32_t decode(uint8_t *frame, uint32_t count)
{
    uint32_t to = 0, at = 0;
    while (at < count) {
        uint32_t piece = frame[at++];
        ram_must(piece > 0 && at + piece - 1 <= count, "LINK 2: a length byte reaches beyond the end");
        memmove(frame + to, frame + at, piece - 1);
        to += piece - 1;
        at += piece - 1;
        if (piece < 255 && at < count) {
            frame[to++] = 0;
        }
    }
    return to;
}

static uint32_t word(const uint8_t *bytes)
{
    return (uint32_t)bytes[0] | (uint32_t)bytes[1] << 8 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[3] << 24;
}

static bool is_sum(const uint8_t *summed)
{
    uint32_t offset = word(summed + 1), length = word(summed + 5), most = ram.plays.length;
    return ram.plays.at != RAM_NONE && offset < most && length <= most - offset && crc_of(ram.plays.bytes + offset, length) == word(summed + 9);
}

static void look_at_answer(void)
{
    static const uint8_t lengths[] = {48, 5, 1, 9, 2, 14, 0, 6, 0, 13, NONE, NONE, NONE, 5}; /* of BOARD with this name .. HALVED; EVENTS and PART by their count */
    uint32_t count = decode(out, out_count);
    ram_must(count > 4 && crc_of(out, count - 4) == word(out + count - 4), "LINK 2: an answer's CRC is wrong");
    uint32_t kind = (out[0] & 31U) - BOARD_KIND;
    count -= 4;
    ram_must(kind < sizeof lengths, "LINK 3: an answer of no known kind");
    ram_must(kind != EVENTS_KIND - BOARD_KIND || (count >= 9 && (count - 9) % 8 == 0), "LINK 3.17: an answer of a wrong length");
    ram_must(kind != PART_KIND - BOARD_KIND || (count > 5 && count <= 5 + 348), "LINK 3.21: an answer of a wrong length");
    ram_must(lengths[kind] == 0 || count == lengths[kind], "LINK 3: an answer of a wrong length");
    ram_must(kind != SUMMED_KIND - BOARD_KIND || is_sum(out), "LINK 3.23: a CRC of other bytes");
    ram_must(kind != CLOCK_KIND - BOARD_KIND || out[11] <= FXL_PRESS_ROOM, "LINK 3.16: room for more presses than there is");
    memcpy(last, out, count);
    last_count = count;
}

static bool hear(void)
{
    uint8_t byte;
    if (!fxl_send(&ram.link, &byte)) {
        return false;
    }
    if (byte == 0) {
        look_at_answer();
        out_count = 0;
    } else {
        ram_must(out_count < OUT_MOST, "LINK 2 R1: an answer without an end");
        out[out_count++] = byte;
    }
    return true;
}

/* Lets the board work until it rests and has said all. */
static void settle(void)
{
    for (int i = 0; i < PATIENCE && !ram.off; i++) {
        while (hear()) {
        }
        if (!fxl_work(&ram.link, now_ms) && !hear()) {
            return;
        }
    }
    ram_must(ram.off, "LINK 1 R2: the work of the board does not end");
}

static void power_up(void)
{
    out_count = 0; /* what it was about to say is lost */
    ram_power_up(&ram, now_ms);
}

/* The host's side. A block that is being written, or an answer, has to go first. */
static void put(uint8_t byte)
{
    for (int i = 0; !ram.off && !fxl_receive(&ram.link, byte); i++) {
        ram_must(i < PATIENCE, "LINK 1 R2: the board takes no more bytes");
        if (!hear()) {
            fxl_work(&ram.link, now_ms);
        }
    }
}

static void say(uint8_t *message, uint32_t count, bool wait)
{
    put_word(message + count, crc_of(message, count));
    count += 4;
    for (uint32_t at = 0; at <= count;) {
        uint32_t size = 0;
        while (at + size < count && size < 254 && message[at + size] != 0) {
            size++;
        }
        put((uint8_t)(size + 1));
        for (uint32_t i = 0; i < size; i++) {
            put(message[at + i]);
        }
        at += size;
        if (at == count) {
            break;
        }
        at += size < 254;
    }
    put(0);
    if (wait) {
        settle();
    }
}

static uint8_t first_byte(uint8_t kind, uint8_t tag)
{
    return (uint8_t)(kind | (tag & 7U) << 5);
}

static void say_table(uint8_t kind, uint8_t tag, int number, bool wait)
{
    uint8_t message[16] = {first_byte(kind, tag)};
    put_word(message + 1, tables[number].length);
    put_word(message + 5, crc_of(tables[number].bytes, tables[number].length - 4));
    say(message, 9, wait);
}

/* Bytes of each block but the last, as the board counts them now. */
static uint32_t block_bytes(void)
{
    return ram.link.push.length > 0 && ram.link.halved ? FXL_BLOCK_BYTES / 2 : FXL_BLOCK_BYTES;
}

static void say_block(uint8_t tag, int number, uint32_t block, uint8_t spoilt, bool wait)
{
    uint8_t message[MESSAGE_MOST] = {first_byte(3, tag), (uint8_t)block, (uint8_t)(block >> 8)};
    uint32_t at = block * block_bytes(), count = block_bytes();
    if (at + count > tables[number].length) {
        count = at < tables[number].length ? tables[number].length - at : 1;
    }
    memcpy(message + 3, tables[number].bytes + (at + count <= RAM_SLOT ? at : 0), count);
    message[3] ^= spoilt;
    say(message, 3 + count, wait);
}

/* COPY or SUM of bytes that are mostly those of the same place, some of them outside. */
static void copy(uint8_t more, bool wait)
{
    uint8_t message[16] = {first_byte(more & 8 ? 13 : 14, more & 16 ? more : push_tag)};
    uint32_t first = take() & 31U, count = take(), at = first * block_bytes(), shift = more & 1 ? take() - 128U : 0;
    message[1] = (uint8_t)first;
    message[3] = (uint8_t)(count & 31);
    put_word(message + 5, at + shift);
    if (more & 8) {
        put_word(message + 1, at + shift);
        put_word(message + 5, more & 2 ? count : 8 * count);
    }
    say(message, 9, wait);
}

static void push(int number, uint8_t tag)
{
    uint8_t verify[8] = {first_byte(4, (uint8_t)(tag + 1))};
    push_tag = tag;
    say_table(2, tag, number, true);
    for (uint32_t block = 0; block * block_bytes() < tables[number].length; block++) {
        say_block(tag, number, block, 0, true);
    }
    say(verify, 1, true);
    say_table(5, (uint8_t)(tag + 2), number, true);
}

static void play(uint32_t count, uint32_t hand)
{
    static int16_t samples[256];
    static uint16_t duties[FXP_MAX_CHANNELS];
    for (uint32_t i = 0; i < count; i++) {
        uint32_t closed = hand, struck = hand;
        if (!fxl_frame(&ram.link, &closed, &struck)) {
            return;
        }
        ram_must(ram.plays.at != RAM_NONE, "LINK 6: a frame of no table");
        fxp_frame(&ram.player, closed, struck, samples, duties);
        ram_must(ram.player.frame == ram.link.frame, "LINK 6: the clock is not that of the player");
    }
}

/* PRESSES that are mostly sound, in order of frames. */
static void press(bool wait)
{
    uint8_t message[MESSAGE_MOST] = {first_byte(8, 6)}, count = take() & 3;
    uint32_t frame = ram.link.frame, number = (uint32_t)ram.link.next_press + (count == 3 ? take() : 0U);
    message[1] = (uint8_t)number;
    message[2] = (uint8_t)(number >> 8);
    for (uint32_t i = 0; i <= count; i++) {
        uint8_t what = take();
        frame += what & 7;
        put_word(message + 3 + 8 * i, frame);
        message[7 + 8 * i] = what >> 3 & 3;
        message[8 + 8 * i] = what >> 5 & 1;
        message[9 + 8 * i] = what >> 6;
    }
    say(message, 3 + 8 * (count + 1U), wait);
}

static void ask(uint8_t what, bool wait)
{
    static const uint8_t kinds[] = {1, 6, 7, 9, 10, HALVE_KIND};
    uint8_t kind = what % 6, message[16] = {first_byte(kinds[kind], what), (uint8_t)(kind == 0 ? 1 : what >> 3)};
    uint32_t count = kind == 0 ? 1 : kind == 2 || kind == 4 ? 4 : 0;
    if (kinds[kind] == HALVE_KIND) {
        push_tag = what & 7;
    }
    say(message, 1 + count, wait);
}

static void say_bytes(bool framed, bool wait)
{
    uint8_t message[MESSAGE_MOST];
    uint32_t count = take() & 63;
    for (uint32_t i = 0; i < count; i++) {
        message[i] = take();
        if (!framed) {
            put(message[i]);
        }
    }
    if (framed) {
        say(message, count, wait);
    }
}

/* What the host says. */
static void talk(uint8_t what, bool wait)
{
    uint8_t more = what == SAY || what == RAW || what == PRESSES ? 0 : take(), tag = more >> 5;
    int number = (more & 7) % TABLES;
    uint8_t verify[8] = {first_byte(4, tag)};
    switch (what) {
    case SAY: case RAW: say_bytes(what != RAW, wait); break;
    case COPY: copy(more, wait); break;
    case BEGIN: push_tag = tag; say_table(2, tag, number, wait); break;
    case DATA: say_block(tag == 7 ? take() : push_tag, number, take() & 31, (more & 8) ? take() : 0, wait); break;
    case VERIFY: say(verify, 1, wait); break;
    case COMMIT: say_table(5, tag, number, wait); break;
    case PUSH: push(number, tag); break;
    case PRESSES: press(wait); break;
    default: ask(more, wait); break;
    }
}

static void step(uint8_t what, bool wait)
{
    if (what == WORK) {
        for (uint8_t i = take() & 31; i > 0 && !ram.off; i--) {
            fxl_work(&ram.link, now_ms);
        }
    } else if (what == TIME) {
        now_ms += 100U * take();
        fxl_work(&ram.link, now_ms);
    } else if (what == FRAMES) {
        uint8_t more = take();
        play(more & 31, more >> 6);
    } else if (what == CUT) {
        power_up();
    } else if (what == CUT_LATER) {
        ram.left = take() + 1U;
    } else if (what == FAIL) {
        ram.fails = true;
        ram.lies = take() & 1;
    } else {
        talk(what, wait);
    }
}

/* Whatever has happened: it answers, and plays what it must, now and after the next power-up. */
static void finish(void)
{
    uint8_t hello[8] = {first_byte(1, LAST_TAG), 1};
    ram.left = RAM_FOR_EVER;
    ram.fails = ram.lies = false;
    last_count = 0;
    put(0);
    settle();
    say(hello, 2, false);
    while (hear()) {
    }
    ram_must(last_count == 48 && last[0] == first_byte(BOARD_KIND, LAST_TAG), "LINK 3.1: a HELLO is not answered");
    settle();
    ram_look(&ram);
    power_up();
}

enum { SOUND_TABLES = 4 };

static void make_tables(void)
{
    make_table(0, 1, 128, 1);
    make_table(1, 2, 130, 1);
    make_table(2, 3, 300, 1);
    make_table(3, 4, RAM_SLOT - 88, 1); /* just a slot */
    make_table(4, 5, 128, 0);           /* not sound: it has no voices */
    make_table(5, 6, 200, 1);
    tables[5].bytes[tables[5].length - 1] ^= 1; /* does not end in its CRC */
    for (int i = 0; i < TABLES; i++) {
        uint32_t fault;
        bool sound = fxp_open(&ram.other, tables[i].bytes, tables[i].length, &fault) == FXP_OK;
        ram_must(sound == (i < SOUND_TABLES), "the fuzzer's own tables are not what they are meant to be");
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (tables[0].length == 0) {
        make_tables();
    }
    next = data;
    end = data + size;
    now_ms = 0;
    push_tag = 0;
    ram_clear(&ram);
    power_up();
    while (next < end) {
        uint8_t what = take();
        step(what & 15, (what & 16) == 0);
        if (ram.off) {
            power_up();
        }
        ram_look(&ram);
    }
    finish();
    return 0;
}
