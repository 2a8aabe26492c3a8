/* Counts the cycles of frames on an emulated ATmega328P: avr_count ELF TABLE STARTS COUNTS. A program of its own time: no line, no clock but the chip's.
 *
 * TABLE goes to program memory at 5E00, its length to 7FFE. STARTS: the address of each function, u16, ascending. The program writes GPIOR0: 1 as a frame
 * begins, 2 as it ends, 3 when all is done, 4 where the table was refused. COUNTS: for each frame the cycles of each function, u32. */
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TABLE = 0x5E00, LENGTH = 0x7FFE, GPIOR0 = 0x3E, WORDS = 0x4000, FUNCTIONS_MOST = 1024 };

static uint32_t cycles[FUNCTIONS_MOST];
static uint16_t functions, function_of[WORDS];
static bool in_frame;
static FILE *counts;
static int status = -1; /* once the program has ended */

static void fail(const char *what)
{
    fprintf(stderr, "avr_count: %s\n", what);
    exit(2);
}

static void hear(struct avr_t *avr, avr_io_addr_t address, uint8_t value, void *context)
{
    (void)avr, (void)address, (void)context;
    in_frame = value == 1;
    if (value == 1) {
        memset(cycles, 0, sizeof cycles);
    } else if (value == 2) {
        fwrite(cycles, sizeof *cycles, functions, counts);
    } else {
        status = value - 3;
    }
}

static uint32_t read_file(const char *name, uint8_t *bytes, uint32_t most)
{
    FILE *file = fopen(name, "rb");
    if (file == NULL) {
        fail(name);
    }
    uint32_t count = (uint32_t)fread(bytes, 1, most, file);
    fclose(file);
    return count;
}

static void read_starts(const char *name)
{
    uint16_t starts[FUNCTIONS_MOST];
    functions = (uint16_t)(read_file(name, (uint8_t *)starts, sizeof starts) / 2);
    for (uint16_t word = 0, next = 0; word < WORDS; word++) {
        while (next < functions && starts[next] <= 2 * word) {
            next++;
        }
        function_of[word] = (uint16_t)(next > 0 ? next - 1 : 0);
    }
}

int main(int count, char **arguments)
{
    elf_firmware_t firmware = {.mmcu = "atmega328p", .frequency = 16000000};
    avr_t *avr = avr_make_mcu_by_name("atmega328p");
    if (count != 5 || avr == NULL || elf_read_firmware(arguments[1], &firmware) != 0) {
        fail("usage: avr_count ELF TABLE STARTS COUNTS");
    }
    avr_init(avr);
    avr_load_firmware(avr, &firmware);
    uint32_t length = read_file(arguments[2], avr->flash + TABLE, LENGTH - TABLE);
    avr->flash[LENGTH] = (uint8_t)length;
    avr->flash[LENGTH + 1] = (uint8_t)(length >> 8);
    read_starts(arguments[3]);
    counts = fopen(arguments[4], "wb");
    if (counts == NULL) {
        fail(arguments[4]);
    }
    avr_register_io_write(avr, GPIOR0, hear, NULL);
    while (status < 0) {
        uint32_t at = avr->pc / 2;
        avr_cycle_count_t before = avr->cycle;
        int state = avr_run(avr);
        if (state == cpu_Crashed || state == cpu_Done) {
            fail("the program crashed");
        }
        if (in_frame) {
            cycles[function_of[at % WORDS]] += (uint32_t)(avr->cycle - before);
        }
    }
    return fclose(counts) == 0 ? status : 2;
}
