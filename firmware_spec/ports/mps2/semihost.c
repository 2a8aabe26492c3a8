#include "semihost.h"

enum {
    SYS_OPEN = 0x01, SYS_CLOSE = 0x02, SYS_WRITE0 = 0x04, SYS_WRITE = 0x05, SYS_READ = 0x06, SYS_SEEK = 0x0A, SYS_GET_CMDLINE = 0x15,
    SYS_EXIT_EXTENDED = 0x20
};
#define APPLICATION_EXIT UINT32_C(0x20026)

static int32_t ask(uint32_t operation, const void *block)
{
    register uint32_t r0 __asm__("r0") = operation;
    register const void *r1 __asm__("r1") = block;
    __asm__ volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
    return (int32_t)r0;
}

static uint32_t length_of(const char *text)
{
    uint32_t length = 0;
    while (text[length] != 0) {
        length++;
    }
    return length;
}

int32_t host_open(const char *path, enum host_mode mode)
{
    uint32_t block[] = {(uint32_t)(uintptr_t)path, mode, length_of(path)};
    return ask(SYS_OPEN, block);
}

bool host_close(int32_t file)
{
    uint32_t block[] = {(uint32_t)file};
    return ask(SYS_CLOSE, block) == 0;
}

bool host_seek(int32_t file, uint32_t place)
{
    uint32_t block[] = {(uint32_t)file, place};
    return ask(SYS_SEEK, block) >= 0;
}

bool host_write(int32_t file, const void *bytes, uint32_t count)
{
    uint32_t block[] = {(uint32_t)file, (uint32_t)(uintptr_t)bytes, count};
    return ask(SYS_WRITE, block) == 0; /* bytes that were not written */
}

uint32_t host_read(int32_t file, void *bytes, uint32_t count)
{
    uint32_t block[] = {(uint32_t)file, (uint32_t)(uintptr_t)bytes, count};
    int32_t missing = ask(SYS_READ, block);
    return missing < 0 ? 0 : count - (uint32_t)missing;
}

bool host_arguments(char *text, uint32_t room)
{
    uint32_t block[] = {(uint32_t)(uintptr_t)text, room};
    if (ask(SYS_GET_CMDLINE, block) != 0) {
        return false;
    }
    uint32_t from = 0;
    while (text[from] != 0 && text[from] != ' ') {
        from++;
    }
    from += text[from] == ' ';
    for (uint32_t to = 0; (text[to] = text[from + to]) != 0; to++) {
    }
    return true;
}

void host_say(const char *text)
{
    ask(SYS_WRITE0, text);
}

void host_exit(uint32_t status)
{
    uint32_t block[] = {APPLICATION_EXIT, status};
    for (;;) {
        ask(SYS_EXIT_EXTENDED, block);
    }
}
