/* fxp and fxl on the board: one loop, a frame whenever there is room for its samples. */
#include "board.h"
#include "fxl.h"
#include "fxp_parts.h"

#include <avr/io.h>
#include <avr/sleep.h>

static struct fxp player;
static struct fxl session;
static uint16_t duties[FXP_MAX_CHANNELS];
static uint8_t position;

static bool check(void *context, uint32_t offset, uint32_t length, uint32_t *fault)
{
    (void)context;
    fxp_table table = store_address(offset);
    uint32_t crc = fxp_table_crc(FXP_CRC_START, table, 0, length - 4);
    if (fxp_check(table, length, crc, fault) != FXP_OK) {
        return false;
    }
    *fault = FXP_TABLE_HALF(table, FXP_H_RATE) > BOARD_MOST_RATE_HZ ? FXP_H_RATE : FXP_H_FRAME;
    return *fault != FXP_H_RATE && FXP_TABLE_HALF(table, FXP_H_FRAME) <= BOARD_MOST_SAMPLES;
}

static void start(void *context, uint32_t offset, uint32_t length)
{
    uint32_t fault;
    (void)context;
    fxp_open(&player, store_address(offset), length, &fault);
    player.trace = fxl_trace;
    player.trace_context = &session;
    position = BOARD_NO_POSITION;
    board_start_clock(player.sample_rate_hz, (uint8_t)player.samples_per_frame);
}

static bool has(void *context, uint8_t kind, uint8_t index, uint16_t value)
{
    (void)context;
    return kind == FXL_SELECT ? fxp_has(&player, index, value) : index < player.count[FXP_INPUTS];
}

static void set(void *context, uint8_t kind, uint8_t index, uint16_t value)
{
    (void)context;
    if (kind == FXL_SELECT) {
        fxp_select(&player, index, (uint8_t)value);
    } else {
        fxp_volume(&player, value);
    }
}

static const struct fxl_port port = {
    .erase = store_erase, .write = store_write, .read = store_read, .check = check, .start = start, .has = has, .set = set,
    .page_bytes = STORE_PAGE_BYTES, .slot_bytes = STORE_SLOT_BYTES, .name = "fxseq ATmega328P", .most_rate_hz = BOARD_MOST_RATE_HZ,
    .codings = 1 << FXP_PCM | 1 << FXP_MULAW | 1 << FXP_IMA_ADPCM, .table_version = FXP_TABLE_VERSION, .most_channels = FXP_MAX_CHANNELS, .most_pwm_bits = 16,
    .most_voices = FXP_MAX_VOICES, .outputs = FXL_SOUND | FXL_LIGHT,
};

static void play_frame(int16_t *samples)
{
    uint32_t closed, struck;
    board_contacts(&closed, &struck);
    if (!fxl_frame(&session, &closed, &struck)) {
        return;
    }
    uint8_t now = board_position();
    if (now != position && now != BOARD_NO_POSITION) {
        position = now;
        fxp_select(&player, 0, now);
    }
    PORTB |= 1 << PB0; /* an oscilloscope there shows what a frame takes */
    fxp_frame(&player, closed, struck, samples, duties);
    PORTB &= (uint8_t)~(1 << PB0);
    board_play();
    board_show(duties, player.channels, player.pwm_bits);
}

/* All that has come, and as much as there is room for. Whether there was anything. */
static bool serve_line(void)
{
    uint8_t byte;
    bool busy = false;
    while (board_byte_in(&byte) && fxl_receive(&session, byte)) {
        board_byte_taken();
        busy = true;
    }
    while (board_can_send() && fxl_send(&session, &byte)) {
        board_send(byte);
        busy = true;
    }
    return busy;
}

int main(void)
{
    uint32_t now_ms = 0;
    board_open();
    fxl_power_up(&session, &port, now_ms);
    for (;;) {
        bool busy = serve_line();
        int16_t *samples = board_samples();
        if (samples != 0) {
            play_frame(samples);
        }
        now_ms += board_millisecond();
        busy |= fxl_work(&session, now_ms);
        if (!busy) {
            sleep_mode(); /* until the next sample at the latest */
        }
    }
}
