/* fxl: what a board counts, and its records of it (LINK.md 8). */
#include "fxl_parts.h"

#ifndef FXL_WITHOUT_COUNTS

enum { RECORD_BYTES = 24, PIECE = 8 };
#define EVERY_MS UINT32_C(300000)
enum { SHOT = 7, EMPTY = 8, REFUSED = 15 }; /* trace events, SPEC 7 */

static uint32_t page_offset(const struct fxl *link, uint8_t page)
{
    return link->port->counts_at + page * link->port->page_bytes;
}

static bool read_record(const struct fxl *link, uint32_t offset, uint8_t record[RECORD_BYTES])
{
    for (uint8_t at = 0; at < RECORD_BYTES; at = (uint8_t)(at + PIECE)) {
        if (!link->port->read(link->port->context, offset + at, record + at, PIECE)) {
            return false;
        }
    }
    return true;
}

static bool is_erased(const uint8_t record[RECORD_BYTES])
{
    uint8_t all = 0xFF;
    for (uint8_t i = 0; i < RECORD_BYTES; i++) {
        all &= record[i];
    }
    return all == 0xFF;
}

static uint32_t crc_of(const uint8_t record[RECORD_BYTES])
{
    uint32_t crc = FXP_CRC_START;
    for (uint8_t i = 0; i < RECORD_BYTES - 4; i++) {
        crc = fxp_crc(crc, record[i]);
    }
    return ~crc;
}

/* R3: the newest whole record, where the next one goes, and its number. */
static void find_record(struct fxl *link)
{
    uint8_t record[RECORD_BYTES];
    uint32_t used[2] = {0, 0}, behind = 0, newest = 0;
    link->counts = (struct fxl_counts){0, 0, 0, 0, FXL_NOT_MEASURED};
    link->counts_page = 0;
    for (uint8_t page = 0; page < 2; page++) {
        for (uint32_t at = 0; at + RECORD_BYTES <= link->port->page_bytes; at += RECORD_BYTES) {
            bool readable = read_record(link, page_offset(link, page) + at, record);
            if (readable && is_erased(record)) {
                continue;
            }
            used[page] = at + RECORD_BYTES;
            if (!readable || fxl_u32(record + 20) != crc_of(record) || fxl_u32(record) < newest) {
                continue;
            }
            newest = fxl_u32(record);
            behind = used[page];
            link->counts_page = page;
            link->counts = (struct fxl_counts){fxl_u32(record + 4), fxl_u32(record + 8), fxl_u32(record + 12), fxl_u16(record + 16), fxl_u16(record + 18)};
        }
    }
    link->counts_used = used[link->counts_page];
    uint32_t next = newest + 1 + (link->counts_used - behind) / RECORD_BYTES;
    link->counts_number = next > newest ? next : 0;
}

static bool write_record(struct fxl *link)
{
    const struct fxl_port *port = link->port;
    uint32_t offset = page_offset(link, link->counts_page) + link->counts_used;
    uint8_t record[RECORD_BYTES], written[RECORD_BYTES];
    fxl_store(record, link->counts_number, 4);
    fxl_store(record + 4, link->counts.power_ups, 4);
    fxl_store(record + 8, link->counts.shots, 4);
    fxl_store(record + 12, link->counts.refusals, 4);
    fxl_store(record + 16, link->counts.flash_errors, 2);
    fxl_store(record + 18, link->counts.lowest, 2);
    fxl_store(record + 20, crc_of(record), 4);
    link->counts_used += RECORD_BYTES;
    link->counts_number++;
    link->counts_new = false; /* what is played while it is written is new again */
    if (!port->write(port->context, offset, record, RECORD_BYTES) || !read_record(link, offset, written)) {
        return false;
    }
    uint8_t differences = 0;
    for (uint8_t i = 0; i < RECORD_BYTES; i++) {
        differences |= record[i] ^ written[i];
    }
    return differences == 0;
}

/* R4: an erasure where the page is full, else the record. True: it is written. */
static bool keep(struct fxl *link)
{
    if (link->counts_number == 0) {
        link->counts_new = false;
        return false;
    }
    if (link->counts_used + RECORD_BYTES > link->port->page_bytes) {
        uint8_t other = link->counts_page ^ 1;
        if (link->port->erase(link->port->context, page_offset(link, other))) {
            link->counts_page = other;
            link->counts_used = 0;
            return false;
        }
    } else if (write_record(link)) {
        link->counted_ms = link->now_ms;
        return true;
    }
    fxl_count_flash_error(link);
    link->counted_ms = link->now_ms;
    return false;
}

static bool asks(const struct fxl *link)
{
    const struct fxl_port *port = link->port;
    return port->counts_at != 0 && link->active != FXL_NO_SLOT &&
           port->asks(port->context, fxl_slot_offset(link, link->active), link->tables[link->active].length);
}

void fxl_counts_power_up(struct fxl *link)
{
    link->counts_new = false;
    link->counting = false;
    link->counted_ms = link->now_ms;
    if (link->port->counts_at == 0) {
        return;
    }
    find_record(link);
    link->counting = asks(link);
    if (link->counting) {
        link->counts.power_ups++;
        link->counts_new = true;
        if (!keep(link)) {
            keep(link); /* behind an erasure */
        }
    }
}

void fxl_counts_start(struct fxl *link)
{
    link->counting = asks(link);
}

void fxl_count_flash_error(struct fxl *link)
{
    if (link->counting && link->counts.flash_errors < UINT16_MAX) {
        link->counts.flash_errors++;
        link->counts_new = true;
    }
}

void fxl_count_event(struct fxl *link, uint8_t kind)
{
    if (!link->counting || link->until != FXL_FOR_EVER) {
        return;
    }
    bool refused = kind == EMPTY || kind == REFUSED;
    link->counts.shots += kind == SHOT;
    link->counts.refusals += refused;
    link->counts_new |= kind == SHOT || refused;
}

static void measure(struct fxl *link)
{
    uint16_t cells = link->port->cells == 0 ? FXL_NOT_MEASURED : link->port->cells(link->port->context);
    if (cells < link->counts.lowest) {
        link->counts.lowest = cells;
        link->counts_new = true;
    }
}

void fxl_counts_work(struct fxl *link)
{
    if (!link->counting) {
        return;
    }
    measure(link);
    bool is_time = link->now_ms - link->counted_ms >= EVERY_MS && link->until == FXL_FOR_EVER;
    bool rests = link->job == FXL_REST && link->push.length == 0;
    if (link->counts_new && is_time && rests && link->port->is_quiet(link->port->context)) {
        keep(link);
    }
}

void fxl_tell_counts(struct fxl *link, uint16_t count)
{
    if (count != 0) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
        return;
    }
    fxl_answer(link, FXL_COUNTS, link->tag);
    fxl_put(link, link->counting, 1);
    fxl_put(link, link->counts.power_ups, 4);
    fxl_put(link, link->counts.shots, 4);
    fxl_put(link, link->counts.refusals, 4);
    fxl_put(link, link->counts.flash_errors, 2);
    fxl_put(link, link->counts.lowest, 2);
}

#endif
