/* fxl: slots and marks (LINK.md 5). */
#include "fxl_parts.h"

uint8_t fxl_idle(const struct fxl *link)
{
    return link->active == 0 ? 1 : 0;
}

uint32_t fxl_slot_offset(const struct fxl *link, uint8_t slot)
{
    return 2 * link->port->page_bytes + slot * link->port->slot_bytes;
}

static bool is_length(const struct fxl *link, uint32_t length)
{
    return length >= 5 && length <= link->port->slot_bytes;
}

/* Whether a slot holds just this table, sound and to be played (4.3 R2, 5 R3): check() tells that its last bytes are its CRC. */
bool fxl_whole(const struct fxl *link, uint8_t slot, const struct fxl_table *table, uint32_t *fault)
{
    const struct fxl_port *port = link->port;
    uint32_t offset = fxl_slot_offset(link, slot);
    uint8_t end[4];
    if (!is_length(link, table->length)) {
        return false;
    }
    *fault = table->length - 4;
    if (!port->read(port->context, offset + *fault, end, 4) || fxl_u32(end) != table->crc) {
        return false;
    }
    *fault = 0;
    return port->check(port->context, offset, table->length, fault);
}

/* A whole mark (5 R5), as it stands in flash memory. */
struct mark {
    struct fxl_table table;
    uint32_t turn;
    uint8_t page;
    bool found;
};

static bool is_whole(const struct fxl *link, const uint8_t *mark)
{
    uint32_t crc = FXP_CRC_START;
    for (uint8_t i = 0; i < 12; i++) {
        crc = fxp_crc(crc, mark[i]);
    }
    return fxl_u32(mark + 12) == (uint32_t)~crc && is_length(link, fxl_u32(mark + 4));
}

static bool is_erased(const uint8_t *mark)
{
    uint8_t all = 0xFF;
    for (uint8_t i = 0; i < FXL_MARK_BYTES; i++) {
        all &= mark[i];
    }
    return all == 0xFF;
}

/* Of a page of marks: bytes up to the last place that is not erased, and places in these behind the last whole mark. */
struct use {
    uint32_t bytes, skipped;
};

/* The newest whole mark of each slot, among those of a page. A place that cannot be read is in use. */
static struct use read_marks(const struct fxl *link, uint8_t page, struct mark newest[2])
{
    const struct fxl_port *port = link->port;
    struct use use = {0, 0};
    uint32_t whole = 0;
    uint8_t bytes[FXL_MARK_BYTES];
    for (uint32_t at = 0; at + FXL_MARK_BYTES <= port->page_bytes; at += FXL_MARK_BYTES) {
        bool readable = port->read(port->context, page * port->page_bytes + at, bytes, FXL_MARK_BYTES);
        if (readable && is_erased(bytes)) {
            continue;
        }
        use.bytes = at + FXL_MARK_BYTES;
        if (!readable || !is_whole(link, bytes)) {
            continue;
        }
        whole = use.bytes;
        uint32_t turn = fxl_u32(bytes);
        struct mark *mark = &newest[turn & 1];
        if (!mark->found || turn >= mark->turn) {
            *mark = (struct mark){{fxl_u32(bytes + 4), fxl_u32(bytes + 8)}, turn, page, true};
        }
    }
    use.skipped = (use.bytes - whole) / FXL_MARK_BYTES;
    return use;
}

/* R6, R9: the least turn that the next mark may have; 0: none is left. */
static uint32_t next_turn(const struct mark newest[2], uint32_t skipped)
{
    uint32_t turn = 0;
    for (uint8_t slot = 0; slot < 2; slot++) {
        if (newest[slot].found && newest[slot].turn > turn) {
            turn = newest[slot].turn;
        }
    }
    uint32_t next = turn + 1 + 2 * skipped;
    return next > turn ? next : 0;
}

void fxl_find_tables(struct fxl *link)
{
    struct mark newest[2] = {{{0, 0}, 0, 0, false}, {{0, 0}, 0, 0, false}};
    struct use used[2];
    uint32_t fault;
    used[0] = read_marks(link, 0, newest);
    used[1] = read_marks(link, 1, newest);
    link->active = FXL_NO_SLOT;
    link->mark_page = 0;
    for (uint8_t slot = 0; slot < 2; slot++) {
        const struct mark *mark = &newest[slot];
        link->tables[slot] = (struct fxl_table){0, 0};
        if (!fxl_whole(link, slot, &mark->table, &fault)) {
            continue;
        }
        link->tables[slot] = mark->table;
        if (link->active == FXL_NO_SLOT || mark->turn > newest[link->active].turn) {
            link->active = slot;
            link->mark_page = mark->page;
        }
    }
    link->marks_used = used[link->mark_page].bytes;
    link->turn = next_turn(newest, used[link->mark_page].skipped);
    link->marked = false;
    link->afresh = false;
}

static bool same(const uint8_t *a, const uint8_t *b)
{
    uint8_t differences = 0;
    for (uint8_t i = 0; i < FXL_MARK_BYTES; i++) {
        differences |= a[i] ^ b[i];
    }
    return differences == 0;
}

/* R6: whether a page has to be erased before the next mark. */
bool fxl_needs_page(const struct fxl *link)
{
    return !link->afresh && link->marks_used + FXL_MARK_BYTES > link->port->page_bytes;
}

/* R6: the page without the mark of the table that plays. */
bool fxl_erase_marks(struct fxl *link)
{
    link->afresh = link->port->erase(link->port->context, link->mark_page == 0 ? link->port->page_bytes : 0);
    return link->afresh;
}

/* Makes `slot`, which holds `table`, the one that counts. */
bool fxl_write_mark(struct fxl *link, uint8_t slot, const struct fxl_table *table)
{
    const struct fxl_port *port = link->port;
    bool afresh = link->afresh;
    uint8_t page = afresh ? link->mark_page ^ 1 : link->mark_page;
    uint32_t at = page * port->page_bytes + (afresh ? 0 : link->marks_used);
    uint32_t turn = link->turn + ((link->turn ^ slot) & 1);
    uint32_t crc = FXP_CRC_START;
    uint8_t mark[FXL_MARK_BYTES], written[FXL_MARK_BYTES];
    link->afresh = false;
    if (turn < link->turn || link->turn == 0) { /* R6: none is left */
        return false;
    }
    fxl_store(mark, turn, 4);
    fxl_store(mark + 4, table->length, 4);
    fxl_store(mark + 8, table->crc, 4);
    for (uint8_t i = 0; i < 12; i++) {
        crc = fxp_crc(crc, mark[i]);
    }
    fxl_store(mark + 12, ~crc, 4);
    link->turn = turn + 1;
    link->marks_used += afresh ? 0 : FXL_MARK_BYTES;
    if (!port->write(port->context, at, mark, FXL_MARK_BYTES) || !port->read(port->context, at, written, FXL_MARK_BYTES) ||
        !same(mark, written)) {
        return false;
    }
    if (afresh) {
        link->mark_page = page;
        link->marks_used = FXL_MARK_BYTES;
    }
    link->marked = true;
    return true;
}
