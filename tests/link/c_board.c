/* What a test needs of the C session beside fxl.h: its size, many bytes in one call, and a clock that has run for weeks. */
#include <stddef.h>

#include "fxl.h"

size_t board_bytes(void);
size_t board_feed(struct fxl *link, const uint8_t *bytes, size_t count);
size_t board_drain(struct fxl *link, uint8_t *bytes, size_t room);
void board_jump(struct fxl *link, uint32_t frame);

size_t board_bytes(void)
{
    return sizeof(struct fxl);
}

/* How many of the bytes were taken. */
size_t board_feed(struct fxl *link, const uint8_t *bytes, size_t count)
{
    size_t taken = 0;
    while (taken < count && fxl_receive(link, bytes[taken])) {
        taken++;
    }
    return taken;
}

size_t board_drain(struct fxl *link, uint8_t *bytes, size_t room)
{
    size_t sent = 0;
    while (sent < room && fxl_send(link, &bytes[sent])) {
        sent++;
    }
    return sent;
}

void board_jump(struct fxl *link, uint32_t frame)
{
    link->frame = frame;
}
