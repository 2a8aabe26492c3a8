/* The board: a player, its link on UART 0, slots in flash memory. README.md says how it is run. */
#include "../../player/fxl.h"
#include "../../player/fxp.h"
#include "clock.h"
#include "flash.h"
#include "mps2.h"
#include "semihost.h"
#include "uart.h"

enum { PATH_ROOM = 1024, SAMPLES_MOST = 256, IDLE_RATE_HZ = 1000 };

static struct {
    struct fxl link;
    struct fxp player;
    int16_t samples[SAMPLES_MOST];
    uint16_t duties[FXP_MAX_CHANNELS];
} board;

/* This machine has no sound and no light: what is played ends in this sum, so that it has to be computed. */
volatile uint32_t board_sum;

static bool check(void *context, uint32_t offset, uint32_t length, uint32_t *fault)
{
    (void)context;
    fxp_table table = flash_at(offset);
    return fxp_check(table, length, fxp_table_crc(FXP_CRC_START, table, 0, length - 4), fault) == FXP_OK;
}

static void start(void *context, uint32_t offset, uint32_t length)
{
    uint32_t fault;
    (void)context;
    if (fxp_open(&board.player, flash_at(offset), length, &fault) != FXP_OK) {
        host_say("fxp_mps2: a table that was checked has changed\n");
        host_exit(3);
    }
    board.player.trace = fxl_trace;
    board.player.trace_context = &board.link;
    frames_start(board.player.samples_per_frame, board.player.sample_rate_hz);
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

static const struct fxl_port port = {
    .erase = flash_erase, .write = flash_write, .read = flash_read, .check = check, .start = start, .has = has, .set = set,
    .page_bytes = FLASH_PAGE_BYTES, .slot_bytes = FLASH_SLOT_BYTES, .name = "MPS2 AN385", .most_rate_hz = 48000, .codings = 31,
    .table_version = FXP_TABLE_VERSION, .most_channels = FXP_MAX_CHANNELS, .most_pwm_bits = 16, .most_voices = FXP_MAX_VOICES
};

static void play_frame(void)
{
    uint32_t closed = 0;
    uint32_t struck = 0; /* this machine has no contacts */
    uint32_t sum = board_sum;
    if (!fxl_frame(&board.link, &closed, &struck)) {
        return;
    }
    fxp_frame(&board.player, closed, struck, board.samples, board.duties);
    for (uint32_t i = 0; i < board.player.samples_per_frame; i++) {
        sum = sum * 31 + (uint16_t)board.samples[i];
    }
    for (uint32_t i = 0; i < board.player.channels; i++) {
        sum = sum * 31 + board.duties[i];
    }
    board_sum = sum;
}

/* Carries bytes both ways as far as line and link take them. */
static void carry(void)
{
    uint8_t byte;
    while (uart_waiting() && fxl_receive(&board.link, uart_first())) {
        uart_drop_first();
    }
    while (uart_takes_byte() && fxl_send(&board.link, &byte)) {
        uart_send(byte);
    }
}

/* Until a byte comes or a frame is due. An answer that still goes out keeps it awake, since no interrupt tells when the line takes more. */
static void rest(void)
{
    interrupts_off();
    if (!uart_waiting() && !frames_waiting() && uart_takes_byte()) {
        wait_for_interrupt();
    }
    interrupts_on();
}

int main(void)
{
    static char path[PATH_ROOM];
    if (!host_arguments(path, sizeof path) || path[0] == 0) {
        host_say("fxp_mps2: say which file is the flash memory: -semihosting-config enable=on,target=native,arg=fxp_mps2,arg=FILE\n");
        host_exit(2);
    }
    if (!flash_open(path)) {
        host_say("fxp_mps2: cannot read and write this file as flash memory, or it is too long: ");
        host_say(path);
        host_say("\n");
        host_exit(2);
    }
    clock_start();
    uart_start();
    frames_start(1, IDLE_RATE_HZ);
    fxl_power_up(&board.link, &port, clock_ms());
    for (;;) {
        carry();
        if (frames_take()) {
            play_frame();
        }
        if (!fxl_work(&board.link, clock_ms())) {
            rest();
        }
    }
}
