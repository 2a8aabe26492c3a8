/* Flash memory that this machine does not have: memory that keeps to the rules of flash, and each change of it in a file of the host.
 *
 * Pages of FLASH_PAGE_BYTES are erased to FF; units of FLASH_UNIT_BYTES are written, once between two erasures. What breaks a rule is
 * reported and refused. A file operation takes one unit, or FLASH_CUT_BYTES of a page: power may fail between any two of them, and leaves
 * what a real cut leaves, a page erased in part or a write cut short. */
#ifndef FLASH_H
#define FLASH_H

#include <stdbool.h>
#include <stdint.h>

enum {
    FLASH_PAGE_BYTES = 4096, FLASH_UNIT_BYTES = 8, FLASH_CUT_BYTES = 256, FLASH_SLOT_BYTES = 262144,
    FLASH_BYTES = 2 * FLASH_PAGE_BYTES + 2 * FLASH_SLOT_BYTES
};

/* Loads what the file has; what it lacks is erased, also where there is no such file. false: it cannot be read and written, or it is too
 * long. */
bool flash_open(const char *path);
const uint8_t *flash_at(uint32_t offset);

/* As struct fxl_port has them. */
bool flash_erase(void *context, uint32_t offset);
bool flash_write(void *context, uint32_t offset, const uint8_t *bytes, uint16_t count);
bool flash_read(void *context, uint32_t offset, uint8_t *bytes, uint16_t count);

#endif
