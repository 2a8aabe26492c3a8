#include "flash.h"

#include "rp2040.h"
#include "ssi.h"
#include "start.h"

/* Commands that all chips of this kind have (W25Q16JV, from memory). */
enum { WRITE_PAGE = 0x02, READ_STATE = 0x05, ALLOW_WRITE = 0x06, ERASE_SECTOR = 0x20, READ_ID = 0x4B };
enum { ID_DUMMIES = 4, STATE_BUSY = 1, LONGEST_US = 3000000, LOOK_US = 100, SSI_FIFO = 14 /* of 16, to be sure */ };

static void select(bool selected)
{
    uint32_t other = FLASH_SELECT & ~FLASH_SELECT_BITS;
    FLASH_SELECT = other | (selected ? FLASH_SELECT_LOW : FLASH_SELECT_HIGH);
    (void)FLASH_SELECT; /* it is there before what follows */
}

/* Sends bytes, and receives as many. 0 for either: sends 0, or forgets what comes. */
static void exchange(const uint8_t *send, uint8_t *receive, uint32_t count)
{
    uint32_t sent = 0, received = 0;
    while (received < count) {
        if (sent < count && sent - received < SSI_FIFO) {
            SSI_DATA = send == 0 ? 0 : send[sent];
            sent++;
        }
        if ((SSI_STATUS & SSI_RECEIVED) != 0) {
            uint8_t byte = (uint8_t)SSI_DATA;
            if (receive != 0) {
                receive[received] = byte;
            }
            received++;
        }
    }
}

static void command(uint8_t code)
{
    select(true);
    exchange(&code, 0, 1);
}

static bool is_busy(void)
{
    uint8_t state;
    command(READ_STATE);
    exchange(0, &state, 1);
    select(false);
    return (state & STATE_BUSY) != 0;
}

/* From here to end_commands flash memory cannot be read in place. */
static void begin_commands(void)
{
    ssi_send_commands();
    select(false);
}

/* The cache forgets what has changed. */
static void end_commands(void)
{
    FLASH_SELECT &= ~FLASH_SELECT_BITS;
    ssi_read_in_place();
    XIP_FLUSH = 1;
    (void)XIP_FLUSH; /* waits until it has */
}

/* Starts what changes memory at `offset`, and waits for its end. A chip that does not answer is given up. */
static void change(uint8_t code, uint32_t offset, const uint8_t *bytes, uint32_t count, void (*meanwhile)(void))
{
    uint8_t address[] = {(uint8_t)(offset >> 16), (uint8_t)(offset >> 8), (uint8_t)offset};
    uint32_t begun_us = time_us();
    begin_commands();
    command(ALLOW_WRITE);
    select(false);
    command(code);
    exchange(address, 0, sizeof address);
    exchange(bytes, 0, count);
    select(false);
    while (is_busy() && time_us() - begun_us < LONGEST_US) {
        meanwhile();
        nap(LOOK_US);
    }
    end_commands();
}

void flash_id(uint8_t id[FLASH_ID_BYTES])
{
    begin_commands();
    command(READ_ID);
    exchange(0, 0, ID_DUMMIES);
    exchange(0, id, FLASH_ID_BYTES);
    select(false);
    end_commands();
}

const uint8_t *flash_at(uint32_t offset)
{
    return (const uint8_t *)(XIP + offset);
}

bool flash_erase(uint32_t offset, void (*meanwhile)(void))
{
    change(ERASE_SECTOR, offset, 0, 0, meanwhile);
    uint32_t all = 0xFFFFFFFF;
    const uint32_t *words = (const uint32_t *)(XIP_UNCACHED + offset);
    for (uint32_t i = 0; i < FLASH_SECTOR_BYTES / 4; i++) {
        all &= words[i];
    }
    return all == 0xFFFFFFFF;
}

bool flash_write(uint32_t offset, const uint8_t *bytes, uint32_t count, void (*meanwhile)(void))
{
    change(WRITE_PAGE, offset, bytes, count, meanwhile);
    const uint8_t *written = (const uint8_t *)(XIP_UNCACHED + offset);
    uint8_t differences = 0;
    for (uint32_t i = 0; i < count; i++) {
        differences |= written[i] ^ bytes[i];
    }
    return differences == 0;
}
