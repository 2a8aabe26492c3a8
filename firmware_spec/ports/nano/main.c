/* fxp and fxl on the board: one loop, a frame whenever there is room for its samples. */
#include "board.h"
#include "fxl.h"
#include "fxp_parts.h"

#include <avr/interrupt.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

static struct fxp player;
static struct fxl session;
static uint16_t duties[FXP_MAX_CHANNELS];
static uint32_t now_ms;

/* Of a table that is sound: what this board is too small for (LINK 4.3 R2). */
static bool can_play(fxp_table table, uint32_t *fault)
{
    struct joints found;
    *fault = FXP_H_RATE;
    if (FXP_TABLE_HALF(table, FXP_H_RATE) > MOST_RATE_HZ) {
        return false;
    }
    *fault = FXP_H_FRAME;
    if (FXP_TABLE_HALF(table, FXP_H_FRAME) > MOST_SAMPLES) {
        return false;
    }
    *fault = FXP_H_BITS;
    return FXP_TABLE_BYTE(table, FXP_H_BITS) <= LIGHT_BITS && joints_read(&found, table, fault);
}

static bool check(void *context, uint32_t offset, uint32_t length, uint32_t *fault)
{
    (void)context;
    fxp_table table = store_address(offset);
    uint32_t crc = fxp_table_crc(FXP_CRC_START, table, 0, length - 4);
    if (fxp_check(table, length, crc, fault) != FXP_OK) {
        return false;
    }
    return can_play(table, fault);
}

static void start(void *context, uint32_t offset, uint32_t length)
{
    uint32_t fault;
    struct joints joints;
    (void)context;
    fxp_open(&player, store_address(offset), length, &fault);
    player.trace = fxl_trace;
    player.trace_context = &session;
    joints_read(&joints, store_address(offset), &fault);
    contacts_open(&joints);
    pulse_start(&player, &joints);
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
    .page_bytes = STORE_PAGE_BYTES, .slot_bytes = SLOT_BYTES, .name = "fxseq nano", .most_rate_hz = MOST_RATE_HZ,
    .codings = 1 << FXP_PCM | 1 << FXP_MULAW | 1 << FXP_IMA_ADPCM, .table_version = FXP_TABLE_VERSION, .most_channels = FXP_MAX_CHANNELS, .most_pwm_bits = LIGHT_BITS,
    .most_voices = FXP_MAX_VOICES, .outputs = FXL_SOUND | FXL_LIGHT,
};

static void play_frame(int16_t *samples)
{
    uint32_t closed, struck;
    uint8_t selector, position;
    contacts_read(&closed, &struck, now_ms);
    if (!fxl_frame(&session, &closed, &struck)) {
        return;
    }
    while (contacts_turned(&selector, &position)) {
        fxp_select(&player, selector, position);
    }
    fxp_frame(&player, closed, struck, samples, duties);
    pulse_play();
    pulse_show(duties, &player);
}

/* All that has come, and as much as there is room for. Whether there was anything. */
static bool serve_line(void)
{
    uint8_t byte;
    bool busy = false;
    while (line_byte_in(&byte) && fxl_receive(&session, byte)) {
        line_byte_taken();
        busy = true;
    }
    while (line_can_send() && fxl_send(&session, &byte)) {
        line_send(byte);
        busy = true;
    }
    return busy;
}

int main(void)
{
    wdt_enable(WDTO_2S); /* resets what hangs: then all pins are inputs */
    line_open();
    pulse_open();
    sei();
    fxl_power_up(&session, &port, now_ms);
    for (;;) {
        wdt_reset();
        bool busy = serve_line();
        int16_t *samples = pulse_samples();
        if (samples != 0) {
            play_frame(samples);
        }
        now_ms += line_millisecond();
        busy |= fxl_work(&session, now_ms);
        if (!busy) {
            sleep_mode(); /* until the next sample at the latest */
        }
    }
}
