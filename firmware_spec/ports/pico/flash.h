/* The flash chip: 2 MB, behind the SSI. The firmware has its begin; the rest is for tables. */
#ifndef FLASH_H
#define FLASH_H

#include <stdbool.h>
#include <stdint.h>

enum {
    FLASH_BYTES = 2 * 1024 * 1024,
    FLASH_PAGE_BYTES = 256,    /* one write at most */
    FLASH_SECTOR_BYTES = 4096, /* one erasure */
    FLASH_ID_BYTES = 8
};

/* The number that the maker has given to this chip (command 4B). */
void flash_id(uint8_t id[FLASH_ID_BYTES]);

/* Where flash memory is read in place, `offset` bytes from its begin. Not while it is changed: then any access stops the processor. */
const uint8_t *flash_at(uint32_t offset);

/* Sets the sector at `offset` to FF. Takes 45 to 400 ms, of a W25Q16JV, from memory. `meanwhile` is called over and over until it is done; it
 * must not read flash memory, nor may any interrupt. false: it is not FF afterwards. */
bool flash_erase(uint32_t offset, void (*meanwhile)(void));

/* Writes bytes, within one page, to where all is FF. Takes 0.4 to 3 ms. false: they do not read as written. */
bool flash_write(uint32_t offset, const uint8_t *bytes, uint32_t count, void (*meanwhile)(void));

#endif
