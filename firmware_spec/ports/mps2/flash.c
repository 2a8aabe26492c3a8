#include "flash.h"

#include "memory.h"
#include "mps2.h"
#include "semihost.h"

static uint8_t memory[FLASH_BYTES] IN_PSRAM;
static int32_t file;

/* To the file first: where that fails, nothing has changed here. */
static bool change(uint32_t offset, const uint8_t *bytes, uint32_t count)
{
    if (!host_seek(file, offset) || !host_write(file, bytes, count)) {
        host_say("fxp_mps2: the file of the flash memory cannot be written\n");
        return false;
    }
    memcpy(memory + offset, bytes, count);
    return true;
}

static bool refuse(const char *why)
{
    host_say("fxp_mps2: flash memory: ");
    host_say(why);
    return false;
}

bool flash_open(const char *path)
{
    file = host_open(path, HOST_UPDATE);
    if (file < 0) {
        host_close(host_open(path, HOST_WRITE));
        file = host_open(path, HOST_UPDATE);
    }
    uint8_t beyond;
    uint32_t size = file < 0 ? 0 : host_read(file, memory, FLASH_BYTES);
    if (file < 0 || host_read(file, &beyond, 1) != 0) {
        return false;
    }
    memset(memory + size, 0xFF, FLASH_BYTES - size);
    return size == FLASH_BYTES || change(size, memory + size, FLASH_BYTES - size);
}

const uint8_t *flash_at(uint32_t offset)
{
    return memory + offset;
}

bool flash_erase(void *context, uint32_t offset)
{
    uint8_t erased[FLASH_CUT_BYTES];
    (void)context;
    if (offset % FLASH_PAGE_BYTES != 0 || offset >= FLASH_BYTES) {
        return refuse("what is to be erased is not a page\n");
    }
    memset(erased, 0xFF, sizeof erased);
    for (uint32_t at = offset; at < offset + FLASH_PAGE_BYTES; at += sizeof erased) {
        if (!change(at, erased, sizeof erased)) {
            return false;
        }
    }
    return true;
}

static bool is_erased(uint32_t offset, uint32_t end)
{
    for (uint32_t at = offset; at < end; at++) {
        if (memory[at] != 0xFF) {
            return false;
        }
    }
    return true;
}

bool flash_write(void *context, uint32_t offset, const uint8_t *bytes, uint16_t count)
{
    (void)context;
    if (offset % FLASH_UNIT_BYTES != 0 || offset > FLASH_BYTES || count > FLASH_BYTES - offset) {
        return refuse("a write begins within a unit, or is beyond the end\n");
    }
    uint32_t units = (count + FLASH_UNIT_BYTES - UINT32_C(1)) / FLASH_UNIT_BYTES;
    if (!is_erased(offset, offset + units * FLASH_UNIT_BYTES)) {
        return refuse("a write to bytes that are not erased\n");
    }
    for (uint32_t at = 0; at < count; at += FLASH_UNIT_BYTES) {
        uint8_t unit[FLASH_UNIT_BYTES];
        memset(unit, 0xFF, sizeof unit);
        memcpy(unit, bytes + at, count - at < sizeof unit ? count - at : sizeof unit);
        if (!change(offset + at, unit, sizeof unit)) {
            return false;
        }
    }
    return true;
}

bool flash_read(void *context, uint32_t offset, uint8_t *bytes, uint16_t count)
{
    (void)context;
    if (offset > FLASH_BYTES || count > FLASH_BYTES - offset) {
        return refuse("a read beyond the end\n");
    }
    memcpy(bytes, memory + offset, count);
    return true;
}
