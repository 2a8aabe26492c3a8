/* Marks in EEPROM, since a page of program memory takes one write between two erasures, and EEPROM one for each byte. Tables in program
 * memory, at SLOTS, just below the boot section. What writes program memory must itself be in the boot section, and nothing else may
 * run meanwhile: interrupts wait, 4 ms for each erasure and each write, in the dark, or what is lit just then would flash. The rest of this file is
 * there because there is room. */
#include "board.h"

#include <avr/boot.h>
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/pgmspace.h>

enum { MARKS_BYTES = 2 * STORE_PAGE_BYTES };

IN_BOOT_SECTION static void erase_page(uint16_t page)
{
    boot_page_erase(page);
    boot_spm_busy_wait();
}

IN_BOOT_SECTION static void write_page(uint16_t page)
{
    boot_page_write(page);
    boot_spm_busy_wait();
}

/* Ends with program memory readable again. */
IN_BOOT_SECTION static void erase(uint16_t page)
{
    uint8_t before = SREG;
    cli();
    go_dark();
    erase_page(page);
    boot_rww_enable();
    SREG = before;
}

/* Puts `count` bytes at place `first` of a page and keeps what else is in it. The page goes through the chip's page buffer; unless it is
 * all FF, it is erased in between. */
IN_BOOT_SECTION static void program(uint16_t page, uint8_t first, const uint8_t *bytes, uint8_t count)
{
    uint8_t before = SREG;
    uint16_t all = 0xFFFF;
    cli();
    go_dark();
    for (uint8_t at = 0; at < STORE_PAGE_BYTES; at = (uint8_t)(at + 2)) {
        uint16_t word = pgm_read_word(page + at);
        all &= word;
        if ((uint8_t)(at - first) < count) {
            word = (uint16_t)((word & 0xFF00) | bytes[(uint8_t)(at - first)]);
        }
        if ((uint8_t)(at + 1 - first) < count) {
            word = (uint16_t)((word & 0x00FF) | (uint16_t)(bytes[(uint8_t)(at + 1 - first)] << 8));
        }
        boot_page_fill(page + at, word);
    }
    if (all != 0xFFFF) {
        erase_page(page);
    }
    write_page(page);
    boot_rww_enable();
    SREG = before;
}

IN_BOOT_SECTION bool store_erase(void *context, uint32_t offset)
{
    (void)context;
    eeprom_busy_wait();
    if (offset >= MARKS_BYTES) {
        erase(store_address(offset));
        return true;
    }
    for (uint8_t i = 0; i < STORE_PAGE_BYTES; i++) {
        eeprom_update_byte((uint8_t *)(uint16_t)(offset + i), 0xFF);
    }
    return true;
}

IN_BOOT_SECTION bool store_write(void *context, uint32_t offset, const uint8_t *bytes, uint16_t count)
{
    (void)context;
    eeprom_busy_wait();
    if (offset < MARKS_BYTES) {
        eeprom_update_block(bytes, (void *)(uint16_t)offset, count);
        return true;
    }
    /* At most 32 bytes at a multiple of 32 (Makefile): within one page. */
    uint16_t address = store_address(offset);
    uint8_t first = (uint8_t)(address % STORE_PAGE_BYTES);
    program((uint16_t)(address - first), first, bytes, (uint8_t)count);
    return true;
}

IN_BOOT_SECTION bool store_read(void *context, uint32_t offset, uint8_t *bytes, uint16_t count)
{
    (void)context;
    if (offset < MARKS_BYTES) {
        eeprom_read_block(bytes, (const void *)(uint16_t)offset, count);
    } else {
        memcpy_P(bytes, (const void *)store_address(offset), count);
    }
    return true;
}
