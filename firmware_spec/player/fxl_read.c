/* fxl: what is read of the table that plays (LINK.md 3.20 to 3.24). What takes time is a job, as in fxl_push.c. */
#include "fxl_parts.h"

#ifndef FXL_WITHOUT_READING

enum { PART_MOST = FXL_OUT_BYTES - 4 - 5, AHEAD = 16 }; /* an answer without its CRC, kind and offset; blocks beyond base that can be told of */

/* Bytes of the table that plays, from `at` on. */
static bool read_playing(const struct fxl *link, uint32_t at, uint8_t *bytes, uint16_t count)
{
    const struct fxl_port *port = link->port;
    uint32_t offset = fxl_slot_offset(link, link->active) + at;
    for (uint16_t done = 0; done < count;) {
        uint16_t left = (uint16_t)(count - done);
        uint16_t piece = left < FXL_READ_BYTES ? left : FXL_READ_BYTES;
        if (!port->read(port->context, offset + done, bytes + done, piece)) {
            return false;
        }
        done = (uint16_t)(done + piece);
    }
    return true;
}

/* Whether `count` bytes from `at` on, and one at least, are within the table that plays. */
static bool is_playing(const struct fxl *link, uint32_t at, uint32_t count)
{
    uint32_t length = link->tables[link->active].length;
    return at < length && count > 0 && count <= length - at;
}

void fxl_read_table(struct fxl *link, const uint8_t *fields, uint16_t count)
{
    if (count != 4) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
        return;
    }
    if (link->active == FXL_NO_SLOT) {
        fxl_error(link, link->tag, FXL_NO_TABLE, 0);
        return;
    }
    uint32_t offset = fxl_u32(fields), length = link->tables[link->active].length;
    if (offset >= length) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, offset);
        return;
    }
    uint16_t part = (uint16_t)(length - offset < PART_MOST ? length - offset : PART_MOST);
    fxl_answer(link, FXL_PART, link->tag);
    fxl_put(link, offset, 4);
    if (!read_playing(link, offset, link->out + link->out_count, part)) {
        link->job_tag = link->tag;
        fxl_flash_failed(link);
        return;
    }
    link->out_count = (uint16_t)(link->out_count + part);
}

/* 3.22 */

void fxl_sum(struct fxl *link, const uint8_t *fields, uint16_t count)
{
    if (count != 8 || fxl_u32(fields + 4) == 0) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
        return;
    }
    uint32_t offset = fxl_u32(fields), length = fxl_u32(fields + 4);
    bool summing = link->job == FXL_SUM_UP;
    if (link->active == FXL_NO_SLOT) {
        fxl_error(link, link->tag, FXL_NO_TABLE, 0);
    } else if (!is_playing(link, offset, length)) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, offset);
    } else if (link->job != FXL_REST && !summing) {
        fxl_wait(link, link->tag);
    } else if (summing && link->from == offset && link->sum_length == length) {
        link->job_tag = link->tag;
        fxl_wait(link, link->tag);
    } else {
        fxl_begin_job(link, FXL_SUM_UP);
        link->job_crc = FXP_CRC_START;
        link->from = offset;
        link->sum_length = length;
        link->waited_ms = link->now_ms;
    }
}

void fxl_sum_piece(struct fxl *link)
{
    uint8_t bytes[FXL_READ_BYTES];
    uint32_t left = link->sum_length - link->job_at;
    uint16_t count = (uint16_t)(left < FXL_READ_BYTES ? left : FXL_READ_BYTES);
    if (!read_playing(link, link->from + link->job_at, bytes, count)) {
        fxl_flash_failed(link);
        return;
    }
    for (uint16_t i = 0; i < count; i++) {
        link->job_crc = fxp_crc(link->job_crc, bytes[i]);
    }
    link->job_at += count;
    if (count == left) {
        link->job = FXL_REST;
        fxl_answer(link, FXL_SUMMED, link->job_tag);
        fxl_put(link, link->from, 4);
        fxl_put(link, link->sum_length, 4);
        fxl_put(link, ~link->job_crc, 4);
    }
}

/* 3.24 */

/* The next of the blocks that are to be copied which is missing and within the window. */
static bool seek_block(struct fxl *link)
{
    if (link->copy_next < link->base) {
        link->copy_next = link->base;
    }
    while (link->copy_next < link->copy_end && link->copy_next - link->base <= AHEAD) {
        if (fxl_is_wanted(link, link->copy_next)) {
            return true;
        }
        link->copy_next++;
    }
    return false;
}

void fxl_copy(struct fxl *link, const uint8_t *fields, uint16_t count)
{
    if (count != 8 || fxl_u16(fields + 2) == 0) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
        return;
    }
    if (link->active == FXL_NO_SLOT || link->push.length == 0) {
        fxl_error(link, link->tag, link->active == FXL_NO_SLOT ? FXL_NO_TABLE : FXL_NOT_BEGUN, 0);
        return;
    }
    if (link->tag != link->push_tag || fxl_is_preparing(link)) {
        return;
    }
    uint16_t first = fxl_u16(fields), most = fxl_blocks(link), some = fxl_u16(fields + 2);
    uint32_t offset = fxl_u32(fields + 4), start = (uint32_t)first * FXL_BLOCK(link);
    if (first >= most || some > most - first) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, first);
        return;
    }
    uint16_t end = (uint16_t)(first + some);
    if (!is_playing(link, offset, (uint32_t)(end - 1) * FXL_BLOCK(link) + fxl_block_size(link, (uint16_t)(end - 1)) - start)) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, offset);
        return;
    }
    if (link->job == FXL_COPY_BLOCKS) {
        fxl_wait(link, link->tag);
        return;
    }
    link->copy_next = first;
    link->copy_end = end;
    if (!seek_block(link)) { /* a SUM under way goes on */
        fxl_status(link, link->tag);
        return;
    }
    fxl_begin_job(link, FXL_COPY_BLOCKS);
    link->from = offset - start;
    link->waited_ms = link->now_ms;
}

void fxl_copy_piece(struct fxl *link)
{
    const struct fxl_port *port = link->port;
    uint8_t bytes[FXL_WRITE_BYTES];
    uint32_t left = fxl_block_size(link, link->copy_next) - link->job_at;
    uint16_t count = (uint16_t)(left < FXL_WRITE_BYTES ? left : FXL_WRITE_BYTES);
    uint32_t at = (uint32_t)link->copy_next * FXL_BLOCK(link) + link->job_at;
    if (!read_playing(link, link->from + at, bytes, count) ||
        !port->write(port->context, fxl_slot_offset(link, fxl_idle(link)) + at, bytes, count)) {
        fxl_flash_failed(link);
        return;
    }
    link->job_at += count;
    if (count < left) {
        return;
    }
    link->job_at = 0;
    fxl_has_come(link, link->copy_next);
    if (!seek_block(link)) {
        link->job = FXL_REST;
        fxl_status(link, link->push_tag);
    }
}

#endif
