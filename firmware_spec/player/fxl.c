/* fxl: frames, messages and their answers (LINK.md 2 and 3). fxl.h is the manual. */
#include "fxl_parts.h"

/* CRC of anything with its own CRC behind it, before the final XOR. */
#define CRC_RESIDUE UINT32_C(0xDEBB20E3)
enum { PIECE_MOST = 254, WAIT_MS = 250, SILENCE_MS = 10000, NAME_BYTES = 24, PROTOCOL_VERSION = 1 };

uint16_t fxl_u16(const uint8_t *bytes)
{
    return (uint16_t)(bytes[0] | (unsigned)bytes[1] << 8);
}

uint32_t fxl_u32(const uint8_t *bytes)
{
    return fxl_u16(bytes) | (uint32_t)fxl_u16(bytes + 2) << 16;
}

void fxl_store(uint8_t *bytes, uint32_t value, uint8_t count)
{
    for (uint8_t i = 0; i < count; i++) {
        bytes[i] = (uint8_t)(value & 0xFF);
        value >>= 8;
    }
}

/* 2: answers. */

void fxl_put(struct fxl *link, uint32_t value, uint8_t count)
{
    fxl_store(link->out + link->out_count, value, count);
    link->out_count = (uint16_t)(link->out_count + count);
}

void fxl_answer(struct fxl *link, uint8_t kind, uint8_t tag)
{
    link->out_at = 0;
    link->out_left = 0;
    link->out_open = true;
    link->out_zero = false;
    link->out_last = false;
    link->out_count = 0;
    fxl_put(link, (uint32_t)kind | (uint32_t)tag << 5, 1);
}

/* Nothing is added any more: the CRC. */
static void close_answer(struct fxl *link)
{
    uint32_t crc = FXP_CRC_START;
    for (uint16_t i = 0; i < link->out_count; i++) {
        crc = fxp_crc(crc, link->out[i]);
    }
    fxl_put(link, ~crc, 4);
    link->out_open = false;
}

void fxl_error(struct fxl *link, uint8_t tag, uint8_t code, uint32_t detail)
{
    fxl_answer(link, FXL_ERROR, tag);
    fxl_put(link, code, 1);
    fxl_put(link, detail, 4);
}

void fxl_wait(struct fxl *link, uint8_t tag)
{
    fxl_answer(link, FXL_WAIT, tag);
    link->waited_ms = link->now_ms;
}

/* The length byte of the next piece: it goes on to the next 00, to the end, or for 254 bytes. */
static uint8_t begin_piece(struct fxl *link)
{
    if (link->out_zero) {
        link->out_at++;
    }
    uint16_t end = link->out_at;
    uint16_t limit = (uint16_t)(link->out_count - end < PIECE_MOST ? link->out_count : end + PIECE_MOST);
    while (end < limit && link->out[end] != 0) {
        end++;
    }
    link->out_left = (uint8_t)(end - link->out_at);
    link->out_zero = link->out_left < PIECE_MOST;
    link->out_last = end == link->out_count;
    return (uint8_t)(link->out_left + 1);
}

bool fxl_send(struct fxl *link, uint8_t *byte)
{
    if (link->out_count == 0) {
        return false;
    }
    if (link->out_open) {
        close_answer(link);
    }
    if (link->out_left > 0) {
        *byte = link->out[link->out_at++];
        link->out_left--;
    } else if (!link->out_last) {
        *byte = begin_piece(link);
    } else {
        *byte = 0;
        link->out_count = 0;
    }
    return true;
}

/* 3.1, 3.11 */

static void put_table(struct fxl *link, uint8_t slot)
{
    fxl_put(link, link->tables[slot].length, 4);
    fxl_put(link, link->tables[slot].crc, 4);
}

static void hello(struct fxl *link, uint16_t count)
{
    const struct fxl_port *port = link->port;
    if (count != 1) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
        return;
    }
    fxl_answer(link, FXL_BOARD, link->tag);
    fxl_put(link, PROTOCOL_VERSION, 1);
    fxl_put(link, port->table_version, 1);
    fxl_put(link, port->most_rate_hz, 2);
    fxl_put(link, port->most_channels, 1);
    fxl_put(link, port->most_pwm_bits, 1);
    fxl_put(link, port->most_voices, 1);
    fxl_put(link, port->codings, 2);
    fxl_put(link, port->outputs | FXL_RUNS_HERE | FXL_READING_HERE | FXL_SPEED_HERE(link) | FXL_COUNTING_HERE(port) | FXL_HALVING_HERE, 1);
    fxl_put(link, FXL_BLOCK_BYTES, 2);
    fxl_put(link, FXL_WINDOW, 1);
    fxl_put(link, FXL_RUNS_HERE ? FXL_PRESS_ROOM : 0, 1);
    fxl_put(link, FXL_RUNS_HERE ? FXL_TRACE_ROOM : 0, 2);
    fxl_put(link, port->slot_bytes, 4);
    fxl_put(link, link->active, 1);
    fxl_put(link, fxl_held(link), 1);
    put_table(link, 0);
    put_table(link, 1);
    fxl_put(link, port->board_id, 4);
    for (uint8_t i = 0; i < NAME_BYTES && port->name[i] != 0; i++) {
        fxl_put(link, (uint8_t)port->name[i], 1);
    }
}

/* 3.27, 4.6 */

#ifndef FXL_WITHOUT_SPEED

#define BASE_BAUD UINT32_C(115200)
#define BAUD_MOST UINT32_C(2000000)
enum { BACK_MS = 1000 };

bool fxl_has_speed(const struct fxl *link)
{
    return link->port->speed != 0 && link->port->speed(link->port->context, BASE_BAUD, false) != 0;
}

static void agree(struct fxl *link, const uint8_t *fields, uint16_t count)
{
    uint32_t baud = count == 4 ? fxl_u32(fields) : 0;
    if (baud < BASE_BAUD || baud > BAUD_MOST) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, baud);
        return;
    }
    link->baud = link->port->speed(link->port->context, baud, false);
    link->changes = true;
    fxl_answer(link, FXL_AGREED, link->tag);
    fxl_put(link, link->baud, 4);
}

static void keep_speed(struct fxl *link)
{
    if (link->heard || link->worked) {
        link->alive_ms = link->now_ms;
    }
    link->worked = link->job != FXL_REST;
    if (link->changes) {
        if (link->out_count > 0) {
            return;
        }
        link->changes = false;
        link->alive_ms = link->now_ms;
    } else if (link->baud == BASE_BAUD || link->now_ms - link->alive_ms < BACK_MS) {
        return;
    } else {
        link->baud = BASE_BAUD;
    }
    link->port->speed(link->port->context, link->baud, true);
}

#endif

/* 3 R2 */
static void request(struct fxl *link, const uint8_t *message, uint16_t count)
{
    uint8_t kind = message[0] & 31;
    const uint8_t *fields = message + 1;
    count--;
    link->tag = message[0] >> 5;
    if (kind == FXL_HELLO) {
        hello(link, count);
    } else if (kind == FXL_BEGIN) {
        fxl_begin(link, fields, count);
    } else if (kind == FXL_DATA) {
        fxl_data(link, fields, count);
    } else if (kind == FXL_VERIFY) {
        fxl_verify(link, count);
    } else if (kind == FXL_COMMIT) {
        fxl_commit(link, fields, count);
    } else if (kind == FXL_BOOT && link->port->boot != 0) {
        fxl_boot(link, count);
#ifndef FXL_WITHOUT_RUNS
    } else if (kind >= FXL_RESTART && kind <= FXL_ASK_TRACE) {
        fxl_run_request(link, kind, fields, count);
#endif
#ifndef FXL_WITHOUT_READING
    } else if (kind == FXL_READ_TABLE) {
        fxl_read_table(link, fields, count);
    } else if (kind == FXL_SUM) {
        fxl_sum(link, fields, count);
    } else if (kind == FXL_COPY) {
        fxl_copy(link, fields, count);
#endif
#ifndef FXL_WITHOUT_SPEED
    } else if (kind == FXL_SET_SPEED && fxl_has_speed(link)) {
        agree(link, fields, count);
#endif
#ifndef FXL_WITHOUT_HALVES
    } else if (kind == FXL_HALVE) {
        fxl_halve(link, count);
#endif
#ifndef FXL_WITHOUT_COUNTS
    } else if (kind == FXL_ASK_COUNTS && link->port->counts_at != 0) {
        fxl_tell_counts(link, count);
#endif
    } else {
        fxl_error(link, link->tag, FXL_UNKNOWN_KIND, kind);
    }
}

/* 2 */

static void await_frame(struct fxl *link)
{
    link->in_crc = FXP_CRC_START;
    link->in_count = 0;
    link->in_left = 0;
    link->in_zero = false;
}

static void keep(struct fxl *link, uint8_t byte)
{
    if (link->in_count < FXL_IN_BYTES) {
        link->in[link->in_count] = byte;
        link->in_crc = fxp_crc(link->in_crc, byte);
    }
    if (link->in_count <= FXL_IN_BYTES) {
        link->in_count++;
    }
}

static void decode(struct fxl *link, uint8_t byte)
{
    if (link->in_left > 0) {
        link->in_left--;
        keep(link, byte);
        return;
    }
    if (link->in_zero) {
        keep(link, 0);
    }
    link->in_left = (uint8_t)(byte - 1);
    link->in_zero = byte <= PIECE_MOST;
}

bool fxl_receive(struct fxl *link, uint8_t byte)
{
    if (link->job == FXL_WRITE || (byte == 0 && link->out_count > 0)) {
        return false;
    }
    if (byte != 0) {
        decode(link, byte);
        return true;
    }
    uint16_t count = link->in_count;
    bool whole = link->in_left == 0 && link->in_crc == CRC_RESIDUE;
    await_frame(link);
    if (whole && count >= 5 && count <= FXL_IN_BYTES) {
        link->heard = true;
        request(link, link->in, (uint16_t)(count - 4));
    }
    return true;
}

bool fxl_work(struct fxl *link, uint32_t now_ms)
{
    link->now_ms = now_ms;
#ifndef FXL_WITHOUT_SPEED
    keep_speed(link);
#endif
    if (link->heard) {
        link->heard_ms = now_ms;
        link->heard = false;
    }
    if (link->until != FXL_FOR_EVER && now_ms - link->heard_ms >= SILENCE_MS) {
        fxl_start(link, FXL_FOR_EVER); /* 6 R9 */
    }
    if (link->out_count == 0 && link->job != FXL_REST) {
        fxl_do_job(link);
    } else {
        fxl_counts_work(link);
    }
    if (link->out_count == 0 && link->job != FXL_REST && now_ms - link->waited_ms >= WAIT_MS) {
        fxl_wait(link, link->job_tag);
    }
    return link->job != FXL_REST;
}

void fxl_power_up(struct fxl *link, const struct fxl_port *port, uint32_t now_ms)
{
    link->port = port;
    link->now_ms = now_ms;
    link->heard = true;
    link->waited_ms = now_ms;
    link->out_count = 0;
    link->job = FXL_REST;
    link->push.length = 0;
#ifndef FXL_WITHOUT_SPEED
    link->baud = BASE_BAUD;
    link->changes = false;
    link->worked = false;
#endif
    await_frame(link);
    fxl_find_tables(link);
    fxl_counts_power_up(link);
    fxl_start(link, FXL_FOR_EVER);
}
