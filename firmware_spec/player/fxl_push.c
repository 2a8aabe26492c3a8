/* fxl: a push (LINK.md 4). What takes time is a job, done piece by piece by fxl_work. */
#include "fxl_parts.h"

enum { AHEAD = 16, HALVED_AHEAD = 7 }; /* blocks beyond base that a STATUS can tell of; that it can tell of as halves */

void fxl_status(struct fxl *link, uint8_t tag)
{
    fxl_answer(link, FXL_IS_HALVED(link) ? FXL_HALVED : FXL_STATUS, tag);
    fxl_put(link, link->base, 2);
    fxl_put(link, link->bitmap, 2);
}

void fxl_begin_job(struct fxl *link, uint8_t job)
{
    link->job = job;
    link->job_tag = link->tag;
    link->job_at = 0;
    link->commit = false;
}

void fxl_flash_failed(struct fxl *link)
{
    fxl_count_flash_error(link);
    link->job = FXL_REST;
    link->push.length = 0;
    fxl_error(link, link->job_tag, FXL_FLASH, 0);
}

static bool is(const struct fxl_table *table, uint32_t length, uint32_t crc)
{
    return table->length == length && table->crc == crc;
}

/* Whether the read-back has found what was announced, to be played. */
static bool is_good(const struct fxl *link)
{
    return link->outcome == FXL_READ_BACK && link->found == link->push.crc;
}

/* 4.1 */

/* 5 R8: what plays gets a new mark before the first erasure. */
bool fxl_is_preparing(const struct fxl *link)
{
    return link->job == FXL_MARK_AGAIN || link->job == FXL_ERASE;
}

/* 3.24 */
static bool is_copying(const struct fxl *link)
{
    return FXL_READING_HERE != 0 && link->job == FXL_COPY_BLOCKS;
}

/* R2 */
static bool is_repeat(const struct fxl *link, uint32_t length, uint32_t crc)
{
    return is(&link->push, length, crc) && (link->outcome == FXL_UNREAD || is_good(link));
}

void fxl_begin(struct fxl *link, const uint8_t *fields, uint16_t count)
{
    if (count != 8 || fxl_u32(fields) < 5) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
        return;
    }
    uint32_t length = fxl_u32(fields), crc = fxl_u32(fields + 4);
    if (length > link->port->slot_bytes || (length - 1) / FXL_BLOCK_BYTES >= 65535) {
        fxl_error(link, link->tag, FXL_TOO_LARGE, link->port->slot_bytes);
        return;
    }
    link->push_tag = link->tag;
    if (!is_repeat(link, length, crc)) {
        link->push = (struct fxl_table){length, crc};
        link->base = 0;
        link->bitmap = 0;
        link->outcome = FXL_UNREAD;
#ifndef FXL_WITHOUT_HALVES
        link->halved = false;
#endif
        fxl_begin_job(link, link->marked || link->active == FXL_NO_SLOT ? FXL_ERASE : FXL_MARK_AGAIN);
    }
    if (fxl_is_preparing(link) || is_copying(link)) {
        link->job_tag = link->tag;
    }
    if (fxl_is_preparing(link)) {
        fxl_wait(link, link->tag);
    } else {
        fxl_status(link, link->tag);
    }
}

static void erase_page(struct fxl *link)
{
    const struct fxl_port *port = link->port;
    link->tables[fxl_idle(link)] = (struct fxl_table){0, 0};
    if (!port->erase(port->context, fxl_slot_offset(link, fxl_idle(link)) + link->job_at)) {
        fxl_flash_failed(link);
        return;
    }
    link->job_at += port->page_bytes;
    if (link->job_at >= link->push.length) {
        link->job = FXL_REST;
        fxl_status(link, link->push_tag);
    }
}

/* 4.2 */

uint16_t fxl_blocks(const struct fxl *link)
{
    return (uint16_t)((link->push.length - 1) / FXL_BLOCK(link) + 1);
}

/* Bytes that block `number` must have (R1); 0 where there is no such block. number * 352 is below 2^25. */
uint16_t fxl_block_size(const struct fxl *link, uint16_t number)
{
    uint32_t start = (uint32_t)number * FXL_BLOCK(link);
    uint32_t left = link->push.length > start ? link->push.length - start : 0;
    return (uint16_t)(left < FXL_BLOCK(link) ? left : FXL_BLOCK(link));
}

bool fxl_is_wanted(const struct fxl *link, uint16_t number)
{
    if (number <= link->base) {
        return number == link->base;
    }
    uint16_t ahead = (uint16_t)(number - link->base);
    return ahead <= AHEAD && (link->bitmap >> (ahead - 1) & 1) == 0;
}

void fxl_has_come(struct fxl *link, uint16_t number)
{
    if (number > link->base) {
        link->bitmap = (uint16_t)(link->bitmap | 1u << (number - link->base - 1));
        return;
    }
    bool next;
    do {
        next = (link->bitmap & 1) != 0;
        link->bitmap >>= 1;
        link->base++;
    } while (next);
}

void fxl_data(struct fxl *link, const uint8_t *fields, uint16_t count)
{
    if (count < 3) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
        return;
    }
    if (link->push.length == 0) {
        fxl_error(link, link->tag, FXL_NOT_BEGUN, 0);
        return;
    }
    uint16_t number = fxl_u16(fields);
    if (link->tag != link->push_tag || fxl_is_preparing(link)) {
        return;
    }
    if (count - 2 != fxl_block_size(link, number)) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, number);
    } else if (fxl_is_wanted(link, number) && !is_copying(link)) {
        fxl_begin_job(link, FXL_WRITE);
    } else {
        fxl_status(link, link->tag);
    }
}

/* The block stays where it was received: fxl_receive takes nothing meanwhile. */
static void write_piece(struct fxl *link)
{
    const struct fxl_port *port = link->port;
    const uint8_t *fields = link->in + 1;
    uint16_t number = fxl_u16(fields);
    uint32_t left = fxl_block_size(link, number) - link->job_at;
    uint16_t count = (uint16_t)(left < FXL_WRITE_BYTES ? left : FXL_WRITE_BYTES);
    uint32_t offset = fxl_slot_offset(link, fxl_idle(link)) + (uint32_t)number * FXL_BLOCK(link) + link->job_at;
    if (!port->write(port->context, offset, fields + 2 + link->job_at, count)) {
        fxl_flash_failed(link);
        return;
    }
    link->job_at += count;
    if (count == left) {
        link->job = FXL_REST;
        fxl_has_come(link, number);
        fxl_status(link, link->push_tag);
    }
}

/* 4.7 */

#ifndef FXL_WITHOUT_HALVES

static void halve(struct fxl *link)
{
    uint16_t base = link->base, bitmap = link->bitmap;
    link->halved = true;
    uint16_t most = fxl_blocks(link);
    link->base = (uint16_t)(2U * base < most ? 2U * base : most);
    link->bitmap = 0;
    for (uint16_t number = (uint16_t)(base + 1); bitmap != 0; number++, bitmap >>= 1) {
        if ((bitmap & 1) != 0) {
            fxl_has_come(link, (uint16_t)(2 * number));
            if (2U * number + 1 < most) {
                fxl_has_come(link, (uint16_t)(2 * number + 1));
            }
        }
    }
}

void fxl_halve(struct fxl *link, uint16_t count)
{
    if (count != 0) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
    } else if (link->push.length == 0) {
        fxl_error(link, link->tag, FXL_NOT_BEGUN, 0);
    } else if (fxl_is_preparing(link) || is_copying(link)) {
        fxl_wait(link, link->tag);
    } else if (!link->halved && (link->bitmap >> HALVED_AHEAD != 0 || fxl_blocks(link) > 32767)) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, link->bitmap);
    } else {
        if (!link->halved) {
            halve(link);
        }
        link->push_tag = link->tag;
        fxl_status(link, link->tag);
    }
}

#endif

/* 4.3 */

static void tell_outcome(struct fxl *link, uint8_t tag)
{
    if (link->outcome == FXL_REFUSED) {
        fxl_error(link, tag, FXL_BAD_TABLE, link->found);
        return;
    }
    fxl_answer(link, FXL_VERIFIED, tag);
    fxl_put(link, link->push.length, 4);
    fxl_put(link, link->found, 4);
}

/* VERIFY, and COMMIT of the table of BEGIN, which goes on to the mark where the outcome is good. */
static void finish(struct fxl *link, bool commit)
{
    bool read = link->outcome != FXL_UNREAD;
    if (fxl_is_preparing(link)) {
        fxl_wait(link, link->tag);
    } else if (link->base < fxl_blocks(link)) {
        fxl_status(link, link->tag);
    } else if (read && !(commit && is_good(link))) {
        tell_outcome(link, link->tag);
    } else {
        if (link->job != FXL_READ && link->job != FXL_MARK) {
            fxl_begin_job(link, read ? FXL_MARK : FXL_READ);
            link->job_crc = FXP_CRC_START;
        }
        if (commit || !link->commit) {
            link->job_tag = link->tag;
            link->commit = commit;
        }
        fxl_wait(link, link->tag);
    }
}

void fxl_verify(struct fxl *link, uint16_t count)
{
    if (count != 0) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
    } else if (link->push.length == 0) {
        fxl_error(link, link->tag, FXL_NOT_BEGUN, 0);
    } else {
        finish(link, false);
    }
}

static void conclude(struct fxl *link)
{
    uint32_t fault;
    link->outcome = FXL_READ_BACK;
    link->found = ~link->job_crc;
    if (link->found == link->push.crc && !fxl_whole(link, fxl_idle(link), &link->push, &fault)) {
        link->outcome = FXL_REFUSED;
        link->found = fault;
    }
    if (link->commit && is_good(link)) {
        link->job = FXL_MARK;
        return;
    }
    link->job = FXL_REST;
    tell_outcome(link, link->job_tag);
}

static void read_piece(struct fxl *link)
{
    const struct fxl_port *port = link->port;
    uint8_t bytes[FXL_READ_BYTES];
    uint32_t left = link->push.length - 4 - link->job_at;
    uint16_t count = (uint16_t)(left < FXL_READ_BYTES ? left : FXL_READ_BYTES);
    if (count == 0) {
        conclude(link);
    } else if (!port->read(port->context, fxl_slot_offset(link, fxl_idle(link)) + link->job_at, bytes, count)) {
        fxl_flash_failed(link);
    } else {
        for (uint16_t i = 0; i < count; i++) {
            link->job_crc = fxp_crc(link->job_crc, bytes[i]);
        }
        link->job_at += count;
    }
}

/* 4.4 */

static void committed(struct fxl *link, uint8_t tag)
{
    fxl_answer(link, FXL_COMMITTED, tag);
    fxl_put(link, link->active, 1);
}

void fxl_commit(struct fxl *link, const uint8_t *fields, uint16_t count)
{
    if (count != 8 || fxl_u32(fields) < 5) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
        return;
    }
    uint32_t length = fxl_u32(fields), crc = fxl_u32(fields + 4);
    bool pushing = link->push.length != 0;
    if (pushing && is(&link->push, length, crc)) {
        finish(link, true);
    } else if (!pushing && link->active != FXL_NO_SLOT && is(&link->tables[link->active], length, crc)) {
        committed(link, link->tag);
    } else {
        fxl_error(link, link->tag, FXL_NOT_BEGUN, 0);
    }
}

static void put_mark(struct fxl *link)
{
    bool again = link->job == FXL_MARK_AGAIN;
    uint8_t slot = again ? link->active : fxl_idle(link);
    if (fxl_needs_page(link)) {
        if (!fxl_erase_marks(link)) {
            fxl_flash_failed(link);
        }
        return;
    }
    if (!fxl_write_mark(link, slot, again ? &link->tables[slot] : &link->push)) {
        fxl_flash_failed(link);
    } else if (again) {
        link->job = FXL_ERASE;
    } else {
        link->active = slot;
        link->tables[slot] = link->push;
        link->push.length = 0;
        link->job = FXL_REST;
        fxl_start(link, FXL_FOR_EVER);
        committed(link, link->job_tag);
    }
}

/* 3.19 */

void fxl_boot(struct fxl *link, uint16_t count)
{
    if (count != 0) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
        return;
    }
    link->push.length = 0;
    fxl_begin_job(link, FXL_LEAVE);
    fxl_wait(link, link->tag);
}

void fxl_do_job(struct fxl *link)
{
    if (link->job == FXL_ERASE) {
        erase_page(link);
    } else if (link->job == FXL_WRITE) {
        write_piece(link);
    } else if (link->job == FXL_READ) {
        read_piece(link);
    } else if (link->job == FXL_LEAVE) {
        link->job = FXL_REST;
        link->port->boot(link->port->context);
#ifndef FXL_WITHOUT_READING
    } else if (link->job == FXL_SUM_UP) {
        fxl_sum_piece(link);
    } else if (link->job == FXL_COPY_BLOCKS) {
        fxl_copy_piece(link);
#endif
    } else {
        put_mark(link);
    }
}
