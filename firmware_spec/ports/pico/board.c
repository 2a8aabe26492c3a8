/* fxp and fxl on the board: one loop, a frame whenever there is room for its samples, and sleep until the next interrupt. */
#include "contacts.h"
#include "flash.h"
#include "fxl.h"
#include "fxp_parts.h"
#include "joints.h"
#include "light.h"
#include "rp2040.h"
#include "sound.h"
#include "start.h"
#include "uart.h"
#include "usb.h"

enum {
    MARKS_AT = 128 * 1024, /* in flash memory, behind the firmware: fxl's offset 0 */
    SLOT_BYTES = (FLASH_BYTES - MARKS_AT - 2 * FLASH_SECTOR_BYTES) / 2 / FLASH_SECTOR_BYTES * FLASH_SECTOR_BYTES,
    TABLE_ROOM = 192 * 1024, /* a table up to this plays from RAM */
    CHECK_BYTES = 1024,      /* between two frames: some 40 cycles a byte (fxp.h), a third of a millisecond */
    LEAVE_US = 50000,        /* for the last answer to reach the computer */
    COUNTS_AT = MARKS_AT - 2 * FLASH_SECTOR_BYTES, /* records of counts: the end of what the firmware leaves */
    QUIET_US = 2000000,      /* nothing has sounded or lit for so long */
    STILL_US = 1000000,      /* longer than an erasure, and than a push waits for a block */
    MOST_RATE_HZ = 48000,
    MOST_PWM_BITS = 16,      /* of which outputs show the upper ones (README.md) */
};

static struct {
    struct fxl link;
    struct fxp player;
    struct joints joints;
    const struct line *speaker; /* the line whose bytes came last: answers go there */
    bool plays;
    bool holds;            /* its clock stands still */
    bool in_ram;           /* the table that plays is in `table` */
    bool changes;          /* flash memory, which the table that plays is read from */
    bool has_byte;         /* that the session could not yet take */
    uint8_t byte;
    uint16_t volume;       /* as last read */
    uint8_t positions[FXP_MAX_SELECTORS];
    uint16_t duties[FXP_MAX_CHANNELS];
    uint32_t table_at;     /* where it comes from */
    uint32_t changed_us;   /* when the last change began */
    uint32_t active_us;    /* when something sounded or lit last; only of a table that is not in `table` */
    uint8_t table[TABLE_ROOM] __attribute__((aligned(4)));
} board;

/* Frames */

enum { UNKNOWN = 0xFF }; /* a position that has not been read yet */

static void pass_controls(void)
{
    uint16_t volume;
    uint8_t position;
    for (uint8_t i = 0; i < board.player.count[FXP_SELECTORS]; i++) {
        if (contacts_position(i, &position) && position != board.positions[i]) {
            board.positions[i] = position;
            fxp_select(&board.player, i, position);
        }
    }
    if (contacts_volume(&volume) && volume != board.volume) {
        board.volume = volume;
        fxp_volume(&board.player, volume);
    }
}

static bool is_active(const int16_t *samples)
{
    uint32_t any = 0;
    for (uint16_t i = 0; i < board.player.samples_per_frame; i++) {
        any |= (uint16_t)samples[i];
    }
    for (uint8_t i = 0; i < board.player.channels; i++) {
        any |= board.duties[i];
    }
    return any != 0;
}

static void play_due(void)
{
    uint32_t closed, struck;
    int16_t *samples = board.plays ? sound_room() : 0;
    if (samples == 0) {
        return;
    }
    contacts_read(&closed, &struck);
    board.changes = board.changes && time_us() - board.changed_us < STILL_US;
    board.holds = board.changes || !fxl_frame(&board.link, &closed, &struck);
    if (board.holds) {
        sound_rest();
        return;
    }
    pass_controls();
    fxp_frame(&board.player, closed, struck, samples, board.duties);
    if (!board.in_ram && is_active(samples)) {
        board.active_us = time_us();
    }
    sound_give();
    light_show(board.duties, board.player.pwm_bits);
}

/* While flash memory can be read in place. */
static void breathe(void)
{
    watchdog_feed();
    play_due();
}

/* While it cannot: only what plays from RAM goes on. */
static void breathe_in_ram(void)
{
    watchdog_feed();
    if (board.in_ram) {
        play_due();
    }
}

/* The port of fxl. Its calls play frames while they wait, as fxl.h allows. */

/* A table that is read in place stands from the first change to a while after the last. Frames that were played between them would come late now and
 * then, and the sound of an older one would be heard again. */
static void begin_change(void)
{
    if (!board.in_ram) {
        sound_rest();
        board.changes = true;
        board.changed_us = time_us();
    }
}

static bool erase(void *context, uint32_t offset)
{
    (void)context;
    begin_change();
    return flash_erase(MARKS_AT + offset, breathe_in_ram);
}

static bool write(void *context, uint32_t offset, const uint8_t *bytes, uint16_t count)
{
    (void)context;
    uint32_t at = MARKS_AT + offset;
    uint32_t left = count;
    begin_change();
    while (left > 0) {
        uint32_t part = FLASH_PAGE_BYTES - at % FLASH_PAGE_BYTES;
        part = part < left ? part : left;
        if (!flash_write(at, bytes, part, breathe_in_ram)) {
            return false;
        }
        at += part;
        bytes += part;
        left -= part;
    }
    return true;
}

static bool read(void *context, uint32_t offset, uint8_t *bytes, uint16_t count)
{
    (void)context;
    __builtin_memcpy(bytes, flash_at(MARKS_AT + offset), count);
    return true;
}

static bool can_play(fxp_table table, uint32_t *fault)
{
    static struct joints joints;
    if (!joints_read(&joints, table, fault)) {
        return false;
    }
    *fault = FXP_H_FRAME;
    return sound_fits(FXP_TABLE_HALF(table, FXP_H_RATE), FXP_TABLE_HALF(table, FXP_H_FRAME), &joints);
}

static bool check(void *context, uint32_t offset, uint32_t length, uint32_t *fault)
{
    (void)context;
    fxp_table table = flash_at(MARKS_AT + offset);
    uint32_t crc = FXP_CRC_START;
    for (uint32_t at = 0; at < length - 4; at += CHECK_BYTES) {
        uint32_t until = length - 4 - at < CHECK_BYTES ? length - 4 : at + CHECK_BYTES;
        crc = fxp_table_crc(crc, table, at, until);
        breathe();
    }
    return fxp_check(table, length, crc, fault) == FXP_OK && can_play(table, fault);
}

/* A table that fits is played from RAM, so that it goes on while flash memory is changed. */
static fxp_table fetch(uint32_t offset, uint32_t length)
{
    fxp_table table = flash_at(MARKS_AT + offset);
    board.in_ram = length <= TABLE_ROOM;
    if (!board.in_ram) {
        return table;
    }
    if (board.table_at != offset) {
        __builtin_memcpy(board.table, table, (length + 3) & ~UINT32_C(3)); /* slots are whole words */
        board.table_at = offset;
    }
    return board.table;
}

/* The session has checked it (fxl.h), so its own CRC will do: to count that of a large one again would take a third of a second. */
static bool open_table(fxp_table table, uint32_t length)
{
    uint32_t fault;
    uint32_t crc = FXP_TABLE_HALF(table, length - 4) | (uint32_t)FXP_TABLE_HALF(table, length - 2) << 16;
    return fxp_open_summed(&board.player, table, length, crc ^ FXP_CRC_START, &fault) == FXP_OK && joints_read(&board.joints, table, &fault);
}

static void start(void *context, uint32_t offset, uint32_t length)
{
    (void)context;
    sound_rest();
    board.changes = false;
    board.plays = open_table(fetch(offset, length), length);
    if (!board.plays) {
        light_off();
        return;
    }
    board.player.trace = fxl_trace;
    board.player.trace_context = &board.link;
    board.volume = UINT16_MAX;
    for (uint8_t i = 0; i < FXP_MAX_SELECTORS; i++) {
        board.positions[i] = UNKNOWN;
    }
    contacts_open(&board.joints);
    light_open(&board.joints);
    sound_open(board.player.sample_rate_hz, board.player.samples_per_frame, &board.joints);
}

static bool has(void *context, uint8_t kind, uint8_t index, uint16_t value)
{
    (void)context;
    return kind == FXL_SELECT ? fxp_has(&board.player, index, value) : index < board.player.count[FXP_INPUTS];
}

static void set(void *context, uint8_t kind, uint8_t index, uint16_t value)
{
    (void)context;
    if (kind == FXL_SELECT) {
        fxp_select(&board.player, index, (uint8_t)value);
    } else {
        fxp_volume(&board.player, value);
    }
}

/* Counts: a table that plays from RAM goes on while a record is written. */

static bool asks(void *context, uint32_t offset, uint32_t length)
{
    static struct joints joints;
    uint32_t fault;
    (void)context;
    (void)length;
    return joints_read(&joints, flash_at(MARKS_AT + offset), &fault) && joints.counts;
}

static bool is_quiet(void *context)
{
    (void)context;
    return board.in_ram || time_us() - board.active_us >= QUIET_US;
}

static uint16_t cells(void *context)
{
    (void)context;
    return contacts_cells();
}

/* Lines: the one session serves whichever speaks. */

struct line {
    bool (*get)(uint8_t *byte);
    bool (*can_put)(void);
    void (*put)(uint8_t byte);
    void (*flush)(void);
};

static void nothing(void)
{
}

static const struct line lines[] = {{usb_get, usb_can_put, usb_put, usb_flush}, {uart_get, uart_can_put, uart_put, nothing}};

static bool next_byte(void)
{
    for (uint32_t i = 0; i < sizeof lines / sizeof *lines && !board.has_byte; i++) {
        if (!lines[i].get(&board.byte)) {
            continue;
        }
        board.has_byte = true;
        if (board.speaker != &lines[i]) {
            board.speaker = &lines[i];
            fxl_receive(&board.link, 0); /* half a frame of the other line is no begin of one of this line */
        }
    }
    return board.has_byte;
}

/* All that has come, and as much as there is room for. Whether there was anything. */
static bool serve_lines(void)
{
    uint8_t byte;
    bool moved = false, sent = false;
    while (next_byte() && fxl_receive(&board.link, board.byte)) {
        board.has_byte = false;
        moved = true;
    }
    while (board.speaker->can_put() && fxl_send(&board.link, &byte)) {
        board.speaker->put(byte);
        sent = true;
    }
    if (sent) {
        board.speaker->flush();
    }
    return moved || sent;
}

static void boot(void *context)
{
    (void)context;
    sound_rest();
    light_off();
    uint32_t begun_us = time_us();
    while (time_us() - begun_us < LEAVE_US) {
    }
    enter_boot_loader();
}

static uint32_t speed(void *context, uint32_t baud, bool change)
{
    (void)context;
    if (change) {
        uart_speed(baud);
    }
    if (board.speaker != &lines[1]) { /* USB has no speed */
        return 0;
    }
    return baud < UART_BAUD_MOST ? baud : UART_BAUD_MOST;
}

static struct fxl_port port = {
    .erase = erase, .write = write, .read = read, .check = check, .start = start, .has = has, .set = set, .boot = boot, .speed = speed,
    .asks = asks, .is_quiet = is_quiet, .cells = cells, .counts_at = (uint32_t)COUNTS_AT - (uint32_t)MARKS_AT, /* before offset 0 */
    .page_bytes = FLASH_SECTOR_BYTES, .slot_bytes = SLOT_BYTES, .name = "fxseq pico", .most_rate_hz = MOST_RATE_HZ,
    .codings = 1 << FXP_PCM | 1 << FXP_MULAW | 1 << FXP_IMA_ADPCM | 1 << FXP_QOA_CODING | 1 << FXP_RICE_CODING, .table_version = FXP_TABLE_VERSION,
    .most_channels = FXP_MAX_CHANNELS, .most_pwm_bits = MOST_PWM_BITS, .most_voices = FXP_MAX_VOICES, .outputs = FXL_SOUND | FXL_LIGHT,
};

/* The number of the flash chip tells boards apart: all of it, in hexadecimal, on USB, and its end on the link. */
static void open_lines(void)
{
    static const char digits[] = "0123456789ABCDEF";
    static char serial_number[2 * FLASH_ID_BYTES + 1];
    uint8_t id[FLASH_ID_BYTES];
    flash_id(id);
    for (uint32_t i = 0; i < FLASH_ID_BYTES; i++) {
        serial_number[2 * i] = digits[id[i] >> 4];
        serial_number[2 * i + 1] = digits[id[i] & 15];
        port.board_id = port.board_id << 8 | id[i];
    }
    board.speaker = &lines[1];
    uart_open();
    usb_open(serial_number);
}

/* Interrupts wait while it looks, so none of them can come in between and be slept over. */
static void rest(void)
{
    uint32_t before = hold_interrupts();
    if (!next_byte() && (!board.plays || sound_room() == 0 || board.holds)) {
        wait_for_interrupt();
    }
    restore_interrupts(before);
}

int main(void)
{
    board.table_at = UINT32_MAX;
    open_lines();
    fxl_power_up(&board.link, &port, time_ms());
    for (;;) {
        bool busy = serve_lines();
        breathe();
        busy |= fxl_work(&board.link, time_ms());
        if (!busy) {
            rest();
        }
    }
}
